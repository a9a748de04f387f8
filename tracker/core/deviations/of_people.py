"""Deviations of hand-overs: not acknowledged, counts not confirmed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest
from typing import Final

from tracker.core.case import Case, Moment, Post
from tracker.core.deviations import causes
from tracker.core.deviations.found import Deviation, ticks
from tracker.core.wording import CODE_WORDS, clock_time

ABOUT: Final = "hand-over"
"""What they are about, whoever took over; no id of a file has a hyphen."""
UNACKNOWLEDGED: Final = "handover_unacknowledged"
UNCONFIRMED: Final = "handover_unconfirmed"


def hand_overs(case: Case, _now_t: float) -> Iterator[Deviation]:
    """Hand-overs that the incoming role had not acknowledged by the next one, or by the end of the case.

    So too those at which the counts were not confirmed, where none was said since.
    """
    handed = hand_overs_of(case)
    for post, following in zip_longest(handed, handed[1:]):
        ends = (following.since if following else None, case.end.when if case.end else None)
        due = min((when for when in ends if when and when > post.since), default=None)
        if due is None:
            continue
        if post.accepted is None or post.accepted > due:
            yield _unacknowledged(post, due)
        if not confirmed(case, post, by=due):
            yield _unconfirmed(case, post, due)


def hand_overs_of(case: Case) -> tuple[Post, ...]:
    """The hand-overs of the circulating post, in order; taking it at the start is none."""
    return tuple(p for p in case.posts if p.post == "circulating" and p.counts_confirmed is not None)


def confirmed(case: Case, post: Post, by: Moment | None = None) -> bool:
    """Whether the counts were confirmed at a hand-over, or since: by a count said or at a later hand-over."""
    if post.counts_confirmed or not case.protocol.counted:
        return True
    since = confirmed_at(case, post)
    return since is not None and (by is None or since <= by)


def confirmed_at(case: Case, post: Post) -> Moment | None:
    """When the counts were first confirmed after a hand-over."""
    said = [when for _, tick in ticks(case) for _, when in tick.counted]
    said += [p.since for p in hand_overs_of(case) if p.counts_confirmed]
    return min((when for when in said if when > post.since), default=None)


def _unacknowledged(post: Post, due: Moment) -> Deviation:
    at = clock_time(post.since.at)
    found = f"acknowledged at {clock_time(post.accepted.at)}" if post.accepted else CODE_WORDS[UNACKNOWLEDGED]
    return Deviation(
        f"{UNACKNOWLEDGED}:{post.since.seq}", UNACKNOWLEDGED, "order", ABOUT, due,
        f"what is open read after the hand-over at {at}", found,
    )  # fmt: skip


def _unconfirmed(case: Case, post: Post, due: Moment) -> Deviation:
    since = confirmed_at(case, post)
    found = f"confirmed at {clock_time(since.at)}" if since else CODE_WORDS[UNCONFIRMED]
    return Deviation(
        f"{UNCONFIRMED}:{post.since.seq}", UNCONFIRMED, "safety", ABOUT, due,
        f"a count said after the hand-over at {clock_time(post.since.at)}", found,
        causes=(causes.unconfirmed(post.since.seq),),
    )  # fmt: skip
