"""Grades of proliferative vitreoretinopathy, as the updated Retina Society classification writes them.

Notation of this program: `A`, `B`, `CP3` (posterior, 3 clock hours), `CA2` (anterior, 2), both together
`CP3-CA2`; the contraction types may follow each half: `CP3 type 1,2-CA2 type 5`.

Source: Machemer, Aaberg, Freeman, Irvine, Lean, Michels, Am J Ophthalmol 1991;112:159-165; read as
Table 3 of Di Lauro et al., J Ophthalmol 2016:7807596. Types behind the equator are
1 focal, 2 diffuse, 3 subretinal; before it 4 circumferential, 5 anterior displacement. That numbering and
the tie to one site are this program's reading of that table, the numbers from memory.
"""

from __future__ import annotations

import re
from typing import Final, Literal

from msgspec import Struct


def _half(site: str, types: str) -> str:
    hours = f"(?P<{site}>[1-9]|1[0-2])"
    return rf"C{site} ?{hours}(?: types? ?(?P<{site}types>[{types}](?: ?, ?[{types}])*))?"


_GRADE: Final = re.compile(
    rf"(?P<plain>[AB])|(?:{_half('P', '123')})?(?P<dash> ?- ?)?(?:{_half('A', '45')})?",
    re.IGNORECASE | re.ASCII,
)


class Extent(Struct, frozen=True, gc=False):
    """How far grade C reaches at one site: clock hours 1 to 12, and the contraction types if stated."""

    hours: int
    types: tuple[int, ...] = ()

    def __str__(self) -> str:
        return f"{self.hours} type {','.join(map(str, self.types))}" if self.types else str(self.hours)


class Grade(Struct, frozen=True, gc=False):
    """A grade: letter A or B alone, or C with a posterior extent, an anterior one or both."""

    letter: Literal["A", "B", "C"]
    posterior: Extent | None = None
    anterior: Extent | None = None

    def __str__(self) -> str:
        halves = (("CP", self.posterior), ("CA", self.anterior))
        return "-".join(f"{site}{extent}" for site, extent in halves if extent) or self.letter


def _extent(hours: str | None, types: str | None) -> Extent | None:
    if hours is None:
        return None
    return Extent(int(hours), tuple(sorted({int(t) for t in re.findall("[1-5]", types or "")})))


def parse_grade(text: str) -> Grade | None:
    """The grade that `text` writes, or None where it writes none; capitals do not matter.

    Source: Machemer 1991; there is no grade D, extents are whole clock hours 1 to 12, types 1-3 go with
    CP and 4-5 with CA (Di Lauro 2016, Table 3).
    """
    found = _GRADE.fullmatch(text.strip())
    if not found or not text.strip():
        return None
    if found["plain"]:
        return Grade("A" if found["plain"] in "Aa" else "B")
    posterior = _extent(found["P"], found["Ptypes"])
    anterior = _extent(found["A"], found["Atypes"])
    if (found["dash"] is not None) != (posterior is not None and anterior is not None):
        return None
    return Grade("C", posterior, anterior)
