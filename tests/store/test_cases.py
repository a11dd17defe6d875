"""A trainer's count, what was missed, and the archive of cases, on both databases."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest

from app.command.cases import print_score
from app.jobs import queue
from app.rules.case_score import Score, score_case
from app.store.case_files import export_cases, read_cases
from app.store.rules import Refused
from shared.errors import PlumbsetError, UsageError
from shared.exercise import find_exercise
from tests.samples import checked
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set
from vision.telling.tables import signals_csv

FLAG = "knee-lockout:4"


def _sample(studio: Studio) -> int:
    """A set of Ilse's as the sample clip gives it, signals and all; the id."""
    set_id = new_set(studio.ilse)
    analysis, _ = checked("leg-extension-faulty")
    job = queue.claim(studio.database)
    assert job is not None
    signals = studio.files.keep(io.BytesIO(signals_csv(analysis).encode()))
    queue.finish(studio.database, job, queue.Outcome(analysis.report, signals=signals))
    return set_id


def _flags(studio: Studio, set_id: int) -> list[str]:
    report = studio.trainer.report(set_id)
    assert report is not None
    return [f"{f.check}:{'' if f.rep is None else f.rep}" for f in report.flags()]


def test_a_trainers_count_is_what_everybody_reads(studio: Studio) -> None:
    set_id, trainer = new_set(studio.ilse), studio.trainer
    check(studio.database, studio.files)
    assert trainer.waiting()[0].count == 12
    trainer.count_by_hand(set_id, 11)
    assert trainer.waiting()[0].count == 11
    assert trainer.history(studio.ilse.actor.id)[0].repetitions == 11
    trainer.release(set_id)
    told = studio.ilse.told(set_id)
    assert told.count == 11 and told.headline.endswith("your trainer counted 11")
    assert trainer.report(set_id).count == 12, "the tool's word stays as it was"  # type: ignore[union-attr]
    assert (trainer.counts(DAY).sets, trainer.counts(DAY).corrected) == (1, 1)
    trainer.count_by_hand(set_id, 12)
    assert trainer.counts(DAY).corrected == 0
    with pytest.raises(UsageError, match="from 0 to"):
        trainer.count_by_hand(set_id, 999)


def test_every_decision_tells_what_was_found_and_what_was_missed(studio: Studio) -> None:
    set_id, trainer = new_set(studio.ilse), studio.trainer
    check(studio.database, studio.files)
    trainer.decide(set_id, [FLAG], "agree")
    trainer.decide(set_id, ["chest-drop:11"], "no-fault")
    trainer.add_moment(set_id, 12.5, "Left foot slid off.")
    became = {(one.check, one.outcome) for one in trainer.found(DAY)}
    assert became == {("knee-lockout", "right"), ("chest-drop", "wrong")}
    assert [(m.finding, m.check) for m in trainer.added(DAY)] == [("added:1", "")]
    trainer.name_missed(set_id, "added:1", "hips-off-pad")
    assert ("hips-off-pad", "missed") in {(one.check, one.outcome) for one in trainer.found(DAY)}
    (line,) = trainer.added(DAY)
    assert (line.check, line.words, line.time_s) == ("hips-off-pad", "Left foot slid off.", 12.5)
    trainer.decide(set_id, ["added:1"], "withdrawn")
    assert not trainer.added(DAY)
    trainer.add_moment(set_id, 14.0, "Knees straight.", check="knee-lockout")
    assert [m.check for m in trainer.added(DAY)] == ["knee-lockout"], "named where the words were typed"


def test_only_a_trainer_names_what_was_missed_and_only_a_check_of_the_machine(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.add_moment(set_id, 12.5, "Left foot slid off.")
    for who in (studio.ilse, studio.odo):
        with pytest.raises(Refused):
            who.name_missed(set_id, "added:1", "knee-lockout")
    with pytest.raises(UsageError, match="no such check"):
        studio.trainer.name_missed(set_id, "added:1", "elbow-bend")
    with pytest.raises(UsageError, match="no such check"):
        studio.trainer.add_moment(set_id, 12.5, "Left foot slid off.", check="elbow-bend")
    studio.trainer.decide(set_id, [FLAG], "agree")
    with pytest.raises(Refused):
        studio.trainer.name_missed(set_id, FLAG, "knee-lockout")


def test_cases_go_out_as_numbers_and_come_back_to_be_judged_anew(
    studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    set_id, archive = _sample(studio), tmp_path / "cases.zip"
    assert export_cases(studio.database, studio.files, archive).cases == 0
    right, wrong = _flags(studio, set_id)[:2]
    studio.trainer.decide(set_id, [right], "reword", "Ilse, stop earlier.")
    studio.trainer.decide(set_id, [wrong], "no-fault")
    assert export_cases(studio.database, studio.files, archive).cases == 1
    with zipfile.ZipFile(archive) as kept:
        names = kept.namelist()
        text = "".join(kept.read(name).decode() for name in names)
    assert names == ["README.txt", "00001/case.json", "00001/signals.csv"]
    for private in ("Ilse", "Runa", "tuesday", "stop earlier", "2026-03"):
        assert private not in text
    found = Score()
    for name, case, traces in read_cases(archive):
        score_case(case, traces, find_exercise(case.exercise), name, found)
    assert sum(c["kept"] for c in found.changes.values()) == 1
    assert sum(c["stays"] for c in found.changes.values()) == 1
    print_score(found, others=2)
    said = capsys.readouterr().out
    assert "1 reviewed set judged anew. 2 of other machines were left aside." in said
    assert "Not judged anew, as the clip is needed" in said


def test_a_set_whose_signals_are_gone_is_left_out_and_said(studio: Studio, tmp_path: Path) -> None:
    set_id = _sample(studio)
    studio.trainer.decide(set_id, _flags(studio, set_id)[:1], "agree")
    for file in studio.files.folder.rglob("*"):
        if file.is_file():
            file.write_text("time_s,knee_deg\n0,Ilse\n")
    done = export_cases(studio.database, studio.files, tmp_path / "cases.zip")
    assert (done.cases, done.without_signals) == (0, 1)


def test_a_damaged_archive_is_refused_in_one_sentence(tmp_path: Path) -> None:
    archive = tmp_path / "some.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("1/case.json", "some words that can be packed, and some words that can be packed")
    data = bytearray(archive.read_bytes())
    for at in range(30 + len("1/case.json"), 30 + len("1/case.json") + 12):
        data[at] ^= 0xFF
    archive.write_bytes(data)
    with pytest.raises(UsageError, match="cannot be read as an archive"):
        list(read_cases(archive))


@pytest.mark.parametrize("inside", [None, {}, {"1/case.json": "{}"}, {"1/case.json": "x" * 10}])
def test_an_archive_that_holds_no_cases_is_refused_in_one_sentence(
    tmp_path: Path, inside: dict[str, str] | None
) -> None:
    archive = tmp_path / "some.zip"
    if inside is None:
        archive.write_bytes(b"no archive")
    else:
        with zipfile.ZipFile(archive, "w") as out:
            for name, text in inside.items():
                out.writestr(name, text)
    with pytest.raises(PlumbsetError):
        list(read_cases(archive))
