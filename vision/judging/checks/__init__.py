"""The checks, by what they look at: one function and its registration each. They measure and never judge."""

from vision.judging.check import CHECKS
from vision.judging.checks import always, course, ends, late, marks, tempo  # noqa: F401  they register

__all__ = ["CHECKS"]
