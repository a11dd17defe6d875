"""Every error a user can meet, drawn as a tree; the app catches only the root.

PlumbsetError
├── InputError                what the user handed over cannot be used   (exit code 2)
│   ├── ClipError             the clip: missing, damaged, not a video
│   ├── DefinitionError       an exercise, member or reference file
│   └── UsageError            an option or a combination of options
└── InternalError             our own failure; the clip is kept           (exit code 1)

A message is one sentence that says what is wrong, where, and what to do.
"""

from __future__ import annotations

from pathlib import Path


class PlumbsetError(Exception):
    """Root of all errors that carry a sentence for the user."""

    exit_code = 1


class InputError(PlumbsetError):
    """What the user handed over cannot be used."""

    exit_code = 2


class ClipError(InputError):
    """The clip cannot be read as a video."""


class UsageError(InputError):
    """An option, or a combination of options, makes no sense."""


class DefinitionError(InputError):
    """A definition file breaks its schema.

    Parameters
    ----------
    file : the file at fault.
    faults : one ``(key, what is wrong)`` pair for each fault; all are reported at once.
    """

    def __init__(self, file: Path | str, faults: list[tuple[str, str]]):
        self.file = Path(file)
        self.faults = list(faults)
        lines = "; ".join(f"{key}: {what}" if key else what for key, what in self.faults)
        super().__init__(f"{self.file.name}: {lines}")


class InternalError(PlumbsetError):
    """Our own failure: the sentence names the step, the clip stays where it is."""
