"""A hard case as a finger types it: aphakic, old oil, a cut; each part ends where its stage does."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Final

from desks import desk_of, press, shipped
from tracker.core.events import Scalar
from tracker.theatre.desk import Desk

FACTS: Final[Mapping[str, Scalar]] = {
    "eye": "left",
    "lens": "aphakic",
    "tamponade_in_situ": "oil_1000",
    "planned_retinectomy": "inferior_180",
    "planned_tamponade": "oil_light",
}
_COUNT = "2 enter " * 11
OPENING = f"m s a x b +60 b i +200 i d t c {_COUNT} +120 p +60 w +60 f +60 o +300 o n"
PEELING = "v +400 v y b +200 b s +60 s d b +30 w p +500 p q m s"
CUTTING = "r f l +120 l c +300 c k +60 k h +60 h e"
LASER = "v +20 s +20 b +300 b"
"""Heavy liquid up to the edge, laser made safe, the edge lasered."""


def eye_after(*parts: str, more: str = "") -> Desk:
    """The case after some parts, then `more`."""
    desk = desk_of(shipped(), " ".join(parts), facts=FACTS)
    press(desk, more)
    return desk


@cache
def stage_names() -> tuple[str, ...]:
    """The stages of the shipped file, in their order."""
    return tuple(s.id for s in desk_of(shipped()).protocol.stages)


def stage_shown(desk: Desk) -> str:
    """The stage that the board shows."""
    return desk.protocol.stages[desk.stage].id
