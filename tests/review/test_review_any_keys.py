"""Whatever is pressed at a review: nothing raises, no key is swallowed, nothing begun is lost."""

from __future__ import annotations

import string

from hypothesis import example, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from debriefs import CODE, SAYINGS, archive_of, desk_of, lines, log_bytes, pause, with_debrief
from tracker.core.reviewed import Reviewed
from tracker.journal.archive import Archive
from tracker.journal.books import DEBRIEF
from tracker.journal.cases import reviewed_of
from tracker.review.plain_text import review_text
from tracker.review.record.build import build_reviewed
from tracker.review.record.formats import FORMATS
from tracker.review.screen.desk import ReviewDesk
from tracker.review.screen.forms import begun
from tracker.review.screen.keys import COMMANDS
from tracker.screen.lines import Size

NAMED = [
    "space",
    "enter",
    "escape",
    "backspace",
    "tab",
    "up",
    "down",
    "left",
    "right",
    "home",
    "f1",
    "ctrl+a",
]
ANY_KEY = st.one_of(
    st.sampled_from([c.key for c in COMMANDS if c.id != "leave"]),
    st.sampled_from(list("rrrwcavst")),
    st.sampled_from(["enter", "enter", "y", "g", "n", "k"]),
    st.sampled_from(string.ascii_letters + string.digits + ":-"),
    st.sampled_from([*NAMED, *string.printable.strip()]),
    st.characters(exclude_categories=("Cs", "Cc")),
)
MOVES = st.one_of(
    ANY_KEY.map(lambda key: ("key", key)),
    ANY_KEY.map(lambda key: ("key", key)),
    ANY_KEY.map(lambda key: ("key", key)),
    ANY_KEY.map(lambda key: ("at once", key)),
    st.sampled_from(["09:12", "2026-11-01", "1:00:00", "rec.mp4", "مرحبا 👁 \x1b[2J [b]x[/b]", "x" * 900]).map(
        lambda text: ("paste", text)
    ),
)


def _seen(desk: ReviewDesk) -> tuple[object, ...]:
    """What shows that a key arrived."""
    drawn = lines(desk.draw(Size(80, 24)))
    assert {cell_len(line) for line in drawn} == {80}
    assert len(drawn) == 24
    return drawn, len(desk.debrief.events), desk.theme, desk.brightness, desk.left


def _kept(desk: ReviewDesk) -> dict[str, object]:
    """Everything begun and not said: answers and half-typed words."""
    return {**{k: dict(v) for k, v in desk.held.items() if v}, **{k: v for k, v in desk.drafts.items() if v}}


def _as_on_disk(archive: Archive) -> Reviewed:
    return reviewed_of(archive.read(CODE), archive.read_beside(CODE, DEBRIEF))


@settings(max_examples=120)
@given(st.lists(MOVES, max_size=40))
@example([("key", "w"), ("paste", "half"), ("key", "escape"), ("key", "l"), ("key", "Q"), ("key", "escape")])
def test_any_keys_at_a_review(moves: list[tuple[str, str]]) -> None:
    """Each key shows; Esc loses nothing that was begun; what was said is on disk; the log is as it was."""
    archive = archive_of()
    before_log, desk = log_bytes(archive), desk_of("", archive)
    before = _seen(desk)
    for what, how in moves:
        kept = _kept(desk)
        if what == "paste":
            desk.paste(how)
        else:
            if what == "key":
                pause(desk)
            desk.press(how)
        after = _seen(desk)
        assert what == "paste" or after != before or desk.hint, f"{how} was swallowed in silence"
        if how == "escape":
            assert _kept(desk) == kept
            assert not kept or begun(desk) or all(not str(k).strip() for k in kept.values())
        before = after
    desk.close()

    assert log_bytes(archive) == before_log
    assert _as_on_disk(archive) == desk.review


@settings(max_examples=60)
@given(st.lists(SAYINGS, max_size=25))
def test_any_debrief_is_shown_and_recorded(said: list[dict[str, object]]) -> None:
    """Whatever a debrief holds, sense or nonsense: it is shown and recorded."""
    archive = archive_of()
    with_debrief(archive, said)
    desk = desk_of("o", archive)
    log, kept = archive.read(CODE), archive.read_beside(CODE, DEBRIEF)
    record = build_reviewed(
        desk.review, desk.case.last_t, log.head, len(log.events), kept.head if kept else ""
    )

    assert desk.review.bond == "as debriefed"
    assert {cell_len(line) for line in lines(desk.draw(Size(80, 24)))} == {80}
    assert all(line.isprintable() for line in review_text(desk.review, 80))
    assert record.debrief is not None
    assert len(record.debrief.lines) == len(said) + 1
    for name in ("toml", "md", "json", "csv"):
        assert FORMATS[name].render(record)
