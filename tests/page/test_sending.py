"""Clips that come in piece by piece: cut anywhere they arrive whole, and what was counted is not lost."""

from __future__ import annotations

import asyncio
import base64
import hashlib
import json
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event
from typing import Any
from urllib.parse import unquote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.applications import Starlette

from app.jobs.early import Here
from app.page import sending
from app.page.studio import Studio as Store
from app.page.theme import ASSETS, LARGEST_CLIP_MB
from app.page.uploads import PAGE_MB, SEND
from app.store.access import Access
from app.store.arriving import WAITS_S, Arriving, ArrivingClip, Unknown, arriving
from app.store.erasing import erase
from app.store.models import Person
from app.store.retention import tidy
from app.store.settings import StoreSettings
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set

#: Of the file that npm gives out as ``tus-js-client`` 4.3.1, ``dist/tus.min.js``.
TUS = "8cbb1b63fccc3bba0ae73ad1deb160ce046c3750851d0c3e94921ae3ef070eb8"
PIECE = {"content-type": "application/offset+octet-stream"}
Asked = tuple[int, dict[str, str], str]
Send = Callable[..., Asked]


def _told(person: int, **more: object) -> dict[str, str]:
    told = {"person": person, "exercise": "leg-curl", "done_on": DAY.isoformat(), "load": 30.0, **more}
    words = {"told": json.dumps(told), "name": "tuesday.mp4"}
    return {
        "upload-metadata": ",".join(f"{k} {base64.b64encode(v.encode()).decode()}" for k, v in words.items())
    }


async def _ask(
    app: Any, method: str, path: str, headers: dict[str, str], body: Iterable[bytes], cut: bool
) -> Asked:
    """Ask over ASGI; cut: the line breaks after the last part, before the request is over."""
    messages = [{"type": "http.request", "body": part, "more_body": True} for part in body]
    messages.append({"type": "http.disconnect"} if cut else {"type": "http.request", "body": b""})
    came = iter(messages)
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return next(came, {"type": "http.disconnect"})

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http", "method": method, "path": path, "raw_path": path.encode(), "query_string": b"",
        "scheme": "http", "http_version": "1.1", "server": ("localhost", 8501),
        "headers": [(k.encode(), v.encode()) for k, v in headers.items()],
    }  # fmt: skip
    await app(scope, receive, send)
    answered = {k.decode(): v.decode() for k, v in sent[0]["headers"]}
    return sent[0]["status"], answered, b"".join(m.get("body", b"") for m in sent[1:]).decode()


@pytest.fixture
def send(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> Send:
    """Ask as somebody, None: not signed in."""
    app = Starlette(routes=sending.routes())
    store = Store(StoreSettings("", studio.files.folder), studio.database, studio.files)
    monkeypatch.setattr(sending, "this_studio", lambda: store)

    def asked(
        who: Access | None, method: str, path: str = SEND, body: Iterable[bytes] = (), cut: bool = False,
        **headers: str,
    ) -> Asked:  # fmt: skip
        monkeypatch.setattr(sending, "acting", lambda *_: None if who is None else who.actor)
        given = {"tus-resumable": "1.0.0", **{k.replace("_", "-"): v for k, v in headers.items()}}
        return asyncio.run(_ask(app, method, path, given, body, cut))

    return asked


def _begin(send: Send, who: Access, length: int, person: int | None = None, **more: object) -> Asked:
    told = _told(person or who.actor.id, **more)
    return send(who, "POST", upload_length=str(length), **told)


def _go_on(send: Send, who: Access, path: str, at: int, body: Iterable[bytes], cut: bool = False) -> Asked:
    return send(who, "PATCH", path, body, cut, upload_offset=str(at), **PIECE)


def _kept(studio: Studio, set_id: int) -> bytes:
    row = studio.ilse.set(set_id)
    assert row.clip is not None
    return studio.files.path(row.clip).read_bytes()


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.binary(min_size=1, max_size=6000),
    st.lists(st.tuples(st.integers(0, 700), st.booleans(), st.booleans()), min_size=20, max_size=20),
)
def test_a_clip_cut_twenty_times_arrives_whole(
    studio: Studio, send: Send, clip: bytes, cuts: list[tuple[int, bool, bool]]
) -> None:
    path = _begin(send, studio.ilse, len(clip))[1]["location"]
    counted = 0
    for length, cut, restarted in cuts:
        here = send(studio.ilse, "HEAD", path)[1]
        at = int(here["upload-offset"])
        assert at >= counted, "what was counted is not lost"
        if at == len(clip):
            break
        part = clip[at : at + length]
        status, answer, _ = _go_on(send, studio.ilse, path, at, [part[:97], part[97:]], cut)
        counted = at if cut else int(answer["upload-offset"])
        assert status == 204
        if restarted:
            arriving.cache_clear()
    at = int(send(studio.ilse, "HEAD", path)[1]["upload-offset"])
    last = _go_on(send, studio.ilse, path, at, [clip[at:]])[1]
    assert _kept(studio, int(last["plumbset-set"])) == clip


