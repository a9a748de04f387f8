"""The door: parsing, wiring, exit codes. Standard output is data, standard error is talk.

Every command imports what it needs when it runs, so that help and lists load no screen and no engine.
"""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date
from importlib import import_module
from io import TextIOWrapper
from pathlib import Path
from typing import NoReturn

from tracker import __version__

Run = Callable[[argparse.Namespace], int]


def _lazily(where: str) -> Run:
    """The command `module:function` of the commands, imported only when it runs."""
    module, _, name = where.partition(":")

    def run(args: argparse.Namespace) -> int:
        command: Run = getattr(import_module(f"tracker.commands.{module}"), name)
        return command(args)

    return run


class Door(argparse.ArgumentParser):
    """The library's parser; what it cannot take it says in a sentence, without its own word for it."""

    def error(self, message: str) -> NoReturn:
        """Say why, and leave with the code of usage."""
        self.print_usage(sys.stderr)
        self.exit(2, f"{self.prog}: {message}\n")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day as 2026-01-31") from None


def parser() -> Door:
    """The whole command line."""
    top = Door(
        prog="clockhour",
        description="A timed record of vitreoretinal theatre. A record and learning aid, not a medical"
        " device: it replaces no checklist, count board or operation note.",
    )
    top.add_argument("--version", action="version", version=f"clockhour {__version__}")
    top.add_argument("--archive", type=Path, metavar="DIR", help="where cases live (or CLOCKHOUR_ARCHIVE)")
    top.set_defaults(run=_lazily("theatre:home"))
    commands = top.add_subparsers(dest="command", metavar="COMMAND")
    _theatre(commands)
    _day_list(commands)
    _review(commands)
    _record(commands)
    _archive(commands)
    _audit(commands)
    _plan(commands)
    _protocol(commands)
    _demo(commands)
    return top


Commands = argparse._SubParsersAction


def _command(commands: Commands[Door], name: str, does: str, run: str) -> Door:
    made = commands.add_parser(name, help=does, description=does)
    made.set_defaults(run=_lazily(run))
    return made


def _theatre(commands: Commands[Door]) -> None:
    theatre = _command(
        commands, "theatre", "start a case from a protocol, or go on with one", "theatre:theatre"
    )
    theatre.add_argument(
        "what", metavar="PROTOCOL|CASE", nargs="?", help="a protocol's id or file, or a code"
    )
    theatre.add_argument("--site", metavar="LETTERS", help="the letters that case codes begin with")
    watch = _command(commands, "watch", "look on at a live case, read-only", "theatre:watch")
    watch.add_argument("case", metavar="CASE")
    for one in (theatre, watch):
        one.add_argument("--theme", metavar="NAME", help="lamp, daylight, stark or plain")


def _day_list(commands: Commands[Door]) -> None:
    does = "the list of a day: show, check, new"
    verbs = commands.add_parser("list", help=does, description=does).add_subparsers(
        dest="verb", metavar="VERB", required=True
    )
    show = _command(verbs, "show", "print a list as it stands", "list:show")
    show.add_argument("--all", action="store_true", help="name every list there is")
    check = _command(verbs, "check", "say everything that is to be mended in a list", "list:check")
    new = _command(verbs, "new", "make a list, by questions or by what is said here", "list:new")
    for one in (show, check, new):
        one.add_argument("day", metavar="DAY", nargs="?", help="as 2026-12-01 or 2026-12-01-pm (today)")
    new.add_argument("--start", default="08:30", metavar="HH:MM", help="planned start of the session (08:30)")
    new.add_argument("--session", type=float, metavar="MIN", help="minutes booked")
    new.add_argument("--station", metavar="NAME", help="which theatre, no person's name")
    new.add_argument(
        "--place", action="append", default=[], metavar="PROTOCOL[,K=V...]",
        help="a case: minutes=180, start=08:30, code=A-0007 and facts as eye=left; once a case, in order",
    )  # fmt: skip
    sheet = _command(
        commands, "sheet", "the register sheet of a case, or the debrief of a day", "sheet:sheet"
    )
    sheet.add_argument("case", metavar="CASE", nargs="?")
    sheet.add_argument("--day", nargs="?", const="", metavar="DAY", help="of the list of a day (today)")
    sheet.add_argument("--to", type=Path, metavar="DIR", help="write text and PDF")


