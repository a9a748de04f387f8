"""`clockhour archive synthesise`: invented cases whose truth is known."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tracker.commands.common import archive_of, loaded, talk
from tracker.commands.exits import DONE, FINDINGS, USAGE
from tracker.commands.extras import needing
from tracker.journal.disk import RealDisk, place
from tracker.journal.shelf import find_protocol, shelves
from tracker.journal.trouble import NotKept, plainly

FOLDER = "invented"


def synthesise(args: argparse.Namespace) -> int:
    """Invent cases, add them to the archive, and write down what is true of them."""
    if args.cases < 1:
        talk("At least one case is needed: --cases 60.")
        return USAGE
    if args.seed < 0:
        talk("A seed is a whole number from 0 on: --seed 5.")
        return USAGE
    archive = archive_of(args)
    path, text = find_protocol(args.protocol, shelves(archive.folder))
    if loaded(text, path.name) is None:
        return FINDINGS
    with needing("audit"):
        from tracker.audit.synthesis import synthesise as invent
        from tracker.screen.progress import progress
    with plainly(NotKept, "The archive cannot be written"), progress("Inventing cases") as told:
        RealDisk().make_folder(archive.folder)
        made = invent(archive, text, args.cases, args.seed, told=told)
        truth = _write_truth(archive.folder, made)
    drawn = made.drawn
    kind = "as journals" if made.as_journals else "straight to tables, without journals"
    print(
        f"{drawn.cases:,} invented cases, {drawn.first_code} to {drawn.last_code}, seed {made.seed}, {kind}."
    )
    print(
        f"{drawn.spans:,} spans; {drawn.told:,} entries, {drawn.late:,} of them late; cases:"
        f" {drawn.midnights:,} past midnight, {drawn.fellow_cases:,} begun by a fellow,"
        f" {sum(drawn.slips.values()):,} with a slip."
    )
    print(f"What is true of them: {truth}")
    return DONE


def _write_truth(folder: Path, made: Any) -> Path:
    """What was drawn from, and what was drawn, as JSON beside the cases."""
    disk, kept = RealDisk(), folder / FOLDER
    disk.make_folder(kept)
    path = kept / f"{made.drawn.first_code}-to-{made.drawn.last_code}.json"
    truth = {name: _plain(value) for name, value in _fields(made.truth).items()}
    told = {"seed": made.seed, "truth": truth, "drawn": asdict(made.drawn)}
    place(disk, path, f"{json.dumps(told, indent=2, default=dict)}\n".encode())
    return path


def _fields(value: Any) -> dict[str, Any]:
    return {name: getattr(value, name) for name in value.__dataclass_fields__}


def _plain(value: Any) -> Any:
    return dict(value) if hasattr(value, "items") else value
