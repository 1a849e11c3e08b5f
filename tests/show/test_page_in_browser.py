"""The page in a real browser, from disk and with networking off: it draws, turns and tells."""

from __future__ import annotations

import pytest

from autoplace.show.page import render_page, write_page
from tests.browser import browser_page
from tests.show.scene import scene

STATE = """() => {
    const plot = document.getElementById('mesh'), { scene } = plot._fullLayout;
    const meshes = plot._fullData.filter((trace) => trace.type === 'mesh3d');
    return {
        camera: scene.camera, size: scene.aspectratio.x,
        shown: meshes.map((trace) => trace.visible !== false),
        solid: meshes.map((trace) => trace.opacity),
        triangles: meshes.reduce((sum, trace) => sum + (trace.i || []).length, 0),
    };
}"""
WHERE = """(at) => {
    // the library's own matrices, column by column
    const { glplot, dataScale } = document.getElementById('mesh')._fullLayout.scene._scene;
    const { model, view, projection } = glplot.cameraParams;
    let point = [...at.map((value, axis) => value * dataScale[axis]), 1];
    for (const m of [model, view, projection]) {
        point = [0, 1, 2, 3].map((row) =>
            [0, 1, 2, 3].reduce((sum, column) => sum + m[4 * column + row] * point[column], 0));
    }
    const box = document.getElementById('bones').getBoundingClientRect();
    return [box.left + (1 + point[0] / point[3]) / 2 * box.width,
            box.top + (1 - point[1] / point[3]) / 2 * box.height];
}"""

BRIGHTNESS = """async ([x, y]) => {
    // the mesh's own canvas, which must be read in the frame in which it is drawn
    const { glplot } = document.getElementById('mesh')._fullLayout.scene._scene;
    const canvas = glplot.canvas, box = canvas.getBoundingClientRect();
    const flat = document.createElement('canvas');
    [flat.width, flat.height] = [box.width, box.height];
    const pen = flat.getContext('2d');
    glplot.redraw();
    pen.drawImage(canvas, 0, 0, box.width, box.height);
    const row = pen.getImageData(0, Math.round(y - box.top), box.width, 1).data;
    const lit = (at) => row[4 * at] + row[4 * at + 1] + row[4 * at + 2];
    const ground = lit(0), from = Math.round(x - box.left);
    let left = from, right = from;
    while (left > 0 && lit(left - 1) !== ground) left -= 1;
    while (right < box.width - 1 && lit(right + 1) !== ground) right += 1;
    const at = (share) => lit(Math.round(left + share * (right - left)));
    return [at(0.2), at(0.8)];
}"""


@pytest.fixture(scope="module")
def file(tmp_path_factory) -> str:
    path = tmp_path_factory.mktemp("page") / "tubes.html"
    write_page(render_page(*scene(), template_sure=0.82), path)
    return path.as_uri()


@pytest.fixture(scope="module")
def desk(file):
    """The page on a desk's screen; its tests leave no part hidden. The eye does not fly to a view,
    as people may ask for, since each picture on its way takes long without a graphics card."""
    with browser_page(width=960, height=640, offline=True) as watched:
        watched.page.emulate_media(reduced_motion="reduce")
        watched.page.goto(file)
        watched.page.wait_for_selector("body[data-state=ready]", timeout=60_000)
        yield watched


def settled(page):
    """What the plot shows when nothing moves any more."""
    page.wait_for_selector('body[data-moving=""]')
    page.wait_for_timeout(150)
    return page.evaluate(STATE)


def test_it_draws_without_error_and_fetches_nothing(desk, file):
    """No error on the console, one request, and all triangles are in the plot."""
    assert desk.errors == []
    assert [url for url in desk.requests if not url.startswith(("blob:", "data:"))] == [file]
    assert settled(desk.page)["triangles"] == scene()[0].face_count


