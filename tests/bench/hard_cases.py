"""Seeded hard cases as a person means them.

What is drawn: the eye and its lens, old oil or none, how often it is stained and peeled, whether the retina
flattens, the cut and up to two extensions to 360 degrees, the way of the exchange, oil or gas, what goes wrong
and who comes and goes.
"""

from __future__ import annotations

from random import Random

from bench.intentions import COUNTED, CaseInMaking, HardCase, Intention

OILS = ("oil_1000", "oil_2000", "oil_5000", "oil_other")


def hard_case(seed: str) -> HardCase:
    """The hard case of a seed."""
    case = CaseInMaking(Random(seed))
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


def _facts(case: CaseInMaking) -> None:
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


def _before_theatre(case: CaseInMaking) -> None:
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


def _access(case: CaseInMaking, oil_before: bool) -> tuple[bool, bool]:
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


def _vitrectomy(case: CaseInMaking, *, again: bool) -> None:
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


def _stain(case: CaseInMaking) -> None:
    case.decide("dye_in", case.chance.choice(("brilliant_blue", "brilliant_blue", "trypan_blue")))
    case.do("dye_out")


def _peel(case: CaseInMaking) -> None:
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


def _retinectomy(case: CaseInMaking) -> bool:
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


def _extend(case: CaseInMaking, *, last: bool) -> None:
    case.decide("rx_decide", "full_360" if last else "inferior_180")
    _cut(case, 12 if last else 8)


def _cut(case: CaseInMaking, hours: int) -> None:
    case.do("dia_line", "rx_cut")
    case.read("rx_cut", "cut_hours", hours)
    if case.may(0.7):
        case.do("ant_trim")
    if case.may(0.25):
        case.trouble("edge_bleeding")
    case.do("haemostasis", "edge_check")


def _laser(case: CaseInMaking, cut: bool) -> None:
    if cut and case.may(0.6):
        case.do("pfcl_fill")
    case.do("laser_safe", "laser_edge")
    case.read("laser_edge", "laser_rows", 3)
    if case.may(0.4):
        case.do("laser_360")
    if case.may(0.2):
        case.do("cryo")


def _exchange(case: CaseInMaking) -> bool:
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


def _lens_removed(case: CaseInMaking) -> bool:
    return any(i.step == "lens_out" for i in case.told)


def _close(case: CaseInMaking, hooks: bool, light: bool, gas: bool) -> None:
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
