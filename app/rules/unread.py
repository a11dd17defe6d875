"""What is told of a clip that nobody could look at: what to do, in one sentence."""

from __future__ import annotations

from collections.abc import Mapping

from app.rules.told import NOTE, Said, Told

SEND_AGAIN = "Send the original video from your phone."
ASKED = "Your trainer asks for another video"
#: How a sentence ends that says of a file that it is no video.
_AS_RECORDED = "; hand over the clip as the phone recorded it."


def failed_words(message: str) -> str:
    """Why a clip could not be checked, with what to do where the file is no video."""
    return message.replace(_AS_RECORDED, f". {SEND_AGAIN}")


def failed(message: str) -> Told:
    """What a member reads before the trainer has seen that."""
    return Told("failed", "This video could not be checked", problems=[failed_words(message)])


def asks_again(said: Mapping[str, Said], trainer: str) -> Told:
    """What a member reads once the trainer asks for another clip."""
    note = said[NOTE].words if NOTE in said else ""
    return Told("failed", ASKED, problems=[SEND_AGAIN], note=note, by=trainer)
