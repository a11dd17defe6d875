"""The page: verdict first, what was wrong with its number and limit, nothing that people wrote runs."""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from html.parser import HTMLParser

import handmade
import numpy as np
import pytest

from shared.domain import Signal
from shared.exercise import Exercise, find_exercise
from shared.member import Member, with_member
from vision.common.cautions import CAUTIONS
from vision.judging.lockout import STRAIGHTER
from vision.telling.charts import REST_CUT, signal_chart, tempo_bars
from vision.telling.cues import headline
from vision.telling.html import plots, render_html
from vision.telling.words import reps_words

JPEG = b"\xff\xd8\xff\xe0 picture"


class _Outline(HTMLParser):
    """Tags in order, text of the page without styles, and every address it would load."""

    VOID = ("meta", "img", "br", "line", "path", "rect", "circle", "polygon", "polyline", "link", "input")

    def __init__(self, page: str) -> None:
        super().__init__()
        self.stack: list[str] = []
        self.tags: list[str] = []
        self.text = ""
        self.loads: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.text += " "
        self.loads += [v or "" for k, v in attrs if k in ("src", "href", "action", "xlink:href")]
        assert not any(k.startswith("on") for k, _ in attrs)
        if tag not in self.VOID:
            self.stack.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.stack.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.stack and self.stack[-1] not in ("style", "title"):
            self.text += data


def _text(page: str) -> str:
    return re.sub(r"\s+", " ", _Outline(page).text)


def test_the_page_opens_with_the_verdict_and_the_flags() -> None:
    page = render_html(handmade.analysis(), {})
    text = _text(page)
    opening = "Stop just short of locking your knees. Reps 4 and 9 of 13 (12 full, 1 short)."
    assert text.index(opening) < text.index("Next time, all 13.") < text.index("From your trainer")
    assert text.index("From your trainer") < text.index("Before the next set") < text.index("everything that")
    opening = text[text.index("everything that was seen and measured") :][:400]
    assert "Knees locked out: repetitions 4 and 9; Chest dropping: repetition 11; Load let fall" in opening
    assert "For the trainer to look at: chest dropping." in opening
    assert "Cannot tell from this clip: leaning back." in opening
    assert text.index("Flagged") < text.index("Tempo lift") < text.index("How far to trust this")


def test_a_flag_shows_what_was_measured_against_which_limit_and_when() -> None:
    text = _text(render_html(handmade.analysis(), {}))
    first = "181 degrees, give or take 4 Repetition 4 at 17.4 s, the clearest of 2"
    assert f"{first} Limit: at most 172 degrees." in text
    assert "47 %, give or take 6" in text and "Limit: at least 60 %." in text
    assert "Stop just short of locking your knees." in text


def test_pictures_are_inside_the_page_and_nothing_else_is_loaded() -> None:
    outline = _Outline(
        render_html(handmade.analysis(), {("knee-lockout", 4): JPEG, ("chest-drop", 11): JPEG})
    )
    assert outline.loads == ["data:image/jpeg;base64," + base64.b64encode(JPEG).decode()] * 2
    assert "script" not in outline.tags and "link" not in outline.tags
    assert outline.stack == []


def test_a_watch_is_for_the_trainer_and_a_missing_view_says_why() -> None:
    text = _text(render_html(handmade.analysis(), {}))
    assert (
        "Chest dropping, repetition 6 at 26.0 s: 11 degrees, give or take 2 (limit: at most 10 degrees)."
        in text
    )
    assert "Leaning back: repetition 7 The shoulder was hidden behind the trainer." in text


@pytest.mark.parametrize("usable", [True, False])
def test_the_cautions_stand_on_every_page(usable: bool) -> None:
    text = _text(render_html(handmade.analysis(usable), {}))
    assert all(caution in text for caution in CAUTIONS)
    seen, folded = text.index("call for emergency help"), text.index("Every caution")
    assert text.index("Stop on sharp or joint pain") < seen < folded, "beside the stop, not folded away"


def test_an_unfit_clip_says_why_and_how_to_film_again_first() -> None:
    text = _text(render_html(handmade.analysis(False), {}))
    first, again = text.index("too dark to see the limbs"), text.index("Phone level with the knee")
    assert text.index("This clip is not fit to judge") < first < again < text.index("Followed, not judged")
    assert "counted," not in text and "nothing flagged" not in text


@pytest.mark.parametrize(
    ("verdict", "first", "last"),
    [
        (
            "flag",
            "Check the picture Repetition 4",
            "170 degrees, give or take 12; limit: at most 172 degrees.",
        ),
        (
            "watch",
            "Knees locked out, repetition 4 at 17.4 s. Check the picture: elbow",
            "170 degrees, give or take 12 (limit: at most 172 degrees).",
        ),
    ],
)
def test_what_the_picture_bears_out_is_told_before_a_figure_within_its_limit(
    verdict: str, first: str, last: str
) -> None:
    knee = next(f for f in handmade.analysis().report.findings if f.check == "knee-lockout" and f.rep == 4)
    change = {
        "verdict": verdict, "measured": 170.0, "uncertainty": 12.0, "reason": STRAIGHTER.format(degrees=14)
    }  # fmt: skip
    made = handmade.analysis(findings=[knee.model_copy(update=change)])
    text = _text(render_html(made, {})).replace("\u00a0", " ")
    why = "near straight, the camera reads it as more bent than it is."
    assert text.index(first) < text.index(why) < text.index(last)


