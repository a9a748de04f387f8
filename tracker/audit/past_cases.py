"""The closed cases of an archive, for what may be left of a running one: of its tables, and the latest journals."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from tracker.audit.remaining_case import MOST, Past, past_of
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.codes import latest
from tracker.journal.trouble import Trouble

if TYPE_CHECKING:
    from tracker.audit.blocks import Manifest

FROM_JOURNALS: Final = 60
"""Of the journals that tables do not hold, the latest so many of each site are read, and no more."""


def past_cases(archive: Archive, protocol: str) -> Sequence[Past] | None:
    """The closed cases of a protocol; None where they cannot be read, or the extra is not installed."""
    try:
        import_module("tracker.audit.statistics.remaining")
        known = _known(archive.folder)
        held = {
            code
            for manifest in known.values()
            for code, journal in manifest.journals.items()
            if not journal.open
        }
        newer = [code for code in archive.codes() if code not in held]
        return (*_from_tables(archive.folder, known, protocol), *_from_journals(archive, newer, protocol))
    except (ImportError, OSError, ValueError, Trouble):
        return None


def _known(folder: Path) -> Mapping[str, Manifest]:
    """What each block of the tables was made from; without those that are made in another form."""
    try:
        from tracker.audit import blocks, tables  # noqa: PLC0415 - brings an engine's library, which may be wanting
    except ImportError:
        return {}
    at = folder / tables.FOLDER
    names = (path.stem for path in (at / blocks.MANIFESTS).glob("*.json"))
    found = {name: blocks.read_manifest(at, name) for name in names}
    return {name: manifest for name, manifest in found.items() if manifest is not None}


def _from_journals(archive: Archive, codes: Sequence[str], protocol: str) -> Iterator[Past]:
    for code in latest(codes, FROM_JOURNALS):
        try:
            case = case_of(archive.read(code), code)
        except Trouble:
            continue
        past = past_of(case)
        if past is not None and case.protocol.id == protocol:
            yield past


def _from_tables(folder: Path, known: Collection[str], protocol: str) -> Iterator[Past]:
    if not known:
        return
    import pyarrow.dataset as ds  # noqa: PLC0415 - only where there are tables

    at = folder / "tables"
    asked = ["code", "day", "opened_minute", "ended_minute", "invented"]
    closed = (ds.field("protocol") == protocol) & (ds.field("ending") == "usual")
    cases: list[dict[str, Any]] = _dataset(ds, at / "cases", known).to_table(asked, filter=closed).to_pylist()
    cases.sort(key=lambda row: (row["day"], row["opened_minute"], row["code"]))
    kinds = ([row for row in cases if row["invented"] is kind] for kind in (False, True))
    recent = {row["code"]: row for kind in kinds for row in kind[-MOST:] if row["ended_minute"] is not None}
    if not recent:
        return
    firsts: dict[str, dict[str, float]] = {code: {} for code in recent}
    wanted = ds.field("code").isin(list(recent)) & ds.field("first_minute").is_valid()
    steps = _dataset(ds, at / "steps", known).to_table(["code", "stage", "first_minute"], filter=wanted)
    for code, stage, minute in zip(*(steps[name].to_pylist() for name in steps.column_names), strict=True):
        if stage is not None:
            firsts[code][stage] = min(minute, firsts[code].get(stage, minute))
    for code, row in recent.items():
        yield Past(firsts[code], row["ended_minute"] - row["opened_minute"], row["invented"])


def _dataset(ds: Any, folder: Path, known: Collection[str]) -> Any:
    return ds.dataset([str(folder / f"{block}.parquet") for block in sorted(known)], format="parquet")