def test_a_missed_last_answer_is_given_again_and_adds_nothing(studio: Studio, send: Send) -> None:
    path = _begin(send, studio.ilse, 4)[1]["location"]
    first = _go_on(send, studio.ilse, path, 0, [b"clip"])[1]
    again = send(studio.ilse, "HEAD", path)[1]
    assert (again["upload-offset"], again["plumbset-set"]) == ("4", first["plumbset-set"])
    assert len(studio.ilse.sets(studio.ilse.actor.id)) == 1


def test_who_asks_while_a_clip_becomes_a_set_waits_for_it(
    studio: Studio, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _begin(send, studio.ilse, 4)[1]["location"]
    begun, looked, add_set, clip_of = Event(), Event(), Access.add_set, Arriving.clip

    def slowly(self: Access, *given: Any) -> tuple[int, bool]:
        begun.set()
        assert looked.wait(60)
        return add_set(self, *given)

    def looking(self: Arriving, name: str, owner: int) -> ArrivingClip:
        found = clip_of(self, name, owner)
        looked.set()
        return found

    monkeypatch.setattr(Access, "add_set", slowly)
    with ThreadPoolExecutor(1) as pool:
        sent = pool.submit(_go_on, send, studio.ilse, path, 0, [b"clip"])
        assert begun.wait(60)
        monkeypatch.setattr(Arriving, "clip", looking)
        status, asked, _ = send(studio.ilse, "HEAD", path)
        assert (status, asked["plumbset-set"]) == (204, sent.result()[1]["plumbset-set"])
    assert len(studio.ilse.sets(studio.ilse.actor.id)) == 1


def test_two_requests_that_both_find_a_clip_whole_make_one_set_of_it(studio: Studio, send: Send) -> None:
    name = _begin(send, studio.ilse, 4)[1]["location"].rpartition("/")[2]
    clips = arriving(studio.files.folder)
    clips.add(name, clips.take_turn(name, studio.ilse.actor.id)[1], 0, b"clip")
    sender = sending._Sender(studio.ilse, clips, studio.files)
    assert sender.take(name) == sender.take(name)
    clips.drop(name)
    with pytest.raises(Unknown), clips.whole(name):
        pass


def test_a_clip_whose_last_byte_came_as_the_line_broke_becomes_a_set_when_asked_for(
    studio: Studio, send: Send
) -> None:
    path = _begin(send, studio.ilse, 4)[1]["location"]
    _go_on(send, studio.ilse, path, 0, [b"clip"], cut=True)
    assert studio.ilse.sets(studio.ilse.actor.id) == []
    assert _kept(studio, int(send(studio.ilse, "HEAD", path)[1]["plumbset-set"])) == b"clip"


def test_a_second_clip_joins_its_set_and_belongs_to_whose_set_it_is(studio: Studio, send: Send) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    begun = _begin(send, studio.trainer, 5, person=studio.odo.actor.id, second_of=set_id)
    path = begun[1]["location"]
    assert _go_on(send, studio.trainer, path, 0, [b"fr"])[0] == 204
    clips = arriving(studio.files.folder)
    whose = json.loads(clips.clip(path.rpartition("/")[2], studio.trainer.actor.id).told)["person"]
    assert whose == studio.ilse.actor.id, "erased with her, whatever the browser told"
    assert _go_on(send, studio.trainer, path, 2, [b"ont"])[1]["plumbset-set"] == str(set_id)
    row = studio.trainer.set(set_id)
    assert row.second_clip and studio.files.path(row.second_clip).read_bytes() == b"front"
    assert row.status == "checking" and len(studio.ilse.sets(studio.ilse.actor.id)) == 1
    assert send(studio.trainer, "HEAD", path)[1]["plumbset-set"] == str(set_id), "asked again: the same"


def test_a_second_clip_that_would_be_refused_is_refused_before_it_is_sent(studio: Studio, send: Send) -> None:
    set_id = new_set(studio.ilse)
    assert "still being checked" in _begin(send, studio.ilse, 5, second_of=set_id)[2]
    check(studio.database, studio.files)
    assert _begin(send, studio.odo, 5, second_of=set_id)[0] == 422
    assert _begin(send, studio.ilse, 5, second_of=set_id)[0] == 201


def test_the_same_clip_sent_anew_is_known(studio: Studio, send: Send) -> None:
    answers = []
    for _ in range(2):
        path = _begin(send, studio.ilse, 4)[1]["location"]
        answers.append(_go_on(send, studio.ilse, path, 0, [b"clip"])[1])
    assert answers[0]["plumbset-set"] == answers[1]["plumbset-set"]
    assert ["plumbset-known" in a for a in answers] == [False, True]


def test_a_request_on_a_dead_line_writes_nothing_after_a_newer_one(studio: Studio, send: Send) -> None:
    path = _begin(send, studio.ilse, 8)[1]["location"]
    clips, name = arriving(studio.files.folder), path.rsplit("/", 1)[1]
    _, old, _ = clips.take_turn(name, studio.ilse.actor.id)
    assert _go_on(send, studio.ilse, path, 0, [b"good"])[0] == 204
    for turn in (old, object()):
        with pytest.raises(UsageError):
            clips.add(name, turn, 4, b"late")
    assert _go_on(send, studio.ilse, path, 0, [b"twice"])[0] == 409
    assert _kept(studio, int(_go_on(send, studio.ilse, path, 4, [b"clip"])[1]["plumbset-set"])) == b"goodclip"


@pytest.mark.parametrize(
    ("who", "more", "status"),
    [
        ("ilse", {}, 201), ("trainer", {}, 201), ("odo", {}, 422), (None, {}, 401),
        ("ilse", {"exercise": "rowing"}, 422), ("ilse", {"done_on": "2999-01-01"}, 422),
        ("ilse", {"load": -1}, 422), ("ilse", {"more": 1}, 422), ("ilse", {"side": "both"}, 422),
    ],
)  # fmt: skip
def test_what_would_be_refused_at_the_end_is_refused_before_it_is_sent(
    studio: Studio, send: Send, who: str | None, more: dict[str, object], status: int
) -> None:
    told = _told(studio.ilse.actor.id, **more)
    access = None if who is None else studio.all[who]
    assert send(access, "POST", upload_length="4", **told)[0] == status


def test_without_an_agreement_nothing_is_taken_and_with_one_it_is_on_record(
    studio: Studio, send: Send
) -> None:
    ilse = studio.ilse.actor.id
    with studio.database.write() as session:
        session.get_one(Person, ilse).consent_at = None
    assert _begin(send, studio.ilse, 4)[0] == 422
    assert _begin(send, studio.ilse, 4, agreed=True)[0] == 201
    assert studio.ilse.me().consent_at is not None


def test_pain_told_on_the_way_stops_the_clip_and_lets_it_in_when_cleared(studio: Studio, send: Send) -> None:
    path = _begin(send, studio.ilse, 4)[1]["location"]
    studio.ilse.tell_pain(studio.ilse.actor.id, "knee")
    status, _, said = _go_on(send, studio.ilse, path, 0, [b"clip"])
    assert status == 422 and "pain" in said.lower()
    assert _begin(send, studio.ilse, 4)[0] == 422
    pain = studio.trainer.pain(studio.ilse.actor.id)
    studio.trainer.clear_pain(studio.ilse.actor.id, pain.last)
    assert "plumbset-set" in send(studio.ilse, "HEAD", path)[1]


class Early:
    """Reads clips while they come, and finds each too dark."""

    def __init__(self) -> None:
        self.came_of: list[tuple[str, float]] = []
        self.whole_of: list[tuple[Path, int | None]] = []

    def came(self, name: str, exercise: str, here: Here) -> tuple[str, ...]:
        self.came_of.append((exercise, here.share))
        assert here.path.is_file()
        return ("Too dark.",)

    def whole(self, name: str, here: Here) -> None:
        self.whole_of.append((here.path, here.set_id))


@pytest.fixture
def early(monkeypatch: pytest.MonkeyPatch) -> Early:
    reader = Early()
    monkeypatch.setattr(sending, "early_reader", lambda: reader)
    return reader


def test_what_is_certain_of_a_part_is_told_with_how_to_film_it_again(
    studio: Studio, send: Send, early: Early
) -> None:
    path = _begin(send, studio.ilse, 8)[1]["location"]
    answers = [_go_on(send, studio.ilse, path, 0, [b"clip"])[1], send(studio.ilse, "HEAD", path)[1]]
    for answer in answers:
        why, title, how = json.loads(unquote(answer["plumbset-so-far"]))
        assert (why, title) == ("Too dark.", "Film it again like this:") and how.startswith("From the side. ")
    assert early.came_of == [("leg-curl", 0.5)] * 2
    set_id = int(_go_on(send, studio.ilse, path, 4, [b"more"])[1]["plumbset-set"])
    ((kept, number),) = early.whole_of
    assert number == set_id and kept.read_bytes() == b"clipmore"


def test_nothing_is_told_of_the_clip_of_somebody_whom_pain_stops(
    studio: Studio, send: Send, early: Early
) -> None:
    path = _begin(send, studio.ilse, 12)[1]["location"]
    assert "plumbset-so-far" in _go_on(send, studio.ilse, path, 0, [b"clip"])[1]
    studio.ilse.tell_pain(studio.ilse.actor.id, "knee")
    for answer in (_go_on(send, studio.ilse, path, 4, [b"more"])[1], send(studio.ilse, "HEAD", path)[1]):
        assert "plumbset-so-far" not in answer
    with_pain = _begin(send, studio.odo, 8, pain_before=True)[1]["location"]
    assert "plumbset-so-far" not in _go_on(send, studio.odo, with_pain, 0, [b"clip"])[1]
    assert len(early.came_of) == 1


def test_a_clip_on_its_way_is_nobody_elses(studio: Studio, send: Send) -> None:
    path = _begin(send, studio.ilse, 4)[1]["location"]
    for other in (studio.odo, studio.trainer):
        assert send(other, "HEAD", path)[0] == send(other, "DELETE", path)[0] == 404
        assert _go_on(send, other, path, 0, [b"clip"])[0] == 404
    assert send(studio.ilse, "HEAD", f"{SEND}/{'0' * 32}")[0] == 404
    assert send(studio.ilse, "HEAD", f"{SEND}/..")[0] == 404
    assert send(studio.ilse, "DELETE", path)[0] == 204
    assert send(studio.ilse, "HEAD", path)[0] == 404


def test_no_more_is_taken_than_a_clip_may_be(studio: Studio, send: Send) -> None:
    most = LARGEST_CLIP_MB * 1_000_000
    assert _begin(send, studio.ilse, most + 1)[0] == 413
    assert _begin(send, studio.ilse, 0)[0] == 422
    path = _begin(send, studio.ilse, 4)[1]["location"]
    assert _go_on(send, studio.ilse, path, 0, [b"clips"])[0] == 413
    begun = [_begin(send, studio.ilse, most)[0] for _ in range(PAGE_MB // LARGEST_CLIP_MB)]
    assert begun == [201] * (len(begun) - 1) + [413], "as much at once as one page may"
    assert _begin(send, studio.odo, most)[0] == 201


def test_what_does_not_speak_the_protocol_is_told_what_is_spoken(studio: Studio, send: Send) -> None:
    status, headers, _ = send(studio.ilse, "POST", tus_resumable="0.2.2")
    assert status == 412 and headers["tus-version"] == "1.0.0"
    assert send(None, "OPTIONS")[1]["tus-extension"] == "creation,termination"
    path = _begin(send, studio.ilse, 4)[1]["location"]
    assert send(studio.ilse, "PATCH", path, [b"clip"], upload_offset="0")[0] == 415


def test_what_nobody_goes_on_with_is_dropped_and_an_erased_members_at_once(
    studio: Studio, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    clips = arriving(studio.files.folder)
    _begin(send, studio.ilse, 4)
    of_odo = _begin(send, studio.trainer, 4, person=studio.odo.actor.id)[1]["location"]
    erase(studio.database, studio.files, studio.odo.actor.id)
    assert send(studio.trainer, "HEAD", of_odo)[0] == 404
    tidy(studio.database, studio.files, None)
    assert clips.under_way(studio.ilse.actor.id) == 4
    import app.store.arriving as module

    real = module.time.time
    monkeypatch.setattr(module.time, "time", lambda: real() + WAITS_S + 60)
    tidy(studio.database, studio.files, None)
    assert clips.under_way(studio.ilse.actor.id) == 0


def test_what_sends_the_clips_is_unchanged_and_has_its_licence_beside_it() -> None:
    script = ASSETS / "tus-js-client-4.3.1.min.js"
    assert hashlib.sha256(script.read_bytes()).hexdigest() == TUS
    assert "MIT License" in (ASSETS / "tus-js-client-LICENSE.txt").read_text(encoding="utf-8")
