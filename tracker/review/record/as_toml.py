"""The record as one TOML file. TOML has no word for "not known": such a key is simply absent."""

from __future__ import annotations

from collections.abc import Mapping

import tomli_w

from tracker.review.record.structure import Record


def render(record: Record) -> Mapping[str, bytes]:
    """`CODE.toml`: the sections of the structure under their own names."""
    text = tomli_w.dumps(record.model_dump(mode="json", exclude_none=True))
    return {f"{record.header.case}.toml": text.encode()}
