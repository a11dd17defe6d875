"""Notices that are known again by how they begin, or whole."""

from __future__ import annotations

#: How a notice begins that a clip may be of another machine.
LOOKS_LIKE = "This looks like"
#: What a member, who cannot have it checked again, is asked then.
ASK_MACHINE = "If you trained on another machine, tell your trainer, who can have the clip checked again."

#: Said of a set whose picture trembles.
TREMBLES = (
    "Tempo and range are told less surely here: the picture is dark, grainy or unsteady. Stand the phone on "
    "something firm, in good light."
)
