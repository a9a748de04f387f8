"""A report as plain text: one question after the other, for a pipe or a pager."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.cells import cell_len

from tracker.audit.report.book import Report
from tracker.audit.report.sheet import Grid, Sheet
from tracker.core.text import shown
from tracker.screen.lines import wrap

WIDTH = 100


def as_text(report: Report, width: int = WIDTH) -> str:
    """The whole report."""
    return "\n".join(_lines(report, width))


def _lines(report: Report, width: int) -> Iterator[str]:
    yield report.title
    yield ""
    for text in (f"Population: {report.population}.", *report.lines, *report.cautions[:1]):
        yield from wrap(text, width)
    for sheet in report.sheets:
        yield from ("", "")
        yield from sheet_lines(sheet, width)


def sheet_lines(sheet: Sheet, width: int = WIDTH) -> Iterator[str]:
    """One question."""
    yield from wrap(f"{sheet.asks} [{sheet.key}]", width)
    yield from wrap(sheet.definition, width)
    yield from wrap(sheet.trust, width)
    if sheet.refused:
        yield from wrap(f"No figure: {sheet.refused}.", width)
    for grid in sheet.grids:
        yield ""
        yield from grid_lines(grid, width)
    if sheet.remarks:
        yield ""
    for remark in sheet.remarks:
        yield from wrap(remark, width)


def grid_lines(grid: Grid, width: int = WIDTH) -> list[str]:
    """A table in columns; words too long for the width go on below. Too narrow for its figures, it is a list."""
    widths = _widths(grid, width)
    if _across(widths) > width:
        return [*wrap(grid.title, width), *_listed(grid, width)]
    rows = [grid.headings, *grid.rows]
    lines = list(wrap(grid.title, width))
    for n, row in enumerate(rows):
        lines += _row(grid, row, widths)
        if n == 0:
            lines.append("  ".join("-" * w for w in widths))
    return lines


def _across(widths: Sequence[int]) -> int:
    return sum(widths) + 2 * (len(widths) - 1)


def _listed(grid: Grid, width: int) -> Iterator[str]:
    """A row as lines, each figure under its heading's name: no figure is cut off."""
    for row in grid.rows:
        yield from wrap(", ".join(row[: grid.words]), width)
        for heading, cell in zip(grid.headings[grid.words :], row[grid.words :], strict=True):
            yield from (f"  {part}" for part in wrap(f"{heading}: {cell}", width - 2))


def _widths(grid: Grid, width: int) -> list[int]:
    """As wide as what is in it; where that is too much, the widest columns give way, words last."""
    columns = list(zip(grid.headings, *grid.rows, strict=True))
    widths = [max(cell_len(shown(cell)) for cell in cells) for cells in columns]
    least = [_least(cells, i < grid.words) for i, cells in enumerate(columns)]
    while _across(widths) > width:
        loose = [i for i in range(len(widths)) if widths[i] > least[i]]
        if not loose:
            break
        widths[max(loose, key=lambda i: widths[i])] -= 1
    return widths


def _least(cells: Sequence[str], words: bool) -> int:
    """A figure is not broken; words are, at their blanks, and only a very long word within."""
    kept = (
        [word for cell in cells for word in shown(cell).split()] if words else [shown(c) for c in cells[1:]]
    )
    heading = max(map(cell_len, shown(cells[0]).split()), default=0)
    return max(
        5, heading, min(18, max(map(cell_len, kept), default=0)) if words else max(map(cell_len, kept))
    )


def _row(grid: Grid, row: Sequence[str], widths: Sequence[int]) -> list[str]:
    cells = [wrap(text, w) or [""] for text, w in zip(row, widths, strict=True)]
    lines = []
    for k in range(max(map(len, cells))):
        parts = [_placed(cell[k] if k < len(cell) else "", w, i < grid.words)
                 for i, (cell, w) in enumerate(zip(cells, widths, strict=True))]  # fmt: skip
        lines.append("  ".join(parts).rstrip())
    return lines


def _placed(text: str, width: int, left: bool) -> str:
    blank = " " * max(0, width - cell_len(text))
    return text + blank if left else blank + text
