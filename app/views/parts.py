"""What every page starts from: who is asking, the look, the heading, and text that stays text."""

from __future__ import annotations

import base64
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import streamlit as st
from markupsafe import Markup, escape
from streamlit.delta_generator import DeltaGenerator

from app.page.studio import COOKIE
from app.page.theme import ASSETS, SIZES, palette
from app.rules import told
from app.rules.words import day_words
from app.store.base import day_of
from shared.errors import PlumbsetError
from shared.exercise import Exercise
from vision.common.cautions import NO_ADVICE, all_cautions, three_cautions
from vision.telling.charts import VERDICT_WORDS

#: Rules for drawings, apart from the page's own: a drawing is an image and inherits nothing.
_DRAWN = (ASSETS / "drawings.css").read_text(encoding="utf-8")

_JOINER = "\u2060"


def look() -> None:
    """The page's style sheet in the colours of the visitor's theme."""
    css = (ASSETS / "page.css").read_text(encoding="utf-8")
    st.html(f"<style>{_colours()}{css}</style>")


def narrow() -> None:
    """A member's pages stay a hand wide on a large screen: they are read from top to bottom."""
    st.html("<style>.stMainBlockContainer{max-width:46rem!important}</style>")


def _colours() -> str:
    kind = "dark" if st.context.theme.type == "dark" else "light"
    named = palette(kind) | SIZES
    return ":root{" + "".join(f"--{name}:{value};" for name, value in named.items()) + "}"


def plain(text: str) -> str:
    """What a person or a file gave, for wherever the page would read Markdown, ``help`` too: text alone.

    Signs of Markdown and of entities are escaped, at the start of a line those of lists and headings as well.
    The page links bare addresses, and draws icons by name, in what is already unescaped: a joiner that nobody
    sees keeps them apart.
    """
    signs = re.sub(r"([\\`*_\[\]<>$~&#|])", r"\\\1", text)
    starts = re.sub(r"(?m)^(\s*\d{0,9})([-+=.)])", r"\1\\\2", signs)
    return re.sub(r"(?i)(?<=[:@])(?=\S)|(?<=www)(?=\.)", _JOINER, starts)


def mark(verdict: str) -> Markup:
    """The shape of a verdict, with its word for those who cannot see it."""
    word = escape(VERDICT_WORDS[verdict])
    return Markup(f'<i class="mk {escape(verdict)}" role="img" aria-label="{word}" title="{word}"></i>')


def drawing(svg: str, words: str, kind: str = "") -> Markup:
    """A drawing as an image in the visitor's colours; the page lets no drawing in as markup."""
    styled = str(svg).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    styled = styled.replace(">", f"><style>{_colours()}{_DRAWN}</style>", 1)
    data = base64.b64encode(styled.encode()).decode("ascii")
    return Markup(
        f'<img class="drawn {escape(kind)}" alt="{escape(words)}" src="data:image/svg+xml;base64,{data}">'
    )


def heading(title: str, under: str = "") -> None:
    """The page's name beside the plumb line."""
    below = f"<p>{escape(under)}</p>" if under else ""
    html(f'<div class="pl-top"><i class="plumb"></i><div><h1>{escape(title)}</h1>{below}</div></div>')


def html(content: str, into: DeltaGenerator | None = None) -> None:
    """Markup of ours; whatever people wrote in it has been escaped by the caller."""
    (into or st).html(f'<div class="pl">{content}</div>')


def stop_notice(where: str = "") -> None:
    """The notice that stands before everything else where pain was told."""
    place = f"<p>Where: {escape(where)}</p>" if where else ""
    html(
        f'<div class="pl-stop" role="alert">{mark("flag")}{escape(told.STOP)}{place}'
        "<p>Chest pain or pressure, or fainting: call for emergency help. Pain that stays: see a doctor or "
        "physiotherapist. This is not medical advice.</p></div>"
    )


def to_top() -> None:
    """Scroll up: what has just been said stands at the top of the page."""
    up = "document.querySelector('[data-testid=stMain]')?.scrollTo(0, 0)"
    st.html(f"<script>{up}</script>", unsafe_allow_javascript=True)


def cautions(exercise: Exercise | None = None) -> None:
    """Three cautions where a person acts, the machine's own first, and all of them a touch away."""
    three, every = _listed(three_cautions(exercise)), _listed(all_cautions(exercise))
    html(
        f'<div class="pl-act" role="note"><b>Before the next set</b>{three}'
        f"<details><summary>All cautions. {escape(NO_ADVICE)}</summary>{every}</details></div>"
    )


def steps_html(exercise: Exercise, getting_in: Iterable[str]) -> str:
    """How to get in and out of a machine, step by step."""
    kept = {"Getting in": list(getting_in), "Getting out": exercise.getting_out}
    return "".join(f"<p><b>{name}</b></p>{_listed(steps, 'ol')}" for name, steps in kept.items() if steps)


def _listed(lines: Iterable[str], kind: str = "ul") -> str:
    return f"<{kind}>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + f"</{kind}>"


def tabs(key: str, shown: Mapping[str, Callable[[], None]]) -> None:
    """Tabs by their names, of which only the open one does its work; the address may name which, once."""
    asked = st.query_params.get("tab")
    if asked in shown:
        st.session_state[key] = asked
        del st.query_params["tab"]
    for tab, show in zip(st.tabs(list(shown), key=key, on_change="rerun"), shown.values(), strict=True):
        if tab.open:
            with tab:
                show()


def said_wrong(error: PlumbsetError) -> None:
    """One clear sentence."""
    st.error(plain(str(error)))


def number_in_address(name: str) -> int | None:
    """A number from the page's address, None where there is none.

    What it changed to is written back: a link to the page that is open already leaves the browser's address
    as it was, and the next touch would lead back to where that says.
    """
    text = st.query_params.get(name, "")
    if text != st.session_state.get(f"address-{name}", ""):
        others = {key: value for key, value in st.query_params.items() if key != name}
        st.query_params.from_dict({**others, name: text} if text else others)
    st.session_state[f"address-{name}"] = text
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def moment(at: datetime) -> str:
    """``today, 14:05`` by the visitor's clock, by UTC where that is not known."""
    try:
        zone: tzinfo = ZoneInfo(st.context.timezone or "")
    except (ValueError, OSError, ZoneInfoNotFoundError):
        zone = UTC
    here, now = at.astimezone(zone), today_utc().astimezone(zone)
    return f"{day_words(here.date(), now.date())}, {here:%H:%M}{' UTC' if zone is UTC else ''}"


def today() -> date:
    """The studio's day."""
    return day_of(today_utc())


def today_utc() -> datetime:
    """The present moment."""
    return datetime.now(UTC)


def sign_out() -> None:
    """The way out, where someone has signed in."""
    if COOKIE in st.context.cookies:
        html('<p><a href="/leave" target="_self">Sign out on this device</a></p>')


def picture_address(data: bytes) -> str:
    """A picture inside the page itself: it has no address that another person could ask for."""
    return "data:image/jpeg;base64," + base64.b64encode(data).decode("ascii")
