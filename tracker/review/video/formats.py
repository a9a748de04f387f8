"""The table of formats. A new one is a module with `render(film) -> str` and one line here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from tracker.review.video import (
    as_chapter_list,
    as_cut_list,
    as_ffconcat,
    as_ffmetadata,
    as_srt,
    as_vtt_captions,
    as_vtt_chapters,
)
from tracker.review.video.film import Film


@dataclass(frozen=True, slots=True)
class Format:
    """One way to write a film; `of_cut` is true of those that only mean something for the cut."""

    name: str
    suffix: str
    render: Callable[[Film], str]
    of_cut: bool = False


FORMATS: Final = (
    Format("vtt-chapters", ".chapters.vtt", as_vtt_chapters.render),
    Format("vtt-captions", ".captions.vtt", as_vtt_captions.render),
    Format("srt", ".srt", as_srt.render),
    Format("ffmetadata", ".ffmetadata", as_ffmetadata.render),
    Format("chapter-list", ".chapters.txt", as_chapter_list.render),
    Format("cut-list", ".csv", as_cut_list.render, of_cut=True),
    Format("ffconcat", ".ffconcat", as_ffconcat.render, of_cut=True),
)


def written(films: Iterable[Film], formats: Iterable[Format] = FORMATS) -> Iterator[tuple[str, str]]:
    """File name and text of every film in every format that means something for it."""
    wanted = tuple(formats)
    for film in films:
        for one in wanted:
            if film.clips or not one.of_cut:
                yield f"{film.name.replace('/', '_')}{one.suffix}", one.render(film)
