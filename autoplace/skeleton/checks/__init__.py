"""Is this skeleton fit for animation? Named findings: what was measured, the limit, the mending."""

from autoplace.skeleton.checks.figure import Eyeball
from autoplace.skeleton.checks.run import CHECKS, Survey, check, survey

__all__ = ["CHECKS", "Eyeball", "Survey", "check", "survey"]
