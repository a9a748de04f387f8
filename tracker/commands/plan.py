"""`clockhour plan`: when a list of cases may end."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tracker.commands.audit import facts_of, up_to_date
from tracker.commands.common import archive_of, talk
from tracker.commands.exits import DONE, USAGE
from tracker.commands.extras import needing
from tracker.core.loading import load_protocol
from tracker.journal.shelf import ProtocolNotFound, find_protocol, shelves

if TYPE_CHECKING:
    from tracker.audit.plans import Plan, Wanted


def plan(args: argparse.Namespace) -> int:
    """Say when the list may end, what it rests on, and what would change it."""
    if args.session <= 0 or (args.turnover is not None and args.turnover <= 0):
        talk("A session and a turnover are minutes above 0.")
        return USAGE
    if len(args.facts) not in (0, 1, len(args.protocols)):
        talk("Give --facts once for all cases, or once for each.")
        return USAGE
    with needing("audit"):
        from tracker.audit.engine import connected
        from tracker.audit.plans import as_json, plan_list

        wanted = _wanted(args)
        made = up_to_date(archive_of(args))
        with connected(made.folder) as tables:
            found = plan_list(
                tables, wanted, args.session,
                turnover=args.turnover, on_time=args.on_time, seed=args.seed,
            )  # fmt: skip
    if args.json:
        print(json.dumps(as_json(found), indent=2))
    else:
        _tell(found)
    return DONE


def _wanted(args: argparse.Namespace) -> Sequence[Wanted]:
    from tracker.audit.plans import Wanted

    facts = args.facts or [""]
    each = facts * len(args.protocols) if len(facts) == 1 else facts
    folders = shelves(archive_of(args).folder)
    return [Wanted(_ident(p, folders), facts_of([f])) for p, f in zip(args.protocols, each, strict=True)]


def _ident(named: str, folders: Sequence[Path]) -> str:
    """The id of a protocol; past cases may have gone by one whose file is no longer on a shelf."""
    try:
        path, text = find_protocol(named, folders)
    except ProtocolNotFound:
        return named
    protocol = load_protocol(text, path.name).protocol
    return protocol.id if protocol else named


def _tell(found: Plan) -> None:
    from tracker.audit.plans import grids, notes
    from tracker.audit.report.as_text import WIDTH, grid_lines
    from tracker.screen.lines import wrap

    lines = [part for said in found.populations for part in wrap(f"Compared with {said}.", WIDTH)]
    for grid in grids(found):
        lines += ["", *grid_lines(grid)]
    lines.append("")
    lines += [part for note in notes(found) for part in wrap(note, WIDTH)]
    print("\n".join(lines))
