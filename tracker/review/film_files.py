"""The films of a case as files: the formats of `record --as`, and names that are safe to write anywhere."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import PurePath
from typing import Final

from tracker.review.video.film import CUT, Film, Films
from tracker.review.video.formats import FORMATS, Format, written

AS_NAMES: Final[Mapping[str, tuple[str, ...]]] = {
    "vtt": ("vtt-chapters", "vtt-captions"),
    "srt": ("srt",),
    "ffmetadata": ("ffmetadata",),
    "chapters": ("chapter-list",),
    "cuts": ("cut-list", "ffconcat"),
}
"""The film formats by their name in `--as`."""

_ODD: Final = re.compile(r"[^A-Za-z0-9_\-]")


def film_files(made: Films, names: Iterable[str], code: str) -> Mapping[str, bytes]:
    """The bytes of each file by its name: after the recording it is of, or for the cut after the case."""
    wanted = {one for name in names for one in AS_NAMES[name]}
    films = _named(made.films, code)
    return {name: text.encode() for name, text in written(films, _formats(wanted))}


def _formats(wanted: set[str]) -> tuple[Format, ...]:
    return tuple(one for one in FORMATS if one.name in wanted)


def _named(films: Iterable[Film], code: str) -> list[Film]:
    """The films under names for one folder, no two alike; their clips keep the recordings' own names."""
    named: list[Film] = []
    taken: set[str] = set()
    for film in films:
        name = f"{code}-{CUT}" if film.clips else safe_name(film.name)
        free = (n for n in _numbered(name) if n not in taken)
        named.append(replace(film, name=next(free)))
        taken.add(named[-1].name)
    return named


def _numbered(name: str) -> Iterable[str]:
    yield name
    stem, dot, ending = name.rpartition(".")
    for n in range(2, 10_000):
        yield f"{stem}-{n}{dot}{ending}" if dot else f"{name}-{n}"


def safe_name(file: str) -> str:
    """A recording's name without its folders, in letters, digits and signs that any system takes."""
    path = PurePath(file.replace("\\", "/"))
    stem = _ODD.sub("_", path.stem)[:100]
    ending = re.sub(r"[^A-Za-z0-9]", "", path.suffix)[:8]
    first = stem if stem[:1].isalnum() else f"film{stem}"
    return f"{first}.{ending}" if ending else first
