"""The process that reads strangers' clips: it is asked by pickle, by whom it trusts, and answers in JSON.

A question is its length and a pickle of (limits, function, arguments); an answer is one line, by its first
letter a step ("S"), a refusal in a sentence ("T") or the result ("D"). It ends when nobody asks any more.
"""

from __future__ import annotations

import os
import pickle
import queue
import signal
import struct
import sys
import threading
import traceback
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import TYPE_CHECKING, BinaryIO

from pydantic_core import to_json

from app.jobs.held import end_in, hold
from app.jobs.netless import close_network
from shared.errors import InputError, PlumbsetError

if TYPE_CHECKING:
    from vision.telling.first_look import FirstLook

LENGTH = struct.Struct(">Q")
STEP, TOLD, DONE = b"S", b"T", b"D"
#: Kinds of refusals: the clip's, ours, of memory, and what was not foreseen.
INPUT, OWN, MEMORY, UNFORESEEN = "input", "own", "memory", "unforeseen"


def main() -> None:
    """Answer on standard output, where nothing else can write then.

    A system that stops ends all processes at once: this one goes with whoever asks, and not before, or its
    clip would seem to have made it crash.
    """
    close_network()
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    questions, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb", buffering=0)
    os.dup2(2, 1)
    serve(questions, answers, sys.argv[2:])


def serve(questions: BinaryIO, answers: BinaryIO, modules: Sequence[str] = ()) -> None:
    """Answer one question after the other; end with whoever asks, also in the middle of an answer."""
    asked: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_hear, args=(questions, asked), daemon=True).start()
    with suppress(ImportError):  # told when it is asked for
        for module in modules:
            import_module(module)
    while True:
        _answer(asked.get(), answers)


def _hear(questions: BinaryIO, asked: queue.SimpleQueue[bytes]) -> None:
    while len(length := questions.read(LENGTH.size)) == LENGTH.size:
        asked.put(questions.read(LENGTH.unpack(length)[0]))
    os._exit(1)


def _answer(question: bytes, answers: BinaryIO) -> None:
    def say(step: str, share: float, first: FirstLook | None = None) -> None:
        answers.write(_line(STEP, [step, share, first]))

    try:
        limits, function, arguments = pickle.loads(question)
        hold(limits)
        line = _line(DONE, function(*arguments, say))
    except PlumbsetError as error:
        kind = INPUT if error.exit_code == InputError.exit_code else OWN
        line = _line(TOLD, [kind, str(error)])
    except MemoryError:
        line = _line(TOLD, [MEMORY, ""])
    except Exception:  # noqa: BLE001 - the set must not wait for ever, and no detail may leak
        if os.environ.get("PLUMBSET_DEBUG"):
            traceback.print_exc()
        line = _line(TOLD, [UNFORESEEN, ""])
    finally:
        end_in(0)
    answers.write(line)


def _line(kind: bytes, said: object) -> bytes:
    return kind + to_json(said, inf_nan_mode="constants") + b"\n"
