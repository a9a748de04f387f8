"""`clockhour plan`: when a list of cases may end."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from tracker.commands.audit import facts_of, starts_of, up_to_date
from tracker.commands.common import archive_of, loaded, talk
from tracker.commands.exits import DONE, USAGE
from tracker.commands.extras import needing
from tracker.core.protocol import Protocol
from tracker.journal.shelf import ProtocolNotFound, ProtocolUnreadable, find_protocol, shelves

if TYPE_CHECKING:
    from tracker.audit.plans import Plan, Wanted

MOST_MINUTES: Final = 24 * 60
"""No session is booked, and no turnover typed, beyond a day."""


def plan(args: argparse.Namespace) -> int:
    """Say when the list may end, what it rests on, and what would change it."""
    if unfit := _unfit(args):
        talk(unfit)
        return USAGE
    with needing("audit"):
        from tracker.audit.engine import connected
        from tracker.audit.plans import as_json, plan_list
        from tracker.audit.questions import Sessions

        wanted, sessions = _wanted(args), Sessions(starts_of(args.lists))
        made = up_to_date(archive_of(args))
        with connected(made.folder) as tables:
            found = plan_list(
                tables, wanted, args.session, sessions,
                turnover=args.turnover, on_time=args.on_time, seed=args.seed,
            )  # fmt: skip
    if args.json:
        print(json.dumps(as_json(found), indent=2))
    else:
        _tell(found)
    return DONE


def _unfit(args: argparse.Namespace) -> str:
    """What is the matter with the command's words, as a sentence; empty where nothing is."""
    typed = [args.session, *([] if args.turnover is None else [args.turnover])]
    if not all(0 < minutes <= MOST_MINUTES for minutes in typed):
        return f"A session and a turnover are minutes above 0, and at most {MOST_MINUTES}."
    if args.seed < 0:
        return "A seed is a whole number from 0."
    if len(args.facts) not in (0, 1, len(args.protocols)):
        return "Give --facts once for all cases, or once for each."
    return ""


def _wanted(args: argparse.Namespace) -> Sequence[Wanted]:
    from tracker.audit.plans import Wanted

    facts = args.facts or [""]
    each = facts * len(args.protocols) if len(facts) == 1 else facts
    folders = shelves(archive_of(args).folder)
    files = {named: _file(named, folders) for named in dict.fromkeys(args.protocols)}
    return [
        Wanted(file.id if (file := files[p]) else p, facts_of([f]), file)
        for p, f in zip(args.protocols, each, strict=True)
    ]


def _file(named: str, folders: Sequence[Path]) -> Protocol | None:
    """A protocol by its name; past cases may have gone by one whose file is no longer on a shelf."""
    try:
        path, text = find_protocol(named, folders)
    except ProtocolUnreadable as refusal:
        talk(refusal)
        return None
    except ProtocolNotFound:
        return None
    return loaded(text, path.name)


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
