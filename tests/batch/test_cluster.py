"""A batch on a real cluster: a worker is killed in the middle, and nothing is lost, doubled or different."""

from __future__ import annotations

import os
import select
import signal
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from pathlib import Path
from typing import Any

import pytest

from app.batches import clip as batch_clip
from app.batches.list import Entry
from app.batches.pages import Row
from app.batches.results import Results
from app.batches.run import Watcher, run_batch
from app.jobs.pools import MEMBERS, cluster_pool
from shared.errors import UsageError
from shared.exercise import find_exercise
from tests.batch import fakes
from tests.cluster import PATIENCE_S, cluster_of
from vision.judging.options import Options

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="needs Linux to wait for a process of another"),
]
pytest.importorskip("distributed", reason="distributed is not installed: make setup")


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[str]:
    """The address of a scheduler with two workers, each kept by a process that starts it again."""
    with cluster_of(2, tmp_path) as address:
        yield address


def _entries(folder: Path, **words: str) -> list[Entry]:
    entries = []
    for name, word in words.items():
        clip = folder / f"{name}.mp4"
        clip.write_text(word, encoding="utf-8")
        entries.append(Entry(str(clip), clip.name, find_exercise("leg-curl"), Options()))
    return entries


def _tree(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def _kill_the_first(told: Path, ended: list[bool]) -> None:
    """Wait for a clip that is under way, kill the worker that has it checked, wait for the check's end."""
    pipe = os.open(told, os.O_RDWR)
    try:
        if select.select([pipe], [], [], PATIENCE_S)[0]:
            child, worker = map(int, os.read(pipe, 100).split())
            watched = os.pidfd_open(child)
            os.kill(worker, signal.SIGKILL)
            ended.append(bool(select.select([watched], [], [], PATIENCE_S)[0]))
            os.close(watched)
    finally:
        os.close(pipe)


@pytest.mark.long
def test_a_worker_killed_in_the_middle_costs_no_clip_and_doubles_none(
    cluster: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = tmp_path / "told"
    os.mkfifo(told)
    entries = _entries(tmp_path, one="good", stuck=f"stuck\n{told}", two="good", bad="bad", three="unfit")
    ended: list[bool] = []
    rows: list[Row] = []
    kept: list[str] = []
    keep = Results.keep
    monkeypatch.setattr(Results, "keep", lambda self, job, o: (kept.append(job.name), keep(self, job, o))[1])
    killer = threading.Thread(target=_kill_the_first, args=(told, ended))
    killer.start()
    with cluster_pool(cluster) as executor:
        batch = run_batch(
            entries, tmp_path / "there", executor, check=fakes.check, watcher=Watcher(row=rows.append)
        )
    killer.join()
    assert ended == [True], "the process that read the clip outlived its worker"
    assert [row.state for row in batch.rows] == ["judged", "judged", "judged", "failed", "unfit"]
    assert sorted(row.shown for row in rows) == sorted(e.shown for e in entries)
    assert len(kept) == len(set(kept)) == 4 == len(list((tmp_path / "there").glob("*/record.json")))
    monkeypatch.setattr(batch_clip, "run_contained", lambda function, given, say, _: function(*given, say))
    with ThreadPoolExecutor(1) as pool:
        run_batch(entries, tmp_path / "here", pool, check=fakes.check)
    assert _tree(tmp_path / "here") == _tree(tmp_path / "there")


def test_a_scheduler_that_does_not_answer_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.jobs.pools.ANSWER_S", 1)
    for address in ("tcp://127.0.0.1:9", "nonsense://x"):
        with pytest.raises(UsageError, match="No scheduler answers at"), cluster_pool(address):
            pass


def test_without_its_package_a_cluster_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match="the extra cluster"), cluster_pool("tcp://127.0.0.1:9"):
        pass


def _waits_for(gate: str, name: str, told: str) -> None:
    """Wait until the gate is opened for writing, where there is one; then say one's name."""
    if gate:
        Path(gate).read_bytes()
    with Path(told).open("a", encoding="utf-8") as out:
        out.write(f"{name}\n")


def _all_wait(address: str, tasks: int) -> None:
    """Until the scheduler knows so many tasks: what was handed in may still be on its way to it."""
    from distributed import Client

    def known(dask_scheduler: Any) -> int:
        return len(dask_scheduler.tasks)

    with Client(address, timeout=PATIENCE_S, set_as_default=False) as client:
        while client.run_on_scheduler(known) < tasks:
            pass


def test_on_a_cluster_members_clips_are_begun_before_those_of_a_batch(tmp_path: Path) -> None:
    gate, told = tmp_path / "gate", tmp_path / "told"
    os.mkfifo(gate)
    with (
        cluster_of(1, tmp_path) as address,
        cluster_pool(address) as batch,
        cluster_pool(address, MEMBERS) as page,
    ):
        first = batch.submit(_waits_for, str(gate), "first", str(told))
        opened = gate.open("wb")  # answers once the only worker is at work on the first
        rest = [batch.submit(_waits_for, "", name, str(told)) for name in "abcdef"]
        _all_wait(address, tasks=7)
        members = page.submit(_waits_for, "", "member", str(told))
        _all_wait(address, tasks=8)
        opened.close()
        wait([first, *rest, members], PATIENCE_S)
    begun = told.read_text(encoding="utf-8").split()
    # What the worker was given before the member's clip came, one or two of the batch, it does first.
    assert sorted(begun) == ["a", "b", "c", "d", "e", "f", "first", "member"] and begun.index("member") <= 3
