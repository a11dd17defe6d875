"""``plumbset proof``: reports with printed tags as a test of what the body alone tells."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from app.rules.proof import ClipProof

PAGE, NUMBERS = "proof.html", "proof-numbers.json"


def proof(
    results: Annotated[Path, typer.Argument(help="A folder with reports of check or batch, at any depth.")],
    share: Annotated[
        bool,
        typer.Option("--share", help="Also write the numbers alone, without clips or names, to pass on."),
    ] = False,
) -> None:
    """Hold what the body alone said against what printed tags said, over all clips that show one."""
    from app.page.proof_page import proof_page
    from app.rules.proof import agreements, numbers, trust
    from shared.errors import UsageError
    from vision.telling.files import write_text

    clips, passed_over = read_proofs(results)
    try:
        write_text(results / PAGE, proof_page(clips, passed_over))
        if share:
            write_text(results / NUMBERS, numbers(clips).model_dump_json(by_alias=True, indent=2) + "\n")
    except OSError as error:
        raise UsageError(f"{results} cannot be written to ({error.strerror}); copy it elsewhere.") from error
    typer.echo(trust(clips))
    for found in agreements(clips):
        limits = (
            "too few for limits" if found.low is None else f"limits {found.low:+.2f} to {found.high:+.2f}"
        )
        typer.echo(f"{found.what}: {found.n} pairs, body less tag {found.mean:+.2f}, {limits}")
    typer.echo(f"Proof: {results / PAGE}")
    if share:
        typer.echo(f"Numbers alone: {results / NUMBERS}")


def read_proofs(results: Path) -> tuple[list[ClipProof], int]:
    """What the reports under a folder prove, and how many show no tag; UsageError where there is none."""
    from pydantic import ValidationError

    from app.rules.proof import clip_proof
    from shared.errors import UsageError
    from shared.report import SetReport

    found, files = [], sorted(results.rglob("report.json"))
    if not files:
        raise UsageError(f"{results} holds no report.json; give the folder that check or batch wrote to.")
    for path in files:
        try:
            found.append(clip_proof(SetReport.from_json(path.read_text(encoding="utf-8"))))
        except (OSError, ValidationError, UnicodeDecodeError) as error:
            raise UsageError(f"{path} is no report that can be read; take it out of the folder.") from error
    clips = [one for one in found if one is not None]
    return clips, len(found) - len(clips)
