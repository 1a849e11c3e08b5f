"""Is this skeleton fit for animation? Named findings: what was measured, the limit, the mending."""

from autoplace.skeleton.checks.run import CHECKS, check

__all__ = ["CHECKS", "check"]
