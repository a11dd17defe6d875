"""track -> signals: angles, arms and places over time, each a registered function."""

from vision.measuring.signals import angles, arms, places  # noqa: F401  they register
from vision.measuring.signals.signal import SIGNALS

__all__ = ["SIGNALS"]