def _review(commands: Commands[Door]) -> None:
    review = _command(commands, "review", "the timeline of a case, and its debrief", "review:review")
    review.add_argument("case", metavar="CASE")
    review.add_argument("--theme", metavar="NAME", help="lamp, daylight, stark or plain")
    film = review.add_argument_group("recordings", "entered into the debrief; - where a thing is not known")
    film.add_argument("--recording", nargs=2, action="append", default=[], metavar=("FILE", "LENGTH"))
    film.add_argument("--part", nargs=3, action="append", default=[], metavar=("FILE", "FROM", "TO"))
    film.add_argument(
        "--mark", nargs=3, action="append", default=[], metavar=("FILE", "LOG_TIME", "FILE_TIME")
    )


def _record(commands: Commands[Door]) -> None:
    record = _command(commands, "record", "write the timed record of a case", "record:record")
    record.add_argument("case", metavar="CASE")
    record.add_argument("--to", type=Path, required=True, metavar="DIR")
    record.add_argument("--as", dest="formats", default="toml,md,csv,json", metavar="FORMATS")
    record.add_argument("--without-notes", action="store_true", help="leave free words out")
    record.add_argument("--roles-general", action="store_true", help="tell staff by post alone")
    film = record.add_argument_group("films", "for vtt, srt, ffmetadata, chapters and cuts")
    film.add_argument("--pre", action="append", default=[], metavar="[STEP=]S", help="seconds shown before")
    film.add_argument("--post", action="append", default=[], metavar="[STEP=]S", help="seconds shown after")
    film.add_argument(
        "--chapter", action="append", default=[], metavar="STEP", help="chapters of these steps"
    )
    film.add_argument("--min-chapter", default="10", metavar="S", help="shortest chapter, in seconds (10)")
    film.add_argument("--budget", default="8", metavar="MIN", help="minutes of the cut (8), or all")


def _archive(commands: Commands[Door]) -> None:
    does = "the cases on disk: list, verify, mend, follow up, export, import, synthesise"
    archive = commands.add_parser("archive", help=does)
    verbs = archive.add_subparsers(dest="verb", metavar="VERB", required=True)
    _command(verbs, "list", "every case and what state its file is in", "archive:list_cases")
    verify = _command(verbs, "verify", "check every line; name the first broken one", "archive:verify")
    verify.add_argument("cases", metavar="CASE", nargs="*")
    mend = _command(verbs, "mend", "set what cannot be verified aside, and go on", "archive:mend")
    mend.add_argument("case", metavar="CASE")
    export = _command(verbs, "export", "copy a case with its digest", "archive:export")
    export.add_argument("case", metavar="CASE")
    export.add_argument("--to", type=Path, required=True, metavar="DIR")
    invent = _command(verbs, "synthesise", "invented cases whose truth is known", "synthesise:synthesise")
    invent.add_argument("--cases", type=int, required=True, metavar="N")
    invent.add_argument("--seed", type=int, default=12, metavar="S")
    invent.add_argument("--protocol", default="complex-pvr", metavar="FILE|ID")
    take_in = _command(verbs, "import", "take in an exported case", "archive:take_in")
    take_in.add_argument("file", type=Path, metavar="FILE")
    _followup(verbs)


def _followup(verbs: Commands[Door]) -> None:
    does = "visits after the operation: enter, put right, strike, or show"
    book = _command(verbs, "followup", does, "followup:followup")
    book.add_argument("case", metavar="CASE")
    book.add_argument("--date", metavar="DAY", help="day of the visit, as 2026-03-31")
    book.add_argument("--attached", choices=("yes", "partly", "no", "unknown", "-"), help="the retina")
    book.add_argument("--acuity", metavar="TEXT", help="as written: 6/12, 20/40, logMAR 0.3, CF, HM, PL, NPL")
    book.add_argument("--pressure", metavar="MMHG", help="intra-ocular pressure")
    book.add_argument("--oil", choices=("in", "out", "-"), help="in the eye on that day, or not")
    book.add_argument("--oil-out", metavar="DAY", help="when oil was taken out")
    book.add_argument(
        "--operation", choices=("detachment", "other", "-"), help="operated on again, and for what"
    )
    book.add_argument("--note", metavar="TEXT", help="no patient identifiers")
    book.add_argument("--role", default="clinic", metavar="ROLE", help="who enters, by role (clinic)")
    book.add_argument("--amend", type=int, metavar="N", help="put entry N right: what is given replaces it")
    book.add_argument("--strike", type=int, metavar="N", help="entry N is void, and stays legible")
    book.add_argument("--why", default="", metavar="TEXT", help="reason for putting right or striking")
    book.add_argument("--sure", action="store_true", help="enter what was questioned as it is")


