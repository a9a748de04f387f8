"""Formats that need the libraries of the extra `report`: loaded when first asked for, or a clear sentence."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module

from tracker.journal.trouble import Trouble
from tracker.review.record.structure import Record

Render = Callable[[Record], Mapping[str, bytes]]


class ExtraMissing(Trouble):
    """A library that a format needs is not installed; the text says how to install it."""


def with_report(module: str, what: str) -> Render:
    """The `render` of a module beside this one, imported when it first runs.

    Raises:
        ExtraMissing: when it runs and a library of the extra is not there; `what` names the format.
    """

    def render(record: Record) -> Mapping[str, bytes]:
        try:
            found = import_module(f"tracker.review.record.{module}")
        except ModuleNotFoundError as missing:
            if (missing.name or "").startswith("tracker"):
                raise
            sentence = f"The {what} record needs the report extra: pip install 'clockhour[report]'"
            raise ExtraMissing(sentence) from missing
        made: Mapping[str, bytes] = found.render(record)
        return made

    return render
