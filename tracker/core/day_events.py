"""What can be said of a list once its day has begun: a journal of its own beside the file, its entries never edited.

The envelope is that of every event. A place goes by its number: those of the file from 1, one that is added by the
next. The file is the plan as typed and stays as it is; the first line of this book holds its text.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

from tracker.core.events import Event, Scalar

Talk = Literal["brief", "debrief"]


class ListBegun(Event):
    """The first line: the name of the list, the whole text of its file and the SHA-256 of that, the station."""

    kind: Literal["list_begun"] = "list_begun"
    name: str
    plan: str
    digest: str
    program: str
    station: str = ""


class TeamTalked(Event):
    """The team brief before the list is done, or the debrief after it."""

    kind: Literal["team_talked"] = "team_talked"
    talk: Talk


class PlaceBegun(Event):
    """The case of a place is about to be begun under `code`; its own first line names list and place."""

    kind: Literal["place_begun"] = "place_begun"
    place: int
    code: str


class PlaceAdded(Event):
    """A place that the file does not have, as an emergency; it stands before `before`, else at the end."""

    kind: Literal["place_added"] = "place_added"
    place: int
    protocol: str
    minutes: float | None = None
    facts: Mapping[str, Scalar] | None = None
    before: int | None = None
    reason: str = ""


class PlaceMoved(Event):
    """A place now stands before `before`, else at the end."""

    kind: Literal["place_moved"] = "place_moved"
    place: int
    before: int | None = None
    reason: str = ""


class PlaceCalledOff(Event):
    """The case of a place is called off."""

    kind: Literal["place_called_off"] = "place_called_off"
    place: int
    reason: str


class LateStartReason(Event):
    """Why the list began late."""

    kind: Literal["late_start_reason"] = "late_start_reason"
    reason: str


class TurnoverReason(Event):
    """Why the turnover after the case `after` took so long."""

    kind: Literal["turnover_reason"] = "turnover_reason"
    after: str
    reason: str


class ListStruck(Event):
    """The entry at `ref` is void, and stays legible."""

    kind: Literal["list_struck"] = "list_struck"
    ref: int


LIST_KINDS: Final[tuple[type[Event], ...]] = (
    ListBegun, TeamTalked, PlaceBegun, PlaceAdded, PlaceMoved, PlaceCalledOff, LateStartReason, TurnoverReason,
    ListStruck,
)  # fmt: skip
"""Every kind there is, in the order of the guide."""

LIST_BY_KIND: Final[Mapping[str, type[Event]]] = {str(k.model_fields["kind"].default): k for k in LIST_KINDS}
