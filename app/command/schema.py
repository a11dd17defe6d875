"""The JSON Schema of report.json, as it stands in docs/: ``python -m app.command.schema`` prints it."""

from __future__ import annotations

import json
import sys

from shared.report import SetReport


def schema_text() -> str:
    """The schema of what is written, indented, byte for byte the same for the same model."""
    return json.dumps(SetReport.model_json_schema(mode="serialization"), indent=2, sort_keys=True) + "\n"


if __name__ == "__main__":
    sys.stdout.write(schema_text())
