"""Before the board: the cautions and the case facts on one page, each with its default; Enter starts."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tracker.core.events import Scalar
from tracker.core.protocol import Protocol
from tracker.core.wording import CAUTIONS
from tracker.journal.trouble import Trouble
from tracker.screen.lines import Line, Size, page
from tracker.screen.room import set_aside
from tracker.theatre.desk import STANDARD, Desk
from tracker.theatre.forms import FactsPage
from tracker.theatre.settings import Settings


class Opening:
    """The page on which a case is started. `become` is the desk once it is."""

    def __init__(
        self,
        protocol: Protocol,
        propose: Callable[[], str],
        start: Callable[[str, Mapping[str, Scalar]], Desk],
        settings: Settings = STANDARD,
        given: Mapping[str, Scalar] | None = None,
        about: str = "",
    ) -> None:
        """`propose` names the next free code, `start` begins a case under it.

        `given` are facts known beforehand, as a list of the day has them, and `about` says where from.

        Raises:
            Trouble: no code is free, or the folder of cases cannot be read.
        """
        self.theme = settings.theme
        self.brightness = settings.brightness
        self.code = propose()
        self.protocol = protocol
        self.become: Desk | None = None
        self.left = False
        self._propose = propose
        self._start = start
        self.about = about
        self._page = self._facts({**protocol.defaults, **(given or {})})
        self._page.says = " ".join(map(str, settings.findings))

    def _facts(self, values: Mapping[str, Scalar]) -> FactsPage:
        ends = "Enter starts the case, Esc leaves without one"
        return FactsPage(self.protocol.facts, values, self._started, ends=ends)

    def _started(self, values: Mapping[str, Scalar]) -> None:
        try:
            self.become = self._start(self.code, values)
        except Trouble as refusal:
            self._page.open = True
            self._page.says = f"{refusal} {self._another()}".rstrip()

    def _another(self) -> str:
        """Take another code if the one proposed was taken meanwhile, and say so; it is said, as it may be on paper."""
        try:
            taken, self.code = self.code, self._propose()
        except Trouble:
            return ""
        return "" if self.code == taken else f"Enter starts this one as {self.code}."

    def press(self, key: str) -> None:
        """Pass a key to the page; Esc with nothing typed leaves, and no case was begun."""
        self._page.press(key)
        self.left = not self._page.open and self.become is None

    def pulse(self) -> None:
        """Nothing waits here."""

    def close(self) -> str:
        """Nothing is held here."""
        return ""

    def paste(self, text: str) -> None:
        """Set pasted text aside, and say so."""
        self._page.says = set_aside(text)

    def said(self, words: str) -> None:
        """Say something of the terminal."""
        self._page.says = words

    def draw(self, size: Size, *, quick: bool = False) -> tuple[Line, ...]:  # noqa: ARG002 - one shape of rooms
        """The page as lines."""
        reviewed = self.protocol.reviewed_by
        state = f"reviewed by {reviewed}" if reviewed else "not reviewed locally"
        title = f"{self.code}  {self.protocol.title}, version {self.protocol.version}: {state}{self.about}"
        return page(title, CAUTIONS, self._page.rows(), self._page.how, size)
