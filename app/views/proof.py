"""What the body alone said against what printed tags said, over the studio's own sets, and what follows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import streamlit as st
from markupsafe import escape

from app.page.proof_page import HEADS, clip_row, picture, pictured, row_of
from app.rules.proof import ClipProof, agreements, exercises_of, numbers, trust
from app.rules.words import day_words, title_of
from app.store.access import Access
from app.store.proofs import ProvenSet
from app.views import parts
from shared.errors import PlumbsetError
from shared.proof import FEW_CLIPS, Agreement, Proof
from vision.telling.words import counted

NONE_YET = (
    "No set with a printed tag on the stack or the lever has been checked yet. The tags to print lie "
    "under Film, with each machine: every set filmed with them tests the tool here."
)
WHAT = (
    "A set with a tag on the stack or the lever is a test: what the tool told from the body alone, less what "
    "the tag showed. Each dot is one difference over the mean of both; the line is the mean difference, and "
    "95 of 100 lie between the dashed lines."
)
HONEST = (
    "Limits of agreement: Bland and Altman 1986, Lancet 327:307, from memory. Repetitions of one set are "
    "alike, so the true limits may be wider. A tag's own times are good to about a frame and a half. Rests "
    "are those the load made on the stack within the set; the body alone does not show them."
)
CLIP_HEADS = ("Set", "Machine", "Count, body and load", "Lift, s", "Lower, s", "Range, degrees", "Rests")
USUAL = "As sure as on computer-drawn sets, where it was measured"
OWN = "No surer than on our own sets with tags"


def show(access: Access) -> None:
    """The one sentence, each machine with its picture, and every set."""
    found = access.proven()
    if not found:
        st.caption(NONE_YET)
        return
    clips = [one.proof for one in found]
    parts.html(f"<p><b>{escape(trust(clips))}</b></p>")
    st.caption(WHAT)
    for name in exercises_of(clips):
        _machine(name, [clip for clip in clips if clip.exercise == name])
    with st.expander("Set by set"):
        st.caption("Of lift, lower and range the largest difference in the set.")
        parts.html(_table(CLIP_HEADS, map(_set, found)))
    st.caption(HONEST)
    st.download_button(
        "The numbers alone",
        lambda: numbers(clips).model_dump_json(by_alias=True, indent=2),
        "proof-numbers.json",
        "application/json",
        on_click="ignore",
        help="By machine: no set, no name and no day.",
    )


def _machine(name: str, clips: Sequence[ClipProof]) -> None:
    st.header(f"{title_of(name)}, {counted(len(clips), 'set')}", divider=False)
    parts.html(_table(HEADS, map(row_of, agreements(clips))))
    drawn = "".join(parts.drawing(picture(p, one), _in_words(one), "agree") for one, p in pictured(clips))
    if drawn:
        parts.html(f'<div class="pl-agree">{drawn}</div>')


def _in_words(found: Agreement) -> str:
    what, _, mean, limits = row_of(found)
    return f"{what}, body less tag: mean {mean}, limits {limits}"


def _set(one: ProvenSet) -> tuple[str, ...]:
    told = clip_row(one.proof)
    day = day_words(one.done_on, parts.today())
    return (
        f"{one.member}, {day}",
        *(told[k] for k in ("machine", "count", "lift", "lower", "range", "rests")),
    )


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    first = "".join(f"<th>{escape(head)}</th>" for head in heads)
    lines = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f'<div class="scroll"><table><tr>{first}</tr>{lines}</table></div>'


def settings(access: Access, may: bool) -> None:
    """Whether later checks go by what the studio's own sets with tags proved."""
    kept = access.kept_proof()
    chosen = st.radio("Later checks are", [USUAL, OWN], int(kept is not None), disabled=not may)
    st.caption(
        "With the second, the give or take of times and angles grows to what your own sets with tags showed, "
        "and a flag needs that much more to spare. It never shrinks. The tab Proof shows the sets."
    )
    anew = kept is not None and st.button("Go by the sets with tags up to today", disabled=not may)
    if kept is not None:
        parts.html(f'<p class="pl-quiet">{escape(_kept_words(kept))}</p>')
    if (chosen == OWN) != (kept is not None) or anew:
        try:
            access.keep_proof(chosen == OWN)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.toast("Kept: it goes for checks from now on.")
        st.rerun()


def _kept_words(kept: Proof) -> str:
    told = sorted(kept.machines.items())
    enough = [f"{title_of(name)} ({one.clips})" for name, one in told if one.clips >= FEW_CLIPS]
    return f"Machines with at least {FEW_CLIPS} sets with tags: {', '.join(enough)}."
