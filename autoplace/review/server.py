"""The server of the page: on this machine only, on a free port, stopped cleanly."""

from __future__ import annotations

import contextlib
import io
import socket
from typing import TYPE_CHECKING

from autoplace.errors import SettingsError

if TYPE_CHECKING:
    from viser import ViserServer

__all__ = ["LOOPBACK", "address_of", "start_server"]

LOOPBACK = "127.0.0.1"
INDIGO = (58, 44, 128)


def start_server(title: str, port: int | None = None) -> ViserServer:
    """A server that only this machine reaches.

    Args:
        title: at the head of the control panel.
        port: to listen on; None takes a free one.

    Raises:
        SettingsError: the port is taken.
    """
    from viser import ViserServer

    class LocalServer(ViserServer):
        """Never asks the library's relay for an address that others could reach."""

        def request_share_url(self, verbose: bool = True) -> str | None:
            return None

        def stop(self) -> None:
            with contextlib.redirect_stdout(io.StringIO()):
                super().stop()

    port = _free_port(port)
    # the library greets on standard output, where a report may be read by a program
    with contextlib.redirect_stdout(io.StringIO()):
        server = LocalServer(host=LOOPBACK, port=port, label=title, verbose=False)
    server.scene.set_up_direction("+y")
    server.scene.configure_default_lights(cast_shadow=False)
    server.gui.configure_theme(
        show_logo=False, show_share_button=False, control_width="medium", brand_color=INDIGO
    )
    server.gui.main_panel.dock_right()
    return server


def address_of(server: ViserServer) -> str:
    """What to type into a browser."""
    return f"http://{LOOPBACK}:{server.get_port()}"


def _free_port(port: int | None) -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        # as the server will: a port whose last user has just gone is free
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((LOOPBACK, port or 0))
        except (OSError, OverflowError) as reason:
            raise SettingsError(
                f"Port {port} cannot be used ({reason}); give another with --port, or none."
            ) from reason
        return int(probe.getsockname()[1])
