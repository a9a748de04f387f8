"""A live case on this station: protocol, journal and clocks put together for the screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial

from msgspec import Struct

from tracker.core.events import Opened, Scalar
from tracker.core.forecast import Forecaster
from tracker.core.protocol import Protocol
from tracker.core.wording import clock_time
from tracker.journal.archive import Archive
from tracker.journal.cases import NotReadable, protocol_within
from tracker.journal.files import Journal
from tracker.journal.trouble import Trouble
from tracker.screen.station import StationClock
from tracker.theatre.desk import Desk
from tracker.theatre.opening import Opening
from tracker.theatre.session import Session
from tracker.theatre.settings import Settings


class OnList(Struct, frozen=True):
    """A place on the list of the day that a case is begun from.

    `code` is the one it is to have, else the next free one; `given` are its facts as far as the list has them; `tell`
    enters the case in the book of the list.
    """

    name: str
    place: int
    code: str | None
    given: Mapping[str, Scalar]
    tell: Callable[[str], object]


def opening(
    protocol: Protocol,
    text: str,
    archive: Archive,
    settings: Settings,
    forecaster: Forecaster | None = None,
    seat: OnList | None = None,
) -> Opening:
    """The page on which a case of `protocol` is started, from a list or not; nothing is on disk before Enter.

    Raises:
        Trouble: the folder of cases cannot be read, or the codes of the station's site are used up.
    """

    def start(code: str, facts: Mapping[str, Scalar]) -> Desk:
        clock = StationClock()
        journal = Journal.create(archive.folder, code, now=clock_time(clock().at))
        session = Session.begin(
            journal, protocol, text, code, facts, clock,
            station=settings.station, seat=(seat.name, seat.place) if seat else None,
        )  # fmt: skip
        if seat:
            with suppress(Trouble):  # the case says itself where it belongs; the first screen enters it again
                seat.tell(code)
        return Desk(session, settings, forecaster)

    propose = partial(_free_code, archive, settings.site, seat.code if seat else None)
    about = f"; place {seat.place} of list {seat.name}" if seat else ""
    return Opening(protocol, propose, start, settings, seat.given if seat else None, about)


def _free_code(archive: Archive, site: str, wanted: str | None = None) -> str:
    if wanted and wanted not in archive.codes():
        return wanted
    try:
        return archive.propose_code(site)
    except ValueError as refusal:
        raise Trouble(f"No case can be begun: {refusal}. Give the station another site.") from refusal


def resumed(archive: Archive, code: str, settings: Settings, forecaster: Forecaster | None = None) -> Desk:
    """The desk of a case that goes on.

    Raises:
        Trouble: it is in use, damaged, out of reach or without a first line.
    """
    clock = StationClock()
    journal = Journal.open(archive.folder, code, now=clock_time(clock().at))
    try:
        first = journal.events[0] if journal.events else None
        if not isinstance(first, Opened):
            raise NotReadable(f"Case {code} has no first line: nothing was entered in it.")
        if first.code != code:
            raise NotReadable(f"The file of case {code} holds another case.")
        torn = journal.torn is not None
        protocol, place = protocol_within(first), settings.station
        session = Session.resume(journal, protocol, journal.events, clock, torn=torn, station=place)
    except BaseException:
        journal.close()
        raise
    return Desk(session, settings, forecaster)