@pytest.mark.parametrize(
    ("view", "name"),
    [
        ("front", "left_knee"),
        ("side", "left_knee"),
        ("left_hand", "left_index_2"),
        ("face", "head"),
    ],
)
def test_joints_stand_over_the_mesh_and_tell_their_evidence(desk, view, name):
    """Where the mesh's own matrices put a joint, pointing at it names it: both are in one place."""
    page = desk.page
    page.click(f"[data-view={view}]")
    settled(page)
    x, y = page.evaluate(WHERE, [100.0 * float(v) for v in scene()[3][name].position])
    page.mouse.move(x + 1, y + 1)
    page.wait_for_selector("#tip:not([hidden])")
    words = page.inner_text("#tip")
    assert words.startswith(name)
    assert "0.80 percent of the height" in words
    page.mouse.move(5, 5)
    page.wait_for_selector("#tip", state="hidden")


def test_surfaces_are_lit_from_the_upper_left_of_the_eye_at_any_distance(desk):
    """Tubes are brighter on their left than on their right, seen from all sides and from near."""
    page, skeleton = desk.page, scene()[3]
    page.check("input[value=solid]")
    for view, joint, beyond, share in (
        ("front", "left_knee", "left_ankle", 0.1),
        ("side", "left_knee", "left_ankle", 0.1),
        ("back", "left_knee", "left_ankle", 0.1),
        ("left_hand", "left_wrist", "left_elbow", 0.05),
        ("right_hand", "right_wrist", "right_elbow", 0.05),
    ):
        page.click(f"[data-view={view}]")
        settled(page)
        start, end = (100.0 * skeleton[name].position for name in (joint, beyond))
        at = [float(value) for value in (1 - share) * start + share * end]
        left, right = page.evaluate(BRIGHTNESS, page.evaluate(WHERE, at))
        assert left > right + 10, view
    page.check("input[value=translucent]")
    assert desk.errors == []


def test_view_buttons_move_the_camera(desk):
    """Each view looks from where it says; a hand is looked at from nearer."""
    page = desk.page
    seen = {}
    for key in ("front", "side", "top", "left_hand"):
        page.click(f"[data-view={key}]")
        state = settled(page)
        camera = state["camera"]
        away = [camera["eye"][axis] - camera["center"][axis] for axis in "xyz"]
        length = sum(v * v for v in away) ** 0.5
        seen[key] = [round(v / length, 3) + 0.0 for v in away], state["size"]
    assert seen["front"][0] == [0.0, 0.0, 1.0]
    assert seen["side"][0] == [1.0, 0.0, 0.0]
    assert seen["top"][0] == [0.0, 1.0, 0.0]
    assert seen["left_hand"][1] > 4 * seen["front"][1]


def test_a_part_is_hidden_and_shown_again(desk):
    """A part's switch takes its surface out of the picture and no other."""
    page = desk.page
    page.uncheck("[data-part='1']")
    page.wait_for_timeout(300)
    shown = page.evaluate(STATE)["shown"]
    assert shown[1] is False
    assert shown.count(False) == 1
    page.check("[data-part='1']")
    page.wait_for_timeout(300)
    assert all(page.evaluate(STATE)["shown"])


def test_the_mesh_is_translucent_solid_or_hidden(desk):
    """Solid is as solid as it gets, hidden hides every surface, and the skeleton stays."""
    page = desk.page
    assert float(page.evaluate("getComputedStyle(document.getElementById('mesh')).opacity")) < 0.8
    page.check("input[value=solid]")
    page.wait_for_timeout(300)
    assert set(page.evaluate(STATE)["solid"]) == {1}
    assert page.evaluate("getComputedStyle(document.getElementById('mesh')).opacity") == "1"
    page.check("input[value=hidden]")
    page.wait_for_timeout(300)
    assert not any(page.evaluate(STATE)["shown"])
    assert inked(page) > 500
    page.check("input[value=translucent]")
    page.wait_for_timeout(300)
    assert all(page.evaluate(STATE)["shown"])
    assert "js-plotly-plot" in page.get_attribute("#mesh", "class")  # else it is drawn anew
    assert desk.errors == []


def inked(page) -> int:
    """Pixels that the skeleton covers."""
    return page.evaluate("""() => {
        const canvas = document.getElementById('bones');
        const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
        let count = 0;
        for (let at = 3; at < data.length; at += 4) count += data[at] > 0;
        return count;
    }""")