def test_notices_come_before_the_verdict() -> None:
    text = _text(render_html(handmade.analysis(notices=["Not cleared for this machine."]), {}))
    assert text.index("Not cleared for this machine.") < text.index("Stop just short of locking")


def test_nothing_flagged_is_said_with_what_could_not_be_told() -> None:
    findings = [f for f in handmade.analysis().report.findings if f.verdict == "cannot-tell"]
    text = _text(render_html(handmade.analysis(findings=findings), {}))
    assert "12 full, 1 short, nothing flagged" in text
    assert "Nothing was flagged." in text and "found a fault" not in text
    assert "Cannot tell from this clip: leaning back." in text


def test_what_people_wrote_is_shown_and_never_run() -> None:
    evil = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>"
    data = find_exercise("leg-extension").model_dump(by_alias=True)
    data["title"] = evil
    data["checks"] = [{**c, "title": evil, "what": evil, "why": evil} for c in data["checks"]]
    exercise = Exercise.model_validate(data)
    clip = {**handmade.analysis().report.clip.model_dump(), "file": evil + ".mov"}
    page = render_html(
        handmade.analysis(exercise=exercise, clip=clip, notices=[evil]), {("knee-lockout", 4): JPEG}
    )
    outline = _Outline(page)
    assert "script" not in outline.tags and outline.tags.count("img") == 1
    assert "<script>alert(1)</script>" in outline.text


def test_moments_that_can_be_looked_at_come_before_figures_of_the_whole_set() -> None:
    report = handmade.analysis().report
    whole = report.findings[0].model_copy(update={"verdict": "flag"})
    text = _text(render_html(handmade.analysis(findings=[whole, *report.findings[1:]]), {}))
    assert text.index("Knees locked out:") < text.index("Repetitions off target: the whole set")


def test_headline_counts_in_words() -> None:
    whole = [rep for rep in handmade.rep_parts() if not rep.partial]
    assert headline(handmade.analysis(findings=[], reps=whole).report) == "12 reps, nothing flagged"
    assert (
        headline(handmade.analysis(findings=[], count=1, reps=whole[:1]).report) == "1 rep, nothing flagged"
    )
    assert reps_words([9, 4, 12, 4]) == "repetitions 4, 9 and 12"
    assert reps_words([None]) == "the whole set"


def test_tempo_bars_are_to_one_scale_and_cut_a_long_rest() -> None:
    reps = handmade.rep_parts()[:2]
    long_rest = reps[1].model_copy(update={"rest_s": 40.0})
    bars = tempo_bars([reps[0], long_rest], [])
    widths = [[float(w) for w in re.findall(r'<rect[^>]* width="([\d.]+)%"', b.drawing)] for b in bars]
    assert widths[0][0] == widths[1][0]
    assert widths[0][0] / widths[0][2] == pytest.approx(1.5 / 1.9, abs=0.01)
    assert sum(widths[1]) == pytest.approx(100, abs=0.1)
    assert widths[1][3] == pytest.approx(100 * REST_CUT / (1 + REST_CUT), abs=0.1)
    assert "t-break" in bars[1].drawing and "t-break" not in bars[0].drawing
    assert "rest 40.0 s" in bars[1].words


def test_a_chart_has_a_line_for_each_bound_of_what_is_measured_in_it() -> None:
    leg = find_exercise("leg-extension")
    own = Member.model_validate({"exercises": {"leg-extension": {"range": {"at_least": 95, "at_most": 150}}}})
    made = handmade.analysis()
    drawings = [
        plots(replace(made, exercise=exercise))[0].drawing
        for exercise in (leg.model_copy(update={"checks": ()}), leg, with_member(leg, own, "left"))
    ]
    assert [drawing.count('class="s-limit"') for drawing in drawings] == [0, 2, 2]
    words = "knees past their own limit"
    assert f"{words} below 95" in drawings[2] and f"{words} above 150" in drawings[2]


def test_a_gap_in_a_signal_breaks_its_line() -> None:
    whole = handmade.analysis().signals["knee"]
    chart = signal_chart(whole, handmade.rep_parts(), [], [])
    assert chart.count("<polyline") == 2 and "nan" not in chart
    empty = Signal("knee", "deg", whole.time_s, np.full_like(whole.values, np.nan), whole.moment_half, 1.0)
    assert "Not known" in signal_chart(empty, [], [], [])
