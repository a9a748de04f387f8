"""Seeded hard cases as a person means them: one intention after another, without a key in them.

A case names steps, readings and choices of `protocols/complex-pvr.toml` by their ids. What is drawn: the eye
and its lens, old oil or none, how often it is stained and peeled, whether the retina flattens, the cut and up
to two extensions to 360 degrees, the way of the exchange, oil or gas, what goes wrong and who comes and goes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from random import Random

Value = bool | int | float | str


@dataclass(frozen=True)
class Intention:
    """One thing that a person wants in the record.

    `kind` says what: a step is ticked, started, stopped, decided on, read, counted or not needed; or it is a
    moment without a step. `step` is the step it is about, `value` a choice, a figure, a reason or a role.
    """

    kind: str
    step: str = ""
    about: str = ""
    value: Value = ""
    figures: tuple[tuple[str, int], ...] = ()
    seconds: float = 0.0


@dataclass(frozen=True)
class HardCase:
    """The facts known before, and what is meant to be logged, in order."""

    facts: Mapping[str, Value]
    intentions: tuple[Intention, ...]


_SPANS = """
block iodine peritomy_buckle oil_out lens_out core_vit base_shave break_search peel_post ilm_peel peel_ant
sr_band dia_line rx_cut ant_trim haemostasis laser_edge laser_360 cryo fax pfcl_oil gas_in oil_in
ports_out recording
"""
_COUNTED = """
swabs spears needles blades port_items plug_items soft_tips instrument_tips hook_items buckle_pieces syringes
"""
SPANS = frozenset(_SPANS.split())
COUNTED = _COUNTED.split()
NOTES = ("gauze soaked once more", "view poor for a while", "second pack opened", "light pipe changed")
OILS = ("oil_1000", "oil_2000", "oil_5000", "oil_other")


@dataclass
class _Case:
    """A case in the making: what has been drawn so far."""

    chance: Random
    facts: dict[str, Value] = field(default_factory=dict)
    told: list[Intention] = field(default_factory=list)
    circulating: str = "circulating"
    operator: str = "consultant"
    figures: dict[str, int] = field(default_factory=dict)
    interruptible: bool = False
    in_trouble: bool = False

    def may(self, share: float) -> bool:
        """Whether something happens that does in such a share of cases."""
        return self.chance.random() < share

    def say(self, kind: str, step: str = "", about: str = "", value: Value = "") -> None:
        """Mean one thing more."""
        self.told.append(Intention(kind, step, about, value))

    def gap(self, low: float, high: float) -> None:
        """Let time pass."""
        self.told.append(Intention("gap", seconds=round(self.chance.uniform(low, high), 1)))

    def do(self, *steps: str) -> None:
        """Do steps one after the other: a span is started and stopped, things may come between."""
        for step in steps:
            self.interrupt()
            if step not in SPANS:
                self.say("tick", step)
                self.gap(10, 90)
                continue
            self.say("start", step)
            self.gap(30, 300)
            self.interrupt()
            self.say("stop", step)
            self.gap(5, 40)

    def decide(self, step: str, choice: str) -> None:
        """Tick a decision and state its choice."""
        self.interrupt()
        self.say("decide", step, value=choice)
        self.gap(5, 40)

    def read(self, step: str, reading: str, value: Value) -> None:
        """Enter what belongs to the step done last."""
        self.say("read", step, reading, value)
        self.gap(3, 20)

    def read_now(self, step: str, reading: str, value: Value) -> None:
        """A step of any time that is a reading: it is asked at once."""
        self.say("read_now", step, reading, value)
        self.gap(3, 20)

    def count(self, step: str) -> None:
        """Tick a count and say what the board says."""
        figures = tuple(self.figures.items())
        self.told.append(Intention("count", step, figures=figures))
        self.gap(20, 60)

    # -- what comes between

    def interrupt(self) -> None:
        """Now and then something comes between, never within a complication."""
        if not self.interruptible or self.in_trouble:
            return
        for share, happens in (
            (0.10, self._called_away),
            (0.03, lambda: self.say("bookmark")),
            (0.01, self._note),
            (0.012, self._hand_over),
            (0.012, self._operator),
            (0.01, self._pause),
            (0.005, lambda: self.say("leave")),
            (0.005, lambda: self.say("killed")),
            (0.02, self._pressure),
            (0.01, lambda: self.do_quietly("plug_in" if self.may(0.5) else "specimen")),
        ):
            if self.may(share):
                happens()

    def do_quietly(self, step: str) -> None:
        """A step of any time, nothing between."""
        self.say("tick", step)

    def _called_away(self) -> None:
        self.gap(60, 600)

    def _note(self) -> None:
        self.say("note", value=self.chance.choice(NOTES))

    def _hand_over(self) -> None:
        here = self.circulating
        self.circulating = "relief_circulating" if here == "circulating" else "circulating"
        self.say("hand_over", value=self.circulating)
        self.gap(20, 120)

    def _operator(self) -> None:
        others = [r for r in ("consultant", "fellow_supervised", "fellow", "joint") if r != self.operator]
        self.operator = self.chance.choice(others)
        self.say("operator", value=self.operator)

    def _pause(self) -> None:
        self.say("pause")
        self.gap(60, 300)
        self.say("go_on")

    def _pressure(self) -> None:
        self.read_now("infusion_read", "infusion_mmhg", self.chance.choice((20, 25, 30, 35)))

    def trouble(self, complication: str) -> None:
        """A complication: stamped, named and dealt with, something done about it in between."""
        self.say("complication")
        self.gap(10, 60)
        self.in_trouble = True
        named_first = self.may(0.6)
        if named_first:
            self.say("name", value=complication)
        if complication == "edge_bleeding":
            self.do("pressure_up")
            self.gap(30, 120)
            self.do("pressure_back")
        elif complication == "iatrogenic_tear":
            self.do("new_break")
        if not named_first:
            self.say("name", value=complication)
        self.gap(20, 120)
        self.say("dealt")
        self.in_trouble = False
        self.gap(5, 30)


def hard_case(seed: str) -> HardCase:
    """The hard case of a seed."""
    case = _Case(Random(seed))
    _facts(case)
    oil_before = case.facts["tamponade_in_situ"] != "none"
    _before_theatre(case)
    case.interruptible = True
    hooks, light = _access(case, oil_before)
    _vitrectomy(case, again=bool(case.facts["previous_operations"]))
    _peel(case)
    cut = _retinectomy(case)
    _laser(case, cut)
    if cut and case.may(0.25):
        _extend(case, last=True)
        case.do("laser_edge")
        case.read("laser_edge", "laser_rows", 3)
    gas = _exchange(case)
    _close(case, hooks, light, gas)
    return HardCase(case.facts, tuple(case.told))


def _facts(case: _Case) -> None:
    pick = case.chance.choice
    case.operator = pick(("consultant", "fellow_supervised"))
    case.facts = {
        "eye": pick(("left", "right")),
        "anaesthetic": pick(("block", "block_sedation", "general")),
        "lens": pick(("aphakic", "aphakic", "pseudophakic", "pseudophakic", "phakic")),
        "tamponade_in_situ": pick(("none", *OILS)),
        "previous_operations": pick((0, 1, 2, 3)),
        "pvr_grade": pick(("CP6-CA3", "CP12-CA12", "CP4")),
        "planned_retinectomy": pick(("none", "relaxing", "inferior_180")),
        "planned_tamponade": pick(("oil_light", "c3f8")),
        "operator": case.operator,
    }
    case.figures = {line: case.chance.choice((0, 1, 2, 3, 4, 5, 10)) for line in COUNTED}


def _before_theatre(case: _Case) -> None:
    if case.may(0.5):
        case.do("team_brief")
    case.do("sign_in", "patient_in")
    if case.facts["anaesthetic"] == "general":
        case.do("ga_start")
    else:
        case.do("side_check", "block")
    if case.may(0.5):
        case.do("iodine", "drape", "time_out")
        case.count("count_1")
    else:
        case.do("iodine", "drape")
        case.count("count_1")
        case.do("time_out")


def _access(case: _Case, oil_before: bool) -> tuple[bool, bool]:
    recorded = case.may(0.4)
    if recorded:
        case.say("start", "recording")
    if case.may(0.1):
        case.do("peritomy_buckle")
    case.do("ports")
    case.read("ports", "ports_n", 3)
    case.do("cannula_check")
    case.read("cannula_check", "tip_seen", case.chance.choice(("seen", "seen", "other_means")))
    case.do("infusion_on")
    if case.may(0.6):
        case.read("infusion_on", "infusion_mmhg", 25)
    if light := case.may(0.5):
        case.do("chandelier")
    if oil_before:
        case.do("oil_out")
        if case.may(0.5):
            case.read("oil_out", "infusion_mmhg", 30)
    if hooks := case.may(0.4):
        case.do("pupil")
        case.read("pupil", "hooks_n", 4)
    if case.facts["lens"] == "phakic":
        case.do("lens_out" if case.may(0.6) else "lens_keep")
    else:
        case.do("lens_none")
    if recorded:
        case.say("stop", "recording")
    return hooks, light


def _vitrectomy(case: _Case, *, again: bool) -> None:
    if again and case.may(0.4):
        case.say("not_needed", "core_vit", value="finding")
    else:
        case.do("core_vit")
    case.do("hyaloid", "base_shave")
    if case.may(0.4):
        case.do("base_shave")
    case.do("break_search")
    if case.may(0.4):
        case.read("break_search", "breaks_n", case.chance.choice((1, 2, 3)))


def _stain(case: _Case) -> None:
    case.decide("dye_in", case.chance.choice(("brilliant_blue", "brilliant_blue", "trypan_blue")))
    case.do("dye_out")


def _peel(case: _Case) -> None:
    for round_ in range(case.chance.choice((1, 2, 2, 3))):
        if round_ == 0 or case.may(0.7):
            _stain(case)
        case.do("peel_post")
        if round_ == 0 and case.may(0.4):
            case.do("ilm_peel")
        if case.may(0.5):
            case.do("peel_ant")
    if case.may(0.15):
        case.trouble("iatrogenic_tear")
        case.do("break_search")
    stiff = case.may(0.7)
    case.do("pfcl_in")
    if case.may(0.4):
        case.read("pfcl_in", "pfcl_ml", 2)
    case.decide("mobility", "stiff" if stiff else "flat")
    if stiff and case.may(0.5):
        _stain(case)
        case.do("peel_post")
        case.decide("mobility", case.chance.choice(("stiff", "flat")))


def _retinectomy(case: _Case) -> bool:
    if case.may(0.2):
        case.do("sr_band")
    if case.may(0.15):
        case.decide("rx_decide", "none")
        return False
    case.decide("rx_decide", case.chance.choice(("relaxing", "inferior_180", "inferior_180")))
    _cut(case, case.chance.choice((3, 4, 6)))
    extensions = case.chance.choice((0, 1, 1, 2))
    for n in range(extensions):
        _extend(case, last=n == extensions - 1)
    return True


def _extend(case: _Case, *, last: bool) -> None:
    case.decide("rx_decide", "full_360" if last else "inferior_180")
    _cut(case, 12 if last else 8)


def _cut(case: _Case, hours: int) -> None:
    case.do("dia_line", "rx_cut")
    case.read("rx_cut", "cut_hours", hours)
    if case.may(0.7):
        case.do("ant_trim")
    if case.may(0.25):
        case.trouble("edge_bleeding")
    case.do("haemostasis", "edge_check")


def _laser(case: _Case, cut: bool) -> None:
    if cut and case.may(0.6):
        case.do("pfcl_fill")
    case.do("laser_safe", "laser_edge")
    case.read("laser_edge", "laser_rows", 3)
    if case.may(0.4):
        case.do("laser_360")
    if case.may(0.2):
        case.do("cryo")


def _exchange(case: _Case) -> bool:
    """The exchange and what is left in the eye; whether that was gas."""
    oil = case.may(0.65)
    iridotomy = oil and (case.facts["lens"] == "aphakic" or _lens_removed(case))
    case.do("cannula_recheck")
    case.read("cannula_recheck", "tip_seen", "seen")
    if oil and case.may(0.35):
        case.decide("tamp_decide", "oil_light")
        if iridotomy:
            case.do("iridotomy")
        case.do("pfcl_oil", "pfcl_out")
        case.read("pfcl_out", "pfcl_none_seen", value=True)
    else:
        case.do("fax", "pfcl_out")
        case.read("pfcl_out", "pfcl_none_seen", value=True)
        case.do("pfcl_rinse")
        case.decide("tamp_decide", "oil_light" if oil else case.chance.choice(("c3f8", "sf6")))
        if iridotomy:
            case.do("iridotomy")
        case.do("cannula_recheck")
        case.read("cannula_recheck", "tip_seen", "seen")
    if oil:
        case.do("oil_in")
        case.read("oil_in", "oil_viscosity", case.chance.choice(("v1000", "v5000")))
        return False
    if case.facts["anaesthetic"] == "general":
        case.do("n2o_off")
    case.do("gas_check", "gas_in")
    return True


def _lens_removed(case: _Case) -> bool:
    return any(i.step == "lens_out" for i in case.told)


def _close(case: _Case, hooks: bool, light: bool, gas: bool) -> None:
    case.do(*["hooks_out"] * hooks, *["chandelier_out"] * light, "ports_out")
    case.read("ports_out", "ports_out_n", 4 if light else 3)
    case.do("pressure_check")
    case.read("pressure_check", "disc_perfusion", "perfused")
    if case.may(0.3):
        case.told.append(Intention("opened", about="swabs", value=1))
        case.figures["swabs"] += 1
    case.do("drugs_end", "laser_off")
    case.count("count_2")
    case.do("drape_off", "sign_out", "orders")
    if case.may(0.5):
        case.read("orders", "posture", "face_down")
    case.do(*["gas_band"] * gas, "out_theatre")
    if case.may(0.5):
        case.do("debrief")


TEXTBOOK = """
team_brief sign_in
patient_in side_check block iodine drape time_out count_1
ports cannula_check infusion_on chandelier
oil_out pupil lens_none
core_vit hyaloid base_shave break_search
dye_in:brilliant_blue dye_out peel_post ilm_peel peel_ant specimen pfcl_in mobility:stiff
sr_band rx_decide:inferior_180 dia_line rx_cut ant_trim haemostasis edge_check
pfcl_fill laser_safe laser_edge laser_360
cannula_recheck fax pfcl_out pfcl_rinse tamp_decide:c3f8
n2o_off gas_check gas_in
hooks_out chandelier_out ports_out pressure_check drugs_end laser_off count_2 drape_off
sign_out orders gas_band out_theatre debrief
"""
"""Sixty steps in the order of the file: a block, old oil, an implant, a cut, gas. `:x` is what is decided."""

TEXTBOOK_FACTS: Mapping[str, Value] = {
    "anaesthetic": "block", "lens": "pseudophakic", "tamponade_in_situ": "oil_1000",
    "planned_tamponade": "c3f8", "planned_retinectomy": "inferior_180",
}  # fmt: skip


def textbook() -> Iterator[tuple[str, str, str]]:
    """The textbook case: each step, what is decided there, and the step after it."""
    words = [word.partition(":") for word in TEXTBOOK.split()]
    for (step, _, choice), (after, _, _) in zip(words, [*words[1:], words[0]], strict=True):
        yield step, choice, after
