"""The documented format of report.json is that of the model."""

from __future__ import annotations

import json
from pathlib import Path

import handmade

from app.command.schema import schema_text

DOCUMENT = Path(__file__).parents[2] / "docs" / "report-schema.json"


def test_the_document_is_current() -> None:
    assert DOCUMENT.read_text(encoding="utf-8") == schema_text(), "run: make schema"


def test_every_field_of_a_report_is_documented() -> None:
    schema = json.loads(schema_text())
    written = json.loads(handmade.analysis().report.to_json())
    assert set(written) == set(schema["properties"]) >= set(schema["required"])
    assert schema["properties"]["schema"]["const"] == written["schema"] == "plumbset.set-report/1"
    assert set(written["findings"][0]) == set(schema["$defs"]["FindingPart"]["properties"])
