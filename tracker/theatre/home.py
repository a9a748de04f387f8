"""The first screen: open cases, then protocols with their review state, then recent cases to review."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from functools import partial

from msgspec import Struct

from tracker.core.case import Case
from tracker.core.forecast import Forecaster
from tracker.core.loading import load_protocol
from tracker.core.wording import CAUTIONS, clock_time, side_words, span_words
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.codes import latest
from tracker.journal.shelf import Listed, list_protocols, read_text, shelves
from tracker.journal.trouble import Trouble
from tracker.screen.commands import by_key
from tracker.screen.light import LIGHTS
from tracker.screen.lines import Line, Size, page
from tracker.screen.panels import Row
from tracker.screen.room import Room, set_aside
from tracker.screen.station import Now
from tracker.theatre.live import opening, resumed
from tracker.theatre.settings import Settings

RECENT = 20
"""So many of the latest cases of each site are looked at, and so many closed ones are shown."""
LETTERS = "abcdefghijklmnoprstuvwxyz"


class Choice(Struct, frozen=True):
    """One line of the home screen and where it leads; a line without a way is for reading."""

    words: str
    go: Callable[[], Room] | None = None


class Home:
    """The home screen. A letter, or Up, Down and Enter, goes where the line says."""

    def __init__(
        self,
        archive: Archive,
        clock: Callable[[], Now],
        settings: Settings,
        forecaster: Forecaster | None = None,
        reviewing: Callable[[str], Room] | None = None,
    ) -> None:
        """`reviewing` opens the review of a case, which is another room's; without it records are to be read."""
        self.archive = archive
        self.clock = clock
        self.settings = settings
        self.forecaster = forecaster
        self.reviewing = reviewing
        self.theme = settings.theme
        self.brightness = settings.brightness
        self.left = False
        self.become: Room | None = None
        self.says = " ".join(map(str, settings.findings))
        self.at = 0
        self.choices = tuple(self._choices(clock().at))

    def _choices(self, now: datetime) -> Iterator[Choice]:
        cases = [self._case(code) for code in latest(self.archive.codes(), RECENT)]
        newest = sorted((c for c in cases if isinstance(c, Case)), key=_last_entry, reverse=True)
        yield from (_open_case(self, case, now) for case in newest if not case.end)
        yield from (_protocol(self, listed) for listed in list_protocols(shelves(self.archive.folder)))
        yield from [_closed(self, case, now) for case in newest if case.end][:RECENT]
        yield from (Choice(words) for words in cases if isinstance(words, str))

    def _case(self, code: str) -> Case | str:
        try:
            return case_of(self.archive.read(code), code)
        except Trouble as refusal:
            return f"{code}: {refusal}"

    def rows(self) -> Sequence[Row]:
        """The lines with their letters."""
        ways = [c for c in self.choices if c.go]
        keys = dict(zip(map(id, ways), LETTERS, strict=False))
        rows = [Row(keys.get(id(c), ""), c.words, i == self.at) for i, c in enumerate(self.choices)]
        return [*rows, Row("", self.says)] if self.says else rows

    def press(self, key: str) -> None:
        """Go where a line leads, or leave."""
        self.says = ""
        keyed = {row.key: i for i, row in enumerate(self.rows()) if row.key}
        if key in ("Q", "escape"):
            self.left = True
        elif key in ("up", "down") and self.choices:
            self.at = (self.at + (1 if key == "down" else -1)) % len(self.choices)
        elif key == "enter" and self.choices:
            self._go(self.choices[self.at])
        elif key in keyed:
            self._go(self.choices[keyed[key]])
        else:
            command = by_key(self.settings.commands).get(key)
            light = LIGHTS.get(command.id) if command else None
            self.says = light(self) if light else f"{key}: no line has this key"

    def _go(self, choice: Choice) -> None:
        if choice.go is None:
            self.says = "this one is for reading: clockhour review and clockhour record take its code"
            return
        try:
            self.become = choice.go()
        except Trouble as refusal:
            self.says = str(refusal)

    def paste(self, text: str) -> None:
        """Set pasted text aside, and say so."""
        self.says = set_aside(text)

    def said(self, words: str) -> None:
        """Say something of the terminal, or of a case that was left."""
        self.says = words

    def pulse(self) -> None:
        """Nothing changes here by itself."""

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:  # noqa: ARG002 - one shape of rooms
        """The page as lines."""
        foot = "A letter, or Up Down and Enter; Q leaves"
        return page(f"Clockhour  {clock_time(self.clock().at)}", CAUTIONS, self.rows(), foot, size)

    def close(self) -> str:
        """Nothing is held here."""
        return ""


def _last_entry(case: Case) -> datetime:
    return case.events[-1].entered_at


def _case_words(case: Case) -> str:
    """A case by its code, the side of the eye in capitals, and the title of its file."""
    side = side_words(case.protocol, case.facts).upper()
    return ", ".join(filter(None, (case.code, side, case.protocol.title)))


def _open_case(home: Home, case: Case, now: datetime) -> Choice:
    ago = span_words(max(0.0, (now - _last_entry(case)).total_seconds()))
    words = f"open: {_case_words(case)}, last entry {ago} ago"
    return Choice(words, lambda: resumed(home.archive, case.code, home.settings, home.forecaster))


def _protocol(home: Home, listed: Listed) -> Choice:
    if listed.findings:
        return Choice(
            f"protocol {listed.id}: {listed.findings} findings, clockhour protocol check says which"
        )
    reviewed = f"reviewed by {listed.reviewed_by}" if listed.reviewed_by else "not reviewed locally"
    return Choice(f"start: {listed.title} ({reviewed})", lambda: _start(home, listed))


def _start(home: Home, listed: Listed) -> Room:
    text = read_text(listed.path)
    protocol = load_protocol(text, listed.path.name).protocol
    if protocol is None:
        raise Trouble(f"{listed.path.name} has changed and now has findings.")
    return opening(protocol, text, home.archive, home.settings, home.forecaster)


def _closed(home: Home, case: Case, now: datetime) -> Choice:
    end = case.end.when.at if case.end else now
    kind = ", invented" if case.invented else ""
    words = f"review: {_case_words(case)}, ended {end:%Y-%m-%d %H:%M}{kind}"
    return Choice(words, partial(home.reviewing, case.code) if home.reviewing else None)
