"""All cross-checks of a protocol: what a single part of the file cannot show to be amiss."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from tracker.core.loading.check_figures import FIGURE_CHECKS
from tracker.core.loading.check_names import KEY_CHECKS, NAME_CHECKS
from tracker.core.loading.check_order import ORDER_CHECKS
from tracker.core.loading.check_references import REFERENCE_CHECKS
from tracker.core.loading.check_shapes import SHAPE_CHECKS
from tracker.core.loading.walk import Remark, Rule
from tracker.core.protocol import Protocol

CHECKS: Final[tuple[Rule, ...]] = (
    *NAME_CHECKS,
    *REFERENCE_CHECKS,
    *ORDER_CHECKS,
    *SHAPE_CHECKS,
    *FIGURE_CHECKS,
)
"""Every rule; each is pure and finds its own kind of thing."""


KEPT_CHECKS: Final = tuple(rule for rule in CHECKS if rule not in KEY_CHECKS)
"""The rules for a protocol that a case was logged by: which key was pressed no longer matters."""


def remarks(protocol: Protocol, rules: Iterable[Rule] = CHECKS) -> Iterator[Remark]:
    """What the rules have against `protocol`; nothing for a sound one."""
    for rule in rules:
        yield from rule(protocol)
