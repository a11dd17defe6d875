"""How much may be uploaded: to one open page, which holds it in memory, and by one person in a day.

Counted in the page's own process, by what each upload says of its length; the server holds it to that. A clip
that is sent piece by piece counts when it is begun, by its whole length.
"""

from __future__ import annotations

from collections import Counter
from datetime import date
from threading import Lock

from app.page.theme import LARGEST_CLIP_MB
from app.store.rules import Actor

#: Where the page takes files; then comes the open page's own name, then the file's.
UPLOAD = "/_stcore/upload_file/"
#: Where clips are sent piece by piece.
SEND = "/kept/sending"
#: To one open page, in MB: three of the greatest clips.
PAGE_MB = 3 * LARGEST_CLIP_MB
#: In one day, in MB: a member's clips with room to spare, and a trainer who sends many members' clips.
MEMBER_MB, TRAINER_MB = 4_000, 20_000
Refusal = tuple[int, str]


class Uploads:
    """The sums of one day."""

    def __init__(self) -> None:
        self._lock, self._day, self._sums = Lock(), date.min, Counter[str]()

    def refused(self, path: str, length: str | None, actor: Actor, today: date) -> Refusal | None:
        """Count one upload; a status and a sentence where it is one too many, and then it does not count."""
        if length is None or not (length.isascii() and length.isdigit()):
            return 411, "An upload must say how long it is."
        most = {str(actor.id): TRAINER_MB if actor.is_trainer else MEMBER_MB}
        if path.startswith(UPLOAD):
            most[f"{actor.id} {path.removeprefix(UPLOAD).split('/')[0]}"] = PAGE_MB
        with self._lock:
            if today != self._day:
                self._day, self._sums = today, Counter()
            if any(self._sums[key] + int(length) > 1_000_000 * mb for key, mb in most.items()):
                return 413, "That is more than may be uploaded at once, or in a day; load the page anew."
            self._sums.update({key: int(length) for key in most})
        return None
