"""Published and computed check values of fixtures/reference."""

import json
from pathlib import Path

REFERENCE = Path(__file__).resolve().parents[3] / "fixtures" / "reference"


def reference(number):
    """The `values` of the reference file that starts with this number."""
    (path,) = REFERENCE.glob(f"{number}_*.json")
    return json.loads(path.read_text(encoding="utf-8"))["values"]
