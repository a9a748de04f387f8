"""The record as one JSON file."""

from __future__ import annotations

import json
from collections.abc import Mapping

from tracker.review.record.structure import Record


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE.json`: the sections of the structure under their own names, `null` for what is not known."""
    text = json.dumps(record.model_dump(mode="json"), ensure_ascii=False, allow_nan=False, indent=2)
    return {f"{record.header.case}.json": f"{text}\n".encode()}
