"""What is true of invented cases: every figure that an audit of them should find again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

PVR_C: Final = "pvr_c"
GENERAL: Final = "general"

LONGER: Final[Mapping[str, float]] = MappingProxyType({PVR_C: 1.22, GENERAL: 1.32})
"""How many times as long every part of a case takes with grade C and under general anaesthesia.

Source: Angermann 2021, BMJ Open 11:e052513 (22 % and 32 % more).
"""


@dataclass(frozen=True, slots=True)
class Truth:
    """The parameters of invented cases; lengths are lognormal, ratios multiply every length of a case.

    `case_sigma` is the spread of ln minutes between cases, `step_sigma` that of one step beside it. A fellow
    operates in `fellow_share` of the cases and takes `fellow_first` times as long in the first of them, then
    case number to the power of `fellow_slope` of that, never less than the consultant. From case number
    `change_from` on the lengths of `change_stage` are `change_ratio` times what they were.

    An entry slips the mind for a while with probability `lapse` (median `lapse_minutes`); the entries behind
    it then come in a burst. A case has one slip with probability `slip`, of the kinds that `Drawn` counts.
    Lists begin late and turn over as (median minutes, sigma) say; a share `evening` of them has a case late
    in the evening. The plan is `plan_ratio` of what is to be expected, give or take `plan_sigma`.

    Each follow-up visit comes about with probability `followed`. The retina stays attached with probability
    `attached`; one that does not comes off within 55 days, is operated on again, and then holds with probability
    `attached_again`. Oil is taken out after a median of `oil_days`, with the spread `oil_sigma` of ln days. logMAR is
    better by `gain`, give or take `gain_sigma`; a share `unread` of the entries is no acuity. A share `low_pressure` of
    the eyes stays at or below 5 mmHg, a share `high_pressure` above 25.
    """

    longer: Mapping[str, float] = field(default_factory=lambda: LONGER)
    case_sigma: float = 0.15
    step_sigma: float = 0.35
    fellow_share: float = 0.3
    fellow_first: float = 1.6
    fellow_slope: float = -0.1
    change_from: int | None = None
    change_stage: str = "exchange"
    change_ratio: float = 0.7
    lapse: float = 0.01
    lapse_minutes: float = 2.5
    lapse_sigma: float = 1.0
    slip: float = 0.35
    start_delay: tuple[float, float] = (15.0, 0.6)
    turnover: tuple[float, float] = (22.0, 0.35)
    evening: float = 0.1
    plan_ratio: float = 0.9
    plan_sigma: float = 0.15
    followed: float = 0.9
    attached: float = 0.75
    attached_again: float = 0.8
    oil_days: float = 150.0
    oil_sigma: float = 0.4
    gain: float = 0.6
    gain_sigma: float = 0.35
    unread: float = 0.02
    low_pressure: float = 0.08
    high_pressure: float = 0.05


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was drawn: counts that an audit of the very same cases should give exactly.

    `slips` counts cases by kind of slip and what it is about; `told` are the entries but for the frame,
    `late` those of them more than 60 s late; `midnights` the cases that ran past midnight.
    """

    cases: int
    first_code: str
    last_code: str
    fellow_cases: int
    midnights: int
    told: int
    late: int
    spans: int
    slips: Mapping[str, int]