def _audit(commands: Commands[Door]) -> None:
    audit = _command(commands, "audit", "what the department asks of its cases", "audit:audit")
    audit.add_argument("--protocol", metavar="ID", help="cases of this protocol only")
    audit.add_argument(
        "--versions", default="", metavar="V[,V]", help="of this version, or from one to another"
    )
    audit.add_argument("--from", dest="first_day", type=_day, metavar="DATE", help="2026-01-31")
    audit.add_argument("--until", dest="last_day", type=_day, metavar="DATE")
    audit.add_argument("--facts", action="append", default=[], metavar="K=V,...", help="with these facts")
    _lists(audit)
    audit.add_argument(
        "--session", type=float, default=480.0, metavar="MIN", help="minutes each is booked (480)"
    )
    audit.add_argument(
        "--failures", default="0.14", metavar="P0[,P1]", help="share expected, and to be noticed (0.14,0.28)"
    )
    audit.add_argument("--question", action="append", default=[], metavar="KEY", help="only this, as text")
    audit.add_argument("--to", type=Path, metavar="DIR", help="write the report: HTML, PDF, flat files")
    audit.add_argument("--engine", choices=("duckdb", "spark"), default="duckdb")
    audit.add_argument("--master", default="local[2]", metavar="M", help="where Spark runs (local[2])")
    audit.add_argument("--theme", metavar="NAME", help="lamp, daylight, stark or plain")


def _lists(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--lists", default="08:30", metavar="HH:MM,...", help="when lists are planned to begin (08:30)"
    )


def _plan(commands: Commands[Door]) -> None:
    plan = _command(commands, "plan", "when a list of cases may end", "plan:plan")
    plan.add_argument("protocols", metavar="PROTOCOL", nargs="+", help="one a case, in order")
    plan.add_argument("--session", type=float, required=True, metavar="MIN", help="minutes booked")
    plan.add_argument(
        "--facts", action="append", default=[], metavar="K=V,...", help="once for all cases, or once a case"
    )
    _lists(plan)
    plan.add_argument("--turnover", type=float, metavar="MIN", help="instead of the past turnovers")
    plan.add_argument("--on-time", action="store_true", help="without a late start")
    plan.add_argument("--seed", type=int, default=12, help="of the draws (12)")
    plan.add_argument("--json", action="store_true", help="as JSON")


def _protocol(commands: Commands[Door]) -> None:
    protocol = commands.add_parser("protocol", help="protocol files: list, show, check, new")
    verbs = protocol.add_subparsers(dest="verb", metavar="VERB", required=True)
    _command(verbs, "list", "the protocols there are", "protocol:list_all")
    show = _command(verbs, "show", "print a protocol, stage by stage", "protocol:show")
    check = _command(verbs, "check", "say everything that is to be mended in a file", "protocol:check")
    for one in (show, check):
        one.add_argument("file", metavar="FILE|ID")
    new = _command(verbs, "new", "begin one of your own from one there is", "protocol:new")
    new.add_argument("id", metavar="ID")
    new.add_argument("--from", dest="source", default="complex-pvr", metavar="FILE|ID")


def _demo(commands: Commands[Door]) -> None:
    demo = _command(commands, "demo", "an invented case from end to end", "demo:demo")
    demo.add_argument("--to", type=Path, default=Path("clockhour-demo"), metavar="DIR")
    demo.add_argument("--whole", action="store_true", help="in a terminal: play all of it, not its moments")
    demo.add_argument("--speed", type=float, help="the same, at so many case seconds a second (120)")


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code."""
    args = parser().parse_args(words)
    run: Run = args.run
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # a letter that the locale has no code for is told by number
            with suppress(OSError):  # a terminal put in a file's place cannot be asked where it stands
                stream.reconfigure(errors="backslashreplace")
    try:
        return run(args)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        from tracker.commands.common import talk
        from tracker.commands.exits import NOT_KEPT

        talk("Stopped. A file that was being written is whole, or as it was before.")
        return NOT_KEPT
    except Exception as refusal:
        from tracker.commands.common import talk
        from tracker.commands.exits import WENT_WRONG, exit_code
        from tracker.journal.trouble import Trouble

        if isinstance(refusal, Trouble):
            talk(refusal)
            return exit_code(refusal)
        if sys.flags.dev_mode:
            raise
        talk(_went_wrong(refusal))
        return WENT_WRONG


def _went_wrong(error: Exception) -> str:
    """A sentence for what should never happen: where, not what was in memory then."""
    places = traceback.extract_tb(error.__traceback__)
    ours = [place for place in places if "tracker" in Path(place.filename).parts]
    where = f", {Path(ours[-1].filename).name} line {ours[-1].lineno}" if ours else ""
    return (
        f"Clockhour went wrong and ended ({type(error).__name__}{where})."
        " What was entered before is on disk: open the case again, it goes on."
    )
