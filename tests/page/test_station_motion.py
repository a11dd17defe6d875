"""What a station makes of small grey pictures of the seat, and whose count it shows; in Chromium."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import pytest

from app.page.theme import ASSETS

pytestmark = pytest.mark.browser

TICK_S = 0.25
#: Plays what is seen into a seat: pictures are made in the page of [what, shift] a tick.
PLAY = """async (ticks) => {
  const { Seat, SIDE, levels } = await import("/ours/station-motion.js");
  const seat = new Seat(), said = [];
  let noise = 7;
  ticks.forEach(([there, shift, light], i) => {
    const data = new Uint8ClampedArray(4 * SIDE * SIDE);
    for (let k = 0; k < SIDE * SIDE; k += 1) {
      noise = (noise * 16807) % 2147483647;
      const [x, y] = [k % SIDE, Math.floor(k / SIDE)];
      const inside = there && x > 6 && x < 22 && y > 6 + shift && y < 26;
      data.fill((inside ? 60 : 130 + x) + light + (noise % 3), 4 * k, 4 * k + 4);
    }
    const news = seat.see(levels({ data }), 250 * i);
    if (news) said.push([news, 0.25 * i, (seat.moved_at ?? 0) / 1000]);
  });
  return said; }"""
Tick = tuple[int, int, int]


def _for(seconds: float, tick: Tick) -> list[Tick]:
    return [tick] * round(seconds / TICK_S)


def _empty(seconds: float, light: int = 0) -> list[Tick]:
    return _for(seconds, (0, 0, light))


def _sits(seconds: float) -> list[Tick]:
    return _for(seconds, (1, 0, 0))


def _trains(seconds: float) -> list[Tick]:
    """Up and down within three seconds, with a hold of half a second."""
    way = [0, 2, 4, 6, 8, 10, 10, 8, 6, 4, 2, 0]
    return [(1, way[k % len(way)], 0) for k in range(round(seconds / TICK_S))]


@pytest.fixture
def page(browser: Any) -> Any:
    page = browser.new_page()
    files = {f"/ours/{path.name}": path.read_text(encoding="utf-8") for path in ASSETS.glob("*.js")}
    board = re.sub(r"<(link|script).*", "", (ASSETS / "station.html").read_text(encoding="utf-8"))

    def give(route: Any) -> None:
        path = "/" + route.request.url.split("/", 3)[3]
        if path.startswith("/station/set/"):
            route.fulfill(
                json={"state": "done", "count": 7, "tempo": "", "why": "", "cue": "", "more": False}
            )
        else:
            kind = "text/javascript" if path in files else "text/html"
            route.fulfill(body=files.get(path, board), content_type=kind)

    page.route("**/*", give)
    page.goto("http://studio.test/")
    return page


@pytest.fixture
def play(page: Any) -> Any:
    def played(ticks: Iterable[Tick]) -> list[list[Any]]:
        said: list[list[Any]] = page.evaluate(PLAY, list(ticks))
        return said

    return played


#: Whether a name is kept at moments (ms) at which the seat is empty, before and after its owner trained.
NAMED = """async ([before, after]) => {
  const { Card } = await import("/ours/station-card.js");
  const card = new Card();
  Object.assign(card, { shown: { name: "Ilse" }, shown_at: 0 });
  const named = (at) => (card.empty(at), card.shown !== null);
  const waited = before.map(named);
  Object.assign(card, { shown: { name: "Ilse" }, shown_at: 0, trained: true });
  return [waited, after.map(named)]; }"""


#: What stands on the board once the count of a film is there: film shows [word, name], another one may have
#: been handed in since, and the card of another may have been read.
COUNTED = """async ([shown, later, read]) => {
  const { Station } = await import("/ours/station.js");
  const station = new Station(document.querySelector("main"));
  const film = { shown: shown && { shown: shown[0], name: shown[1] } };
  Object.assign(station, { checking: 1, newest: later ? { ...film } : film });
  station.card.shown = read && { shown: read[0], name: read[1] };
  const before = station.words(station.card.shown);
  await station.counted("film", film);
  return [before, station.words(station.card.shown)].map(([name, big]) => [name, big]); }"""
MARA, ILSE = ["a", "Mara"], ["b", "Ilse"]


def _news(said: list[list[Any]]) -> list[str]:
    return [news for news, _, _ in said]


def test_a_set_begins_soon_after_its_first_repetition_and_ends_soon_after_the_last(play: Any) -> None:
    said = play([*_empty(10), *_sits(8), *_trains(30), *_sits(30), *_empty(10)])
    assert _news(said) == ["sat", "began", "ended", "left"]
    (_, sat, _), (_, began, _), (_, ended, moved), _ = said
    assert 10 <= sat <= 10.5 and 18 + 3 <= began <= 18 + 6
    assert abs(moved - 48) <= 1 and 12 <= ended - moved <= 12.5


def test_who_gets_up_after_the_last_repetition_ends_the_set(play: Any) -> None:
    said = play([*_empty(10), *_sits(8), *_trains(30), *_empty(10)])
    assert _news(said) == ["sat", "began", "left"] and said[-1][1] <= 48 + 3


def test_a_pause_within_a_set_does_not_part_it(play: Any) -> None:
    said = play([*_empty(10), *_sits(8), *_trains(15), *_sits(10), *_trains(15), *_empty(10)])
    assert _news(said) == ["sat", "began", "left"]


def test_two_sets_with_a_rest_between_are_two(play: Any) -> None:
    said = play([*_empty(10), *_sits(8), *_trains(20), *_sits(60), *_trains(20), *_empty(10)])
    assert _news(said) == ["sat", "began", "ended", "began", "left"]


def test_who_only_sits_or_passes_by_begins_no_set(play: Any) -> None:
    assert _news(play([*_empty(10), *_sits(40), *_empty(10)])) == ["sat", "left"]
    assert _news(play([*_empty(10), *_sits(1.5), *_empty(10)])) == ["sat", "left"]


def test_light_that_changes_over_the_whole_picture_is_nobody(play: Any) -> None:
    assert play([*_empty(10), *_empty(10, light=40), *_empty(10, light=-30)]) == []


def test_what_stays_on_the_seat_without_moving_belongs_to_the_room(play: Any) -> None:
    said = play([*_empty(10), *_sits(200)])
    assert _news(said) == ["sat", "left"] and said[-1][1] >= 120


def test_nothing_is_filmed_for_longer_than_three_minutes(play: Any) -> None:
    said = play([*_empty(10), *_trains(300), *_empty(10)])
    assert _news(said) == ["sat", "began", "ended", "left"]
    assert 180 <= said[2][1] - said[1][1] <= 181


def test_a_name_waits_for_its_owner_to_sit_down_and_goes_when_they_get_up_after_a_set(page: Any) -> None:
    assert page.evaluate(NAMED, [[1000, 44_000, 46_000], [1000]]) == [[True, True, False], [False]]


@pytest.mark.parametrize(
    ("shown", "later", "read", "board"),
    [
        (MARA, False, MARA, [["Mara", "Checking"], ["Mara", "7 reps"]]),
        (MARA, False, None, [["", "Checking"], ["Mara", "7 reps"]]),
        (None, False, None, [["", "Checking"], ["", "7 reps"]]),
        (MARA, False, ILSE, [["Ilse", "Start when you like"], ["Ilse", "Start when you like"]]),
        (MARA, True, MARA, [["Mara", "Checking"], ["Mara", "Checking"]]),
    ],
    ids=["who stayed", "who got up", "no card", "somebody else's card", "the set before the last"],
)
def test_a_count_is_shown_to_nobody_else_and_of_the_last_set_alone(
    page: Any, shown: list[str] | None, later: bool, read: list[str] | None, board: list[list[str]]
) -> None:
    assert page.evaluate(COUNTED, [shown, later, read]) == board
