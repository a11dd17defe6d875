"""The page's plain rules: what worries, how tempo reads, what the strip shows, how each machine is filmed."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from types import SimpleNamespace

import pytest

from app.page.card_words import asked_settings
from app.page.cards import card
from app.page.drawings import film_drawing
from app.page.theme import palette
from app.page.timeline import strip
from app.rules import told, words, worry
from app.rules.room import Room
from app.rules.states import PAIN_ALONE
from app.rules.told import Said, Told
from app.rules.worry import worry_of
from app.store.agreement import Agreement, suggestion
from app.store.models import Card
from app.views import parts
from shared.exercise import exercise_names, find_exercise
from shared.faults import catalogue, order_of
from shared.report import SetReport
from tests.store.made import report
from tests.unit.handmade import TOO_DARK, analysis
from vision.judging.confirm import NOT_CONFIRMED
from vision.telling.cues import best_rep
from vision.telling.groups import groups

MADE = report()
CM = Room(())
EXERCISE = find_exercise("leg-extension")
UNFIT = analysis(usable=False).report
OFF_TARGET = MADE.findings[0].model_copy(update={"verdict": "flag", "measured": 9.0, "title": "Off target"})
OFF_NOW = OFF_TARGET.model_copy(update={"verdict": "watch"})


def _only(*checks: str) -> SetReport:
    kept = [f for f in MADE.findings if f.check in checks or f.verdict == "clear"]
    return MADE.model_copy(update={"findings": kept})


@pytest.mark.parametrize(
    ("said", "status", "pain", "rank", "words_in_it"),
    [
        (MADE, "checked", True, worry.PAIN, "Pain reported"),
        (MADE, "checked", False, order_of("knee-lockout"), "repetitions 4 and 9"),
        (
            MADE.model_copy(update={"findings": [OFF_TARGET]}),
            "checked",
            False,
            worry.CLEAR,
            "Nothing flagged",
        ),
        (MADE.model_copy(update={"findings": [OFF_NOW]}), "checked", False, worry.CLEAR, "Nothing flagged"),
        (UNFIT, "unfit", False, worry.NOT_JUDGED, TOO_DARK),
        (None, "failed", False, worry.NOT_JUDGED, "Could not be checked"),
        (_only("dropped-load"), "checked", False, order_of("dropped-load"), "Load let fall: repetition 11"),
        (_only(), "checked", False, worry.CLEAR, "Nothing flagged"),
        (None, "checking", False, worry.CHECKING, "Still being checked"),
        (None, "checking", True, worry.PAIN, "Pain reported"),
    ],
)
def test_the_worst_thing_decides_how_soon_a_set_is_seen(
    said: SetReport | None, status: str, pain: bool, rank: int, words_in_it: str
) -> None:
    found = worry_of(said, status, pain)
    assert found.rank == rank and words_in_it in found.words


@pytest.mark.parametrize(
    ("said", "status", "rank", "words"),
    [
        (MADE, "checked", order_of("knee-lockout"), "Knees locked out: repetitions 4 and 9"),
        (_only(), "checked", worry.TO_WATCH, "Nothing flagged"),
        (None, PAIN_ALONE, worry.TO_WATCH, "left hip; cleared by Runa"),
    ],
)
def test_pain_that_was_cleared_is_told_calmly_before_what_else_the_clip_shows(
    said: SetReport | None, status: str, rank: int, words: str
) -> None:
    found = worry_of(said, status, pain=True, where="left hip", cleared="Runa")
    assert found.rank == rank and words in found.words
    assert found.words.startswith("Pain reported: left hip; cleared by Runa")


def test_every_flag_worries_less_than_pain_and_more_than_what_is_only_to_be_watched() -> None:
    assert all(worry.PAIN < order_of(check) <= worry.FLAGGED < worry.TO_WATCH for check in catalogue())


def test_one_fault_is_one_prompt_by_its_clearest_repetition() -> None:
    prompts = told.tool_prompts(MADE)
    assert (prompts[0].title, prompts[0].reps) == ("Knees locked out", [4, 9])
    assert prompts[0].words == "Stop just short of locking your knees."
    assert (prompts[0].picture, prompts[0].time_s) == ("knee-lockout:4", 17.4)


def test_a_repetition_called_no_fault_leaves_the_others_of_its_check() -> None:
    prompts = told.decided_prompts(MADE, {"knee-lockout:4": Said("no-fault")})
    assert prompts[0].reps == [9] and prompts[0].picture == "knee-lockout:9"


def test_a_moment_to_watch_is_told_only_in_the_trainers_words() -> None:
    before = {p.title for p in told.tool_prompts(_only("none"))}
    after = told.decided_prompts(MADE, {"chest-drop:6": Said("reword", "Sit tall.")})
    assert not before and "Sit tall." in [p.words for p in after]


def test_a_card_tells_why_a_moment_is_only_to_be_watched() -> None:
    doubted = {"verdict": "watch", "prompt": None, "reason": NOT_CONFIRMED}
    said = MADE.model_copy(update={"findings": [f.model_copy(update=doubted) for f in MADE.flags()]})
    cards = [card(group, {}, CM) for group in groups(said, EXERCISE, "watch")]
    assert cards and all("Seen in one of two looks at the clip only." in one["numbers"] for one in cards)


def test_what_was_handed_over_reads_back_the_same() -> None:
    content = told.released(MADE, {"added:1": Said("added", "Feet.", 12.5)}, False, "Runa")
    assert Told.from_json(content.to_json()) == content
    assert Told.from_json({**content.to_json(), "of a later version": 1}) == content


def test_blocks_of_the_strip_follow_each_other_without_overlap() -> None:
    shown = strip(MADE, {"added:1": Said("added", "Feet flat.", 12.5)})
    blocks = shown["reps"]
    assert [b["number"] for b in blocks] == list(range(1, 14))
    assert all(a["end"] <= b["start"] + 1e-9 for a, b in pairwise(blocks))
    assert [b["number"] for b in blocks if b["verdict"] == "flag"] == [4, 9, 11]
    assert shown["marks"] == [{"rep": 3, "time": 12.5}]


def test_no_fault_clears_its_mark_on_the_strip_and_its_flag() -> None:
    shown = strip(MADE, {"knee-lockout:4": Said("no-fault"), "knee-lockout:9": Said("agree")})
    assert [b["number"] for b in shown["reps"] if b["verdict"] == "flag"] == [9, 11]
    assert shown["open"] == shown["flags"][0] == MADE.reps[8].turn_s


def test_the_best_repetition_is_whole_and_without_fault() -> None:
    best = best_rep(MADE)
    assert best is not None and best.number not in (4, 6, 8, 9, 11)
    assert best_rep(UNFIT) is None


@pytest.mark.parametrize("name", exercise_names())
def test_every_machine_has_a_drawing_for_its_first_view(name: str) -> None:
    exercise = find_exercise(name)
    drawn = film_drawing(exercise, exercise.views[0].name)
    assert drawn.svg.count("f-joint") >= 3 and "two to three metres" in drawn.words
    assert drawn.words.endswith(f"in the picture: {exercise.drawing.sees}.")


@pytest.mark.parametrize("view", ["side", "front", "rear"])
def test_a_machine_without_a_drawing_still_shows_where_the_phone_stands(view: str) -> None:
    plain = EXERCISE.model_copy(update={"drawing": None})
    whole, drawn = film_drawing(EXERCISE, view), film_drawing(plain, view)
    assert "f-phone" in drawn.svg and "f-screen" not in drawn.svg and "f-screen" in whole.svg
    assert drawn.words.endswith("two to three metres away.") and whole.words.startswith(drawn.words[:-1])


def test_a_settings_card_asks_what_the_machine_has_and_what_is_kept_already() -> None:
    asked = EXERCISE.model_copy(update={"settings": ("grip", "seat")})
    assert list(asked_settings(Card(seat="4"), asked)) == ["seat", "grip"]
    assert list(asked_settings(Card(back_pad="2"), asked)) == ["seat", "back_pad", "grip"]
    assert list(asked_settings(Card(), None)) == list(words.CARD_WORDS)


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("kind", ["light", "dark"])
@pytest.mark.parametrize("text", ["ink", "soft", "flag", "link", "steel", "brass"])
@pytest.mark.parametrize("ground", ["paper", "card", "flag-wash"])
def test_text_stands_out_from_its_ground(kind: str, text: str, ground: str) -> None:
    colours = palette(kind)
    bright, dim = sorted((_luminance(colours[text]), _luminance(colours[ground])), reverse=True)
    assert (bright + 0.05) / (dim + 0.05) >= 4.5


@pytest.mark.parametrize("kind", ["light", "dark"])
def test_words_on_a_full_button_stand_out(kind: str) -> None:
    dim, bright = sorted((_luminance(palette(kind)["on"]), _luminance(palette(kind)["steel"])))
    assert (bright + 0.05) / (dim + 0.05) >= 4.5


def test_times_and_loads_in_short_words() -> None:
    now = datetime(2026, 3, 5, 12, tzinfo=UTC)
    spans = [timedelta(seconds=5), timedelta(minutes=12), timedelta(hours=3), timedelta(days=4)]
    assert [words.ago(now - s, now) for s in spans] == ["just now", "12 min ago", "3 h ago", "4 days ago"]
    assert words.day_words(date(2026, 3, 2), now.date()) == "Mon 2 March"
    assert words.day_words(date(2025, 3, 2), now.date()) == "Sun 2 March 2025"
    assert words.load_words(None, "kg") == "load not told" and words.load_words(27.5, "kg") == "27.5 kg"
    assert words.title_of("no-such-machine") == "no-such-machine"


@pytest.mark.parametrize(("agreed", "dismissed", "doubtful"), [(0, 4, False), (2, 5, True), (6, 5, False)])
def test_a_limit_is_questioned_only_when_its_flags_are_dismissed_again_and_again(
    agreed: int, dismissed: int, doubtful: bool
) -> None:
    spec = find_exercise("leg-extension").check("knee-lockout")
    seen = tuple(f for f in MADE.findings if f.check == spec.id and f.verdict == "flag")
    said = suggestion(Agreement("leg-extension", spec.id, agreed, 0, dismissed, seen), spec)
    assert bool(said) is doubtful
    assert not doubtful or ("180 degrees" in said and "at most 172 degrees" in said)


class _Address(dict[str, str]):
    """Streamlit's query parameters; ``written`` counts how often the browser's address was changed."""

    written = 0

    def from_dict(self, values: dict[str, str]) -> None:
        self.written += 1
        self.clear()
        self.update(values)


def test_the_browsers_address_follows_to_a_member_and_back_to_the_list(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A link to the page that is open changes what the page is asked for, and not the browser's address."""
    address = _Address()
    monkeypatch.setattr(parts, "st", SimpleNamespace(query_params=address, session_state={}))
    address.update({"person": "2", "machine": "leg-curl"})
    assert [parts.number_in_address("person") for _ in range(3)] == [2, 2, 2]
    assert (address.written, dict(address)) == (1, {"machine": "leg-curl", "person": "2"})
    del address["person"]
    assert [parts.number_in_address("person") for _ in range(2)] == [None, None]
    assert (address.written, dict(address)) == (2, {"machine": "leg-curl"})
