"""The first screen: the list of the day, open cases, protocols with their review state, recent cases to review."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from functools import partial
from string import ascii_lowercase, ascii_uppercase

from msgspec import Struct

from tracker.core.case import Case
from tracker.core.forecast import Forecaster
from tracker.core.loading import load_protocol
from tracker.core.protocol import RESERVED_KEYS
from tracker.core.wording import CAUTION, CAUTIONS, clock_time, side_words, span_words
from tracker.journal.archive import Archive
from tracker.journal.cases import case_of
from tracker.journal.codes import latest
from tracker.journal.day_lists import Lists
from tracker.journal.shelf import Listed, list_protocols, read_text, shelves
from tracker.journal.trouble import Trouble
from tracker.screen.commands import by_key
from tracker.screen.light import LIGHTS
from tracker.screen.lines import Line, Size, page
from tracker.screen.panels import Row
from tracker.screen.room import Room, set_aside
from tracker.screen.station import Now
from tracker.theatre.day_acts import KEYS, actions
from tracker.theatre.day_home import ListOfDay
from tracker.theatre.dialogue import Dialogue
from tracker.theatre.live import opening, resumed
from tracker.theatre.settings import Settings

RECENT = 20
"""So many of the latest cases of each site are looked at, and so many closed ones are shown."""
LETTERS = "".join(c for c in ascii_lowercase + ascii_uppercase if c not in KEYS | RESERVED_KEYS)
"""The letters that lines may have: none that is an action of the list."""


class Choice(Struct, frozen=True):
    """One line of the home screen and where it leads; a line without a way is for reading.

    `ident` says what it is of, so that its letter stays its own while the screen is open.
    """

    ident: str
    words: str
    go: Callable[[], Room] | None = None


class Home:
    """The home screen. A letter goes where its line says, or Up, Down and Enter do; nothing is marked at first."""

    def __init__(
        self,
        archive: Archive,
        clock: Callable[[], Now],
        settings: Settings,
        forecaster: Forecaster | None = None,
        reviewing: Callable[[str], Room] | None = None,
        sheets: Callable[[str], Room] | None = None,
    ) -> None:
        """`reviewing` opens the review of a case, which is another room's; without it records are to be read.

        `sheets` writes the sheets of the list of a day and shows them.
        """
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
        self.list = ListOfDay(Lists(archive), clock, settings, forecaster, sheets)
        self.dialogue: Dialogue | None = None
        self.marked = ""
        self._letters: dict[str, str] = {}
        self.choices: tuple[Choice, ...] = ()
        self._read()

    def _read(self) -> None:
        """Read what there is; a letter that a line has got stays its own."""
        cases = [self._case(code) for code in latest(self.archive.codes(), RECENT)]
        self.list.read([case for case in cases if isinstance(case, Case)])
        self.choices = tuple(self._choices(cases, self.clock().at))
        free = (letter for letter in LETTERS if letter not in self._letters.values())
        for choice in self.choices:
            if choice.go and choice.ident not in self._letters:
                self._letters[choice.ident] = next(free, "")

    def _choices(self, cases: Sequence[Case | str], now: datetime) -> Iterator[Choice]:
        on = self.list.open_code  # has a line and a key of its own
        newest = sorted((c for c in cases if isinstance(c, Case)), key=_last_entry, reverse=True)
        yield from (_open_case(self, case, now) for case in newest if not case.end and case.code != on)
        yield from (_protocol(self, listed) for listed in list_protocols(shelves(self.archive.folder)))
        yield from [_closed(self, case, now) for case in newest if case.end][:RECENT]
        yield from (Choice("", words) for words in cases if isinstance(words, str))

    def _case(self, code: str) -> Case | str:
        try:
            return case_of(self.archive.read(code), code)
        except Trouble as refusal:
            return f"{code}: {refusal}"

    def rows(self) -> Sequence[Row]:
        """What is told of the list, what may be done, and the lines with their letters."""
        if self.dialogue:
            return self.dialogue.rows()
        acts = [Row(a.key, a.words, a.key == self.marked) for a in actions(self.list)]
        lines = [
            Row(self._letter(c), c.words, c.ident != "" and c.ident == self.marked) for c in self.choices
        ]
        said = [Row("", self.says)] if self.says else []
        return [*said, *(Row("", words) for words in (*self.list.head(), *self.list.table())), *acts, *lines]

    def _letter(self, choice: Choice) -> str:
        return self._letters.get(choice.ident, "") if choice.go else ""

    def _ways(self) -> Mapping[str, Callable[[], Room | Dialogue | str]]:
        """Where each line leads that can be marked, in the order of the screen."""
        acts = {action.key: action.go for action in actions(self.list)}
        return acts | {c.ident: c.go for c in self.choices if c.go}

    def press(self, key: str) -> None:
        """Go where a line leads, or leave."""
        self.says = ""
        if self.dialogue:
            self._answer(self.dialogue, key)
            return
        ways = self._ways()
        lettered = {letter: ident for ident, letter in self._letters.items() if letter and ident in ways}
        if key in ("Q", "escape"):
            self.left = True
        elif key in ("up", "down") and ways:
            self._mark([*ways], 1 if key == "down" else -1)
        elif key == "enter":
            self._enter(ways)
        elif key in ways or key in lettered:
            self._go(ways[lettered.get(key, key)])
        else:
            command = by_key(self.settings.commands).get(key)
            light = LIGHTS.get(command.id) if command else None
            self.says = light(self) if light else f"{key}: no line has this key"

    def _mark(self, idents: list[str], by: int) -> None:
        at = idents.index(self.marked) + by if self.marked in idents else (0 if by > 0 else -1)
        self.marked = idents[at % len(idents)]

    def _enter(self, ways: Mapping[str, Callable[[], Room | Dialogue | str]]) -> None:
        if self.marked in ways:
            self._go(ways[self.marked])
        else:
            self.says = "no line is marked: press the letter of one, or Up and Down mark one"

    def _answer(self, dialogue: Dialogue, key: str) -> None:
        dialogue.press(key)
        if dialogue.over:
            self.says, self.dialogue = dialogue.said, None
            self._read()

    def _go(self, way: Callable[[], Room | Dialogue | str]) -> None:
        try:
            came = way()
        except Trouble as refusal:
            self.says = str(refusal)
            return
        if isinstance(came, str):
            self.says = came
        elif isinstance(came, Dialogue):
            self.dialogue = None if came.over else came
            self.says = came.said
        else:
            self.become = came

    def paste(self, text: str) -> None:
        """Set pasted text aside, and say so."""
        self.says = set_aside(text)

    def said(self, words: str) -> None:
        """Say something of the terminal, or of a case that was left."""
        self.says = words

    def pulse(self) -> None:
        """Read anew what another station entered of the list."""
        if self.dialogue is None and self.list.look():
            with suppress(Trouble):  # what was read stays shown while the archive is out of reach
                self._read()

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:  # noqa: ARG002 - one shape of rooms
        """The page as lines."""
        at = clock_time(self.clock().at)
        if self.dialogue:
            foot = "The keys of the list, or type and Enter; Esc leaves with nothing entered"
            return page(f"{at}  {self.dialogue.title}", (), self.rows(), foot, size)
        foot = "A letter, or Up Down and Enter; Q leaves"
        return page(f"Clockhour  {at}  {CAUTION}", CAUTIONS, self.rows(), foot, size)

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
    return Choice(case.code, words, lambda: resumed(home.archive, case.code, home.settings, home.forecaster))


def _protocol(home: Home, listed: Listed) -> Choice:
    if listed.findings:
        return Choice(
            "", f"protocol {listed.id}: {listed.findings} findings, clockhour protocol check says which"
        )
    reviewed = f"reviewed by {listed.reviewed_by}" if listed.reviewed_by else "not reviewed locally"
    return Choice(
        f"protocol:{listed.path}", f"start: {listed.title} ({reviewed})", lambda: _start(home, listed)
    )


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
    return Choice(case.code, words, partial(home.reviewing, case.code) if home.reviewing else None)
