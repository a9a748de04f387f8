"""Write the JSON Schema of protocol files from the models: `make schema`."""

from __future__ import annotations

import json

from terminal import ROOT
from tracker.core.loading.schema import protocol_schema

PATH = ROOT / "shared" / "protocol.schema.json"


def text() -> str:
    """The schema as it is written."""
    return json.dumps(protocol_schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    PATH.write_text(text(), "utf-8")