def test_axes_spread_and_names_are_drawn_on_demand(desk):
    """Each covers more of the picture than the bare skeleton; one chain less than all."""
    page = desk.page
    page.click("[data-view=front]")
    settled(page)
    bare = inked(page)
    page.select_option("#axes", "left_leg")
    page.wait_for_timeout(150)
    leg = inked(page)
    page.select_option("#axes", "all")
    page.wait_for_timeout(150)
    assert bare < leg < inked(page)
    page.select_option("#axes", "")
    for switch in ("#spread", "#names"):
        page.check(switch)
        page.wait_for_timeout(150)
        assert inked(page) > bare
        page.uncheck(switch)
    page.wait_for_timeout(150)
    assert inked(page) == bare


def test_a_finding_leads_to_its_joint_by_keyboard(desk):
    """Enter on a finding flies to the joint and tells of it."""
    page = desk.page
    page.click("[data-view=front]")
    before = settled(page)
    page.locator(".findings button").nth(1).focus()
    page.emulate_media(reduced_motion="no-preference")
    page.keyboard.press("Enter")
    after = settled(page)
    page.emulate_media(reduced_motion="reduce")
    assert after["size"] > 1.5 * before["size"]
    joint = [100.0 * float(v) for v in scene()[3]["left_knee"].position]
    x, y = page.evaluate(WHERE, joint)
    box = page.locator("#bones").bounding_box()
    assert x == pytest.approx(box["x"] + box["width"] / 2, abs=2)
    assert y == pytest.approx(box["y"] + box["height"] / 2, abs=2)
    told = page.inner_text("#chosen")
    assert told.startswith("left_knee")
    assert "The left knee is straight." in told


def test_dragging_and_keys_turn_and_the_wheel_comes_nearer(desk):
    """A drag turns about the height, arrow keys too, and the wheel enlarges."""
    page = desk.page
    page.click("[data-view=front]")
    start = settled(page)
    box = page.locator("#bones").bounding_box()
    x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y, steps=4)
    page.mouse.up()
    turned = settled(page)
    assert turned["camera"]["eye"]["x"] < start["camera"]["eye"]["x"] - 0.1
    assert turned["camera"]["up"]["y"] == pytest.approx(1.0)
    page.focus("#bones")
    page.keyboard.press("ArrowRight")
    again = settled(page)
    assert again["camera"]["eye"]["x"] < turned["camera"]["eye"]["x"]
    page.mouse.wheel(0, -200)
    assert settled(page)["size"] > 1.2 * again["size"]
    assert desk.errors == []


def test_on_a_phone_it_fits_and_a_tap_tells(file):
    """At 390 pixels nothing runs out at the side, words stand below, a tap names the joint, and a
    pinch comes nearer."""
    with browser_page(width=390, height=780, offline=True, touch=True) as watched:
        page = watched.page
        page.emulate_media(reduced_motion="reduce")
        page.goto(file)
        page.wait_for_selector("body[data-state=ready]", timeout=60_000)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        picture, words = page.locator("#bones").bounding_box(), page.locator(".findings")
        assert words.bounding_box()["y"] > picture["y"] + picture["height"]
        knee = [100.0 * float(v) for v in scene()[3]["left_knee"].position]
        x, y = page.evaluate(WHERE, knee)
        page.touchscreen.tap(x + 4, y + 4)
        page.wait_for_selector("#chosen:not([hidden])")
        assert page.inner_text("#chosen").startswith("left_knee")
        before = settled(page)["size"]
        fingers = page.context.new_cdp_session(page)
        for kind, gap in (("touchStart", 30), ("touchMove", 60), ("touchMove", 90)):
            points = [{"x": 195 + way * gap, "y": 300, "id": way + 1} for way in (-1, 1)]
            fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        fingers.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        assert settled(page)["size"] > 2 * before  # a pinch from 60 to 180 pixels
        page.locator(".findings button").first.click()
        settled(page)
        # the picture is brought back into sight
        page.wait_for_timeout(600)
        assert page.locator("#bones").bounding_box()["y"] > -60
        assert watched.errors == []
