"""Notices that are known again by how they begin, or whole."""

from __future__ import annotations

#: How a notice begins that a clip may be of another machine.
LOOKS_LIKE = "This looks like"
#: What a member, who cannot have it checked again, is asked then.
ASK_MACHINE = "If you trained on another machine, tell your trainer, who can have the clip checked again."

#: Said of a second clip that could not be used; ``tells_left_out`` knows it again.
_LEFT_OUT = " was left out: "

#: Said of a set whose picture trembles.
TREMBLES = (
    "Tempo and range are told less surely here: the picture is dark, grainy or unsteady. Stand the phone on "
    "something firm, in good light."
)


def left_out_words(name: str, why: str) -> str:
    """That a second clip was not used: ``front.mov was left out: its motion does not fit the first's.``"""
    return f"{name}{_LEFT_OUT}{why}"


def tells_left_out(note: str) -> bool:
    """Whether a note says so."""
    return _LEFT_OUT in note
