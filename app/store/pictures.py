"""The files of a set as one person may see them: clip, what is drawn over it, pictures, report."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from sqlalchemy import select

from app.rules import told
from app.store import queries, told_sets
from app.store.models import Report, TrainingSet
from app.store.review import Acting
from app.store.rules import Refused, trainer_only
from shared.report import SetReport
from vision.telling.groups import groups


class Pictures(Acting):
    """A member sees the clip of a set they are told of, and of pictures those of what they are told."""

    def clip_file(self, set_id: int) -> Path:
        """The clip with hidden heads; for trainers."""
        address = self._kept(set_id, "annotated")
        self._note_look(set_id)
        return self._files.path(address)

    def told_clip(self, set_id: int) -> Path:
        """The clip with hidden heads beside a result: for whose set it is, once they are told of it."""
        address = self._told_clip(set_id)
        if address is None:
            raise Refused
        self._note_look(set_id)
        return self._files.path(address)

    def has_told_clip(self, set_id: int) -> bool:
        """Whether ``told_clip`` gives one."""
        return self._told_clip(set_id) is not None

    def _told_clip(self, set_id: int) -> str | None:
        with self._db.read() as session:
            row = self._set(session, set_id)
            result = told_sets.told_of(session, row)
        held = result.stop or result.state not in ("preliminary", "released")
        report = None if held else self._footage(set_id)
        return None if report is None else report.annotated

    def moving_file(self, set_id: int) -> Path:
        """What a page draws over the clip, as JSON (``vision/telling/moving.py``); for trainers."""
        return self._files.path(self._kept(set_id, "moving"))

    def _kept(self, set_id: int, what: str) -> str:
        trainer_only(self.actor)
        address: str | None = getattr(self._footage(set_id), what, None)
        if address is None:
            raise Refused
        return address

    def _footage(self, set_id: int) -> Report | None:
        """The report whose files show the member; None where there is none, or the clip was deleted."""
        with self._db.read() as session:
            row = self._set(session, set_id)
            return None if row.binned_at is not None else queries.report(session, row.id)

    def has_clip(self, set_id: int) -> bool:
        """Whether there is a clip of a set to play; for trainers."""
        return self._has(set_id, "annotated")

    def has_moving(self, set_id: int) -> bool:
        """Whether a page can draw over the clip of a set; for trainers."""
        return self._has(set_id, "moving")

    def has_page(self, set_id: int) -> bool:
        """Whether the tool's whole report is kept as a page; for trainers."""
        return self._has(set_id, "page")

    def _has(self, set_id: int, what: str) -> bool:
        trainer_only(self.actor)
        return getattr(self._footage(set_id), what, None) is not None

    def report_page(self, set_id: int) -> bytes | None:
        """The tool's whole report as one page, for trainers."""
        trainer_only(self.actor)
        address = getattr(self._footage(set_id), "page", None)
        if address is None:
            return None
        self._note_look(set_id)
        return self._files.path(address).read_bytes()

    def picture(self, set_id: int, finding: str) -> bytes | None:
        """The picture of a finding or of an added moment; for a member only of what they are told."""
        with self._db.read() as session:
            row = self._set(session, set_id)
            if self._member_asks:
                shown = {p.picture for p in told_sets.told_of(session, row).prompts}
                if finding not in shown:
                    raise Refused
            report = None if row.binned_at is not None else queries.report(session, row.id)
            added = queries.said(session, row.id).get(finding) if finding.startswith("added:") else None
        if report is None:
            return None
        if added is not None:
            return self._pointed(report, added)
        address = _address(report, finding)
        if address is None:
            return None
        self._note_look(set_id)
        return self._files.path(address).read_bytes()

    def _pointed(self, report: Report, added: told.Said) -> bytes | None:
        """The frame that a trainer's words are about, a ring where they point."""
        if report.annotated is None or added.time_s is None:
            return None
        self._note_look(report.set_id)
        return _still(self._files.path(report.annotated), added.time_s, added.place)

    def worst_pictures(self, set_ids: list[int]) -> dict[int, bytes]:
        """A small JPEG of the most worrying moment of each set that has a picture of one; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            binned = select(TrainingSet.id).where(
                TrainingSet.id.in_(set_ids), TrainingSet.binned_at.is_not(None)
            )
            hidden = set(session.scalars(binned))
            rows = queries.latest_reports(session, [one for one in set_ids if one not in hidden])
            found = {row.set_id: _worst(row.id, row.body, _pictured(row)) for row in rows}
        kept = {set_id: one for set_id, one in found.items() if one and self._files.there(one)}
        return {set_id: _small(self._files.path(one)) for set_id, one in kept.items()}


def _pictured(report: Report) -> tuple[tuple[str, str], ...]:
    return tuple((one["finding"], one["file"]) for one in report.pictures)


def _address(report: Report, finding: str) -> str | None:
    return next((address for name, address in _pictured(report) if name == finding), None)


@lru_cache(maxsize=500)
def _worst(_report_id: int, body: str, pictures: tuple[tuple[str, str], ...]) -> str | None:
    """The address of the picture of the first card that has one."""
    report, kept = SetReport.from_json(body), dict(pictures)
    cards = [*groups(report, None, "flag"), *groups(report, None, "watch")]
    return next((kept[key] for card in cards for f in card.findings if (key := told.key_of(f)) in kept), None)


@lru_cache(maxsize=200)
def _small(path: Path) -> bytes:
    from vision.telling.pointed import smaller

    return smaller(path.read_bytes())


@lru_cache(maxsize=50)
def _still(clip: Path, time_s: float, place: told.Place | None) -> bytes | None:
    from vision.telling.pointed import pointed_at

    return pointed_at(clip, time_s, place)
