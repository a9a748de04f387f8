"""What can be said of an eye after its operation: a journal of its own beside the log, its entries never edited.

The envelope is that of every event. A visit put right is a new visit whose `ref` is the number of the one it
replaces; a visit struck is an entry that points at it. Nothing in the log is touched.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

from tracker.core.events import Event

Attached = Literal["yes", "partly", "no", "unknown"]
"""Whether the retina is attached: all of it, the macula or a part, none; or it could not be seen."""

Oil = Literal["in", "out"]
Operation = Literal["detachment", "other"]


class Followed(Event):
    """The first line: the case, and the last hash and number of entries of the log as it then was."""

    kind: Literal["followed"] = "followed"
    code: str
    log_hash: str
    log_entries: int
    program: str


class Visit(Event):
    """What was found on `day` (`YYYY-MM-DD`); None where nothing was said.

    `acuity` is the text as written, `pressure` is in mmHg. `oil` is whether oil was in the eye on that day, and
    `oil_out` the day on which it was taken out. `operation` is what the eye was operated on for since the visit
    before. `why` is the reason for one that puts another right.
    """

    kind: Literal["visit"] = "visit"
    day: str
    attached: Attached | None = None
    acuity: str | None = None
    pressure: float | None = None
    oil: Oil | None = None
    oil_out: str | None = None
    operation: Operation | None = None
    text: str = ""
    why: str = ""


class VisitStruck(Event):
    """The visit at `ref` is void, and stays legible."""

    kind: Literal["visit_struck"] = "visit_struck"
    ref: int
    why: str = ""


FOLLOW_UP_KINDS: Final[tuple[type[Event], ...]] = (Followed, Visit, VisitStruck)
"""Every kind there is, in the order of the guide."""

FOLLOW_UP_BY_KIND: Final[Mapping[str, type[Event]]] = {
    str(k.model_fields["kind"].default): k for k in FOLLOW_UP_KINDS
}
