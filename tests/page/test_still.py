"""The still before the set: what the page says of it, and a process that dies is replaced."""

from __future__ import annotations

import ctypes
import multiprocessing
import runpy
import signal
import sys
from concurrent.futures import BrokenExecutor, Executor, Future
from typing import Any

import pytest

from app.page import still
from shared.errors import ClipError, InternalError
from tests.page.screens import MAIN, Open, read, sound
from tests.store.conftest import Studio


class _Pool(Executor):
    """Answers with the given, or dies."""

    def __init__(self, answer: Any):
        self.answer = answer

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        done: Future[Any] = Future()
        if isinstance(self.answer, Exception):
            done.set_exception(self.answer)
        else:
            done.set_result(self.answer)
        return done


def test_a_process_that_died_is_replaced_for_the_next_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    pools = iter([_Pool(BrokenExecutor()), _Pool(["Too dark."])])
    monkeypatch.setattr(still, "_new_pool", lambda: next(pools))
    looking = still.Stills()
    with pytest.raises(InternalError, match="film as drawn"):
        looking.look(b"", "leg-curl")
    assert looking.look(b"", "leg-curl") == ["Too dark."]


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ([], "The framing will do."),
        (["The picture is too dark."], "The picture is too dark."),
        (ClipError("This is no picture that can be read."), "no picture that can be read"),
    ],
)
def test_a_member_is_told_before_filming(
    studio: Studio,
    open_page: Open,
    monkeypatch: pytest.MonkeyPatch,
    answer: Any,
    said: str,
) -> None:
    monkeypatch.setattr(still, "_new_pool", lambda: _Pool(answer))
    looking = still.Stills()
    monkeypatch.setattr(still, "stills", lambda: looking)
    page = open_page(studio.ilse, "film")
    page.button_group[0].set_value("No").run()
    page.selectbox[0].set_value("leg-extension").run()
    assert said not in read(page)
    page = sound(page.file_uploader[0].upload("photo.jpg", b"x", "image/jpeg").run())
    assert said in read(page)


def test_a_process_started_from_the_page_does_not_run_the_page() -> None:
    """It loads the page's file under another name, as the standard library's ``spawn`` does."""
    assert callable(runpy.run_path(str(MAIN), run_name="__mp_main__")["main"])


def _hangs(*_: Any) -> list[str]:
    ctypes.PyDLL(None).pause()  # holds the interpreter's lock, as native code may
    return []


@pytest.mark.skipif(sys.platform != "linux", reason="forks, and needs an alarm")
@pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
def test_a_picture_that_hangs_its_reader_ends_that_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(still, "problems_of", _hangs)
    monkeypatch.setattr(still, "LONGEST_S", -4.0)
    child = multiprocessing.get_context("fork").Process(target=still.problems_in_time, args=(b"", "leg-curl"))
    child.start()
    child.join()
    assert child.exitcode == -signal.SIGALRM
