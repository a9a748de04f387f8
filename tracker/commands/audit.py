"""`clockhour audit`: what the department asks of its cases, as text, on a screen, or as a report."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import date, time
from shutil import get_terminal_size
from typing import TYPE_CHECKING, Final

from tracker.commands.common import archive_of, has_terminal, settings_of, talk
from tracker.commands.exits import DONE, USAGE
from tracker.commands.extras import needing
from tracker.journal.archive import Archive
from tracker.journal.trouble import Trouble
from tracker.screen.progress import progress
from tracker.screen.station import StationClock

if TYPE_CHECKING:
    from tracker.audit.answers.form import Audit
    from tracker.audit.outcomes import Shares
    from tracker.audit.population import Filters
    from tracker.audit.questions import Sessions
    from tracker.audit.tables import Made

DAY = 1440


_FLAT: Final = (
    "The flat files beside this report have one row a case, a span, a visit: pseudonymised, and personal data for"
    " whoever holds the key list."
)


def audit(args: argparse.Namespace) -> int:
    """Bring the tables up to date, and answer."""
    with needing("audit"):
        from tracker.audit.report.book import QUESTIONS

        if unknown := [key for key in args.question if key not in QUESTIONS]:
            talk(f"No such question: {', '.join(unknown)}. There are {', '.join(QUESTIONS)}.")
            return USAGE
        filters = _filters(args)
        _make_ready(args)
        made = up_to_date(archive_of(args))
        if args.to is not None:
            return _to_folder(args, filters, made)
        if has_terminal() and not args.question:
            return _on_screen(args, filters, made)
        return _as_text(args, filters, made)


def _make_ready(args: argparse.Namespace) -> None:
    """See that a report can be written before anything is asked: asking may take its time."""
    if args.to is None:
        return
    with needing("report"):
        from tracker.audit.report.files import make_ready
    make_ready(args.to)


def up_to_date(archive: Archive) -> Made:
    """The tables of an archive, brought up to date; what is left out of them is said on standard error."""
    from tracker.audit.tables import bring_up_to_date

    with progress("Folding journals") as told:
        made = bring_up_to_date(archive, told=told)
    talk(*_left_out(made))
    return made


def _left_out(made: Made) -> Iterator[str]:
    for out in made.left_out:
        yield f"{out.name} is left out: {out.why}"
    for code in made.torn:
        yield f"{code}: its last line was unfinished and is left out."


def _filters(args: argparse.Namespace) -> Filters:
    from tracker.audit.population import Filters

    first, comma, last = (part.strip() for part in args.versions.partition(","))
    return Filters(
        protocol=args.protocol,
        first_version=first or None,
        last_version=(last if comma else first) or None,
        first_day=args.first_day,
        last_day=args.last_day,
        facts=facts_of(args.facts),
    )


def _sessions(args: argparse.Namespace) -> Sessions:
    """When lists begin and how long each is booked.

    Raises:
        Trouble: a word is no time of the day, or there are no minutes.
    """
    from tracker.audit.questions import Sessions

    if not 0 < args.session <= DAY:
        raise Trouble(f"A session is booked for 1 to {DAY} minutes: --session 480.")
    return Sessions(starts_of(args.lists), args.session)


def _failures(args: argparse.Namespace) -> Shares:
    """The share of failures expected, and the share to be noticed, twice as large unless told.

    Raises:
        Trouble: they are no shares, or not in this order.
    """
    from tracker.audit.outcomes import Shares

    first, comma, second = args.failures.partition(",")
    with suppress(ValueError):
        expected = float(first)
        noticed = float(second) if comma else 2 * expected
        if 0 < expected < noticed < 1:
            return Shares(expected, noticed)
    raise Trouble(
        "--failures takes the share expected and the share to be noticed, above 0, in this order and below 1:"
        " --failures 0.14,0.28; without the second it is twice the first."
    )


def starts_of(told: str) -> tuple[float, ...]:
    """The minutes after midnight at which lists begin, from times like `08:30,13:30`.

    Raises:
        Trouble: a word is no time of the day.
    """
    return tuple(map(_minute, told.split(",")))


def _minute(word: str) -> float:
    try:
        told = time.fromisoformat(word.strip())
    except ValueError:
        raise Trouble(f"{word} is no time of the day: write it as 08:30.") from None
    return told.hour * 60.0 + told.minute


def facts_of(told: Sequence[str]) -> Mapping[str, tuple[str, ...]]:
    """Case facts from words like `anaesthetic=general,lens=phakic`; one named twice may be either.

    Raises:
        Trouble: a word is no fact with a value.
    """
    facts: dict[str, tuple[str, ...]] = {}
    for word in (w.strip() for each in told for w in each.split(",") if w.strip()):
        fact, equals, value = (part.strip() for part in word.partition("="))
        if not (fact and equals and value):
            raise Trouble(f"{word} is no case fact: write it as anaesthetic=general.")
        facts[fact] = (*facts.get(fact, ()), value)
    return facts


@contextmanager
def _asked(args: argparse.Namespace, filters: Filters, made: Made) -> Iterator[Audit]:
    from tracker.audit.answers.form import audit_of
    from tracker.audit.conventions import convention_of
    from tracker.audit.engine import NoEngine, connected

    try:
        with connected(made.folder, args.engine, args.master) as tables:
            convention = convention_of(archive_of(args).folder)
            yield audit_of(tables, made.folder, filters, convention, _sessions(args), _failures(args))
    except NoEngine as missing:
        raise Trouble(str(missing)) from missing


def _lines(args: argparse.Namespace, made: Made, asked: Audit) -> tuple[str, ...]:
    """What a report says of the cases and the tables it rests on."""
    kinds = sorted({version.protocol for version in asked.versions})
    engine = "DuckDB" if args.engine == "duckdb" else f"Apache Spark at {args.master}"
    left = [out.name for out in made.left_out]
    return (
        *_named(
            "Figures of whole cases mix these protocols, and --protocol asks for one",
            kinds if len(kinds) > 1 else (),
        ),
        f"Asked through {engine}.",
        *_named(
            "1 file of the archive is left out"
            if len(left) == 1
            else f"{len(left)} files of the archive are left out",
            left,
        ),
        *_named("Of these journals the unfinished last line is left out", made.torn),
        *((_FLAT,) if args.to is not None else ()),
    )


def _named(what: str, names: Sequence[str]) -> tuple[str, ...]:
    return (f"{what}: {', '.join(names)}.",) if names else ()


def _today() -> date:
    return StationClock()().at.date()


def _width() -> int:
    """As wide as the terminal, or `COLUMNS`, says; lines much longer than the usual are hard to read."""
    from tracker.audit.report.as_text import WIDTH

    return min(max(get_terminal_size((WIDTH, 0)).columns, 40), 120)


def _as_text(args: argparse.Namespace, filters: Filters, made: Made) -> int:
    from tracker.audit.report.as_text import as_text
    from tracker.audit.report.book import report

    with _asked(args, filters, made) as asked, progress("Asking") as told:
        text = as_text(report(asked, _today(), args.question, _lines(args, made, asked), told), _width())
    print(text)
    return DONE


def _to_folder(args: argparse.Namespace, filters: Filters, made: Made) -> int:
    from tracker.audit.report.book import report
    from tracker.audit.report.files import write

    with _asked(args, filters, made) as asked:
        with progress("Asking") as told:
            found = report(asked, _today(), args.question, _lines(args, made, asked), told)
        with progress("Writing") as told:
            paths = write(found, asked, args.to, told)
    for path in paths:
        print(str(path))
    return DONE


def _on_screen(args: argparse.Namespace, filters: Filters, made: Made) -> int:
    from tracker.audit.conventions import convention_of
    from tracker.audit.desk import AuditDesk
    from tracker.audit.engine import NoEngine
    from tracker.audit.worker import Worker
    from tracker.commands.theatre import play

    settings = settings_of(args)
    try:
        convention = convention_of(archive_of(args).folder)
        told = (_sessions(args), _failures(args))
        with Worker(made.folder, convention, args.engine, args.master, *told) as worker:
            offered = worker.offered()
            return play(AuditDesk(worker.ask, offered, filters, settings.theme, settings.brightness), 0.1)
    except NoEngine as missing:
        raise Trouble(str(missing)) from missing
