"""A clip's way from the phone: filmed or chosen, kept in the browser, sent piece by piece."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.page.theme import LARGEST_CLIP_MB, OURS
from app.page.uploads import SEND
from app.store.rules import Actor
from app.views.clip import component

KINDS = "video/*,.mp4,.mov,.m4v,.webm,.mkv,.avi,.3gp"
_OUTBOX, _SENDER = component("outbox"), component("sender")
_RESULT, _TELLER = component("result"), component("teller")


def outbox(actor: Actor) -> Mapping[str, Any] | None:
    """What is being sent from this browser; gives {number, known} of a set that has arrived, once."""
    page = "review" if actor.is_trainer else "results"
    data = {**_where(actor), "result": f"/{page}?set="}
    result = _OUTBOX(data=data, key="outbox", on_sent_change=lambda: None)
    sent = getattr(result, "sent", None)
    return sent if isinstance(sent, Mapping) else None


def sender(actor: Actor, data: Mapping[str, Any], key: str) -> None:
    """Film, choose and send a clip.

    data: told (``app.page.sending.ToldWithClip``), agreed, title, outline, where, and how long a clip is
    ``kept``; ``filmed``: it was filmed before and is only to be chosen.
    """
    more = {"camera": f"{OURS}camera.js", "kinds": KINDS, "most_mb": LARGEST_CLIP_MB}
    _SENDER(data={**_where(actor), **more, **data}, key=key)


def _where(actor: Actor) -> dict[str, Any]:
    return {"endpoint": SEND, "outbox": f"{OURS}posting.js", "who": actor.id}


def result(data: Mapping[str, Any], key: str) -> None:
    """A member's clip with its repetitions. data: src, reps of ``app.page.timeline.told_strip``."""
    _RESULT(data=dict(data), key=key)


def teller(set_id: int, done: bool, words: str) -> None:
    """Tell that a check is over by the page's title, and by a notification where it was allowed."""
    data = {
        "set": set_id, "done": done, "words": words, "address": f"/results?set={set_id}",
        "worker": f"{OURS}worker.js",
    }  # fmt: skip
    _TELLER(data=data, key=f"teller-{set_id}")
