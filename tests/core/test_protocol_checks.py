"""Every cross-check finds its own kind of thing, and only that."""

import pytest

from protocol_files import SOUND, seen
from tracker.core.loading import load_protocol
from tracker.core.loading.checks import CHECKS, remarks

STEPS = "stages.access.steps"
END = "stages.finish.steps"

TWICE = [
    ('id = "finish"', 'id = "access"', "stages.access", "more than one stage"),
    ('id = "count"', 'id = "ports"', f"{END}.ports", "more than one step"),
    ('id = "check"', 'id = "ports"', "anytime.ports", "more than one step"),
    ('id = "consent"\n', 'id = "grade"\n', "facts.grade", "more than one fact"),
    ('id = "view"', 'id = "pressure"', "readings.pressure", "more than one reading"),
    (
        '[{ id = "pressure" }, { id',
        '[{ id = "pressure" }, { id = "pressure" }, { id',
        "anytime.check.readings.pressure",
        "more than one reading",
    ),
    ('{ id = "oil", label', '{ id = "gas", label', "facts.plan.choices.gas", "more than one choice"),
]

ANYTIME_DECISION = """[[anytime]]
id = "asked"
label = "Asked"
key = "A"
shape = "decision"
choices = [{ id = "now", label = "now", key = "y" }, { id = "later", label = "later", key = "v" }]

"""
"""A decision of any time, one answer of which has the key of a step of the first stage."""

KEYS = [
    ('key = "v"', 'key = "t"', f"{STEPS}.already.key", "already that of time_out in the same stage"),
    ('key = "v"', 'key = "P"', f"{STEPS}.already.key", "already that of check, which belongs to no stage"),
    ('key = "v"', 'key = "Q"', f"{STEPS}.already.key", "belongs to the live screen"),
    ('key = "P"', 'key = "x"', "anytime.check.key", "not a capital"),
    (
        'key = "h" },\n]\ncaution',
        'key = "c" },\n]\ncaution',
        "readings.view.choices.hazy.key",
        "already that of clear",
    ),
    (
        'key = "q"',
        'key = "i"',
        f"{END}.tamponade.choices.oil.key",
        "the key i of an answer is also that of iridotomy",
    ),
    ('key = "q"', 'key = "p"', f"{END}.tamponade.choices.oil.key", "also that of tamponade"),
    (
        'key = "q"',
        'key = "2"',
        f"{END}.tamponade.choices.oil.key",
        "also that of a figure",
    ),
    (
        "[[clocks]]",
        f"{ANYTIME_DECISION}[[clocks]]",
        "anytime.asked.choices.later.key",
        "the key v of an answer is also that of already",
    ),
    (
        "[[pairs]]",
        '[[reasons]]\nid = "meant"\nlabel = "meant"\nkey = "f"\n\n[[pairs]]',
        "reasons.forced.key",
        "that of meant",
    ),
    (
        "[[pairs]]",
        '[[complications]]\nid = "tear"\nlabel = "Tear"\nkey = "b"\n\n[[pairs]]',
        "complications.bleed.key",
        "that of tear",
    ),
]

DANGLING = [
    ('planned_minutes_fact = "planned"', 'planned_minutes_fact = "x"', "planned_minutes_fact", "the fact x,"),
    ('consent_fact = "consent"', 'consent_fact = "x"', "consent_fact", "the fact x,"),
    ('side_fact = "eye"', 'side_fact = "x"', "side_fact", "the fact x,"),
    ('{ step = "time_out"', '{ step = "x"', f"{STEPS}.ports.needs.1.step", "the step x,"),
    ('["core", "already"]', '["core", "x"]', f"{END}.tamponade.needs.1.any_step", "the step x,"),
    ('{ pair_closed = "liquid"', '{ pair_closed = "x"', f"{END}.close.needs.1.pair_closed", "the pair x,"),
    ('{ pair_closed = "liquid"', '{ pair_open = "x"', f"{END}.close.needs.1.pair_open", "the pair x,"),
    ('{ step = "ports", edge', '{ step = "x", edge', f"{END}.close.due_again.1.step", "the step x,"),
    ('"pressure", above', '"x", above', "clocks.raised.start.1.reading", "the reading x,"),
    ('{ step = "close" }', '{ step = "x" }', "clocks.raised.stop.2.step", "the step x,"),
    ('amount_from = "pressure"', 'amount_from = "x"', "pairs.liquid.opens.1.amount_from", "the reading x,"),
    ('complication = "bleed"', 'complication = "x"', "pairs.liquid.closes.1.complication", "complication x,"),
    ('by = "close"', 'by = "x"', "pairs.liquid.by", "the step x,"),
    ('{ fact = "planned"', '{ fact = "x"', f"{END}.iridotomy.when.any.2.fact", "the fact x,"),
    ('{ pair = "liquid"', '{ pair = "x"', f"{END}.iridotomy.when.any.1.pair", "the pair x,"),
    ('decision = "tamponade"', 'decision = "x"', f"{END}.iridotomy.when.all.2.decision", "the step x,"),
    (
        '{ decision = "tamponade", choice = ["oil"] }',
        '{ step = "x" }',
        f"{END}.iridotomy.when.all.2.step",
        "step x,",
    ),
    ('sets = [{ fact = "lens"', 'sets = [{ fact = "x"', f"{END}.iridotomy.sets.1.fact", "the fact x,"),
    ('plan_fact = "plan"', 'plan_fact = "x"', f"{END}.tamponade.plan_fact", "the fact x,"),
    ('{ id = "view" }', '{ id = "x" }', "anytime.check.readings.x.id", "the reading x,"),
    ('source = "S1"', 'source = "S1, S31b"', "readings.pressure.source", "the source S31b"),
    ('source = "S1"', 'source = "CP"', "readings.pressure.source", "the source CP"),
]

VALUES = [
    ('choice = ["oil"]', 'choice = ["air"]', f"{END}.iridotomy.when.all.2.choice", "“air”, which tamponade"),
    ('choice = ["aphakic"]', 'choice = ["none"]', f"{END}.iridotomy.when.all.1.choice", "“none”, which lens"),
    (
        'choice = ["aphakic"]',
        "choice = [true]",
        f"{END}.iridotomy.when.all.1.choice",
        "true for lens, a choice",
    ),
    ('choice = ["clear"]', 'choice = ["murky"]', "pairs.liquid.closes.2.choice", "“murky”, which view"),
    (
        'caution_choices = ["hazy"]',
        'caution_choices = ["x"]',
        "readings.view.caution_choices",
        "“x”, which view",
    ),
    ('to = "aphakic"', 'to = "gone"', f"{END}.iridotomy.sets.1.to", "“gone”, which lens"),
    ('default = "phakic"', 'default = "none"', "facts.lens.default", "“none”, which lens"),
    ("default = 120", 'default = "two hours"', "facts.planned.default", "“two hours” for planned, a number"),
    ("default = 120", "default = true", "facts.planned.default", "true for planned, a number"),
    ("default = 120", "default = 5", "facts.planned.default", "5 lies outside the plausible 10 to 480"),
    ("default = false", 'default = "no"', "facts.consent.default", "“no” for consent, a yes or no"),
    ("default = false", "default = 0", "facts.consent.default", "0 for consent, a yes or no"),
    ('"CP3-CA2"', '"D1"', "facts.grade.default", "“D1” for grade, which is no grade"),
    ('"CP3-CA2"', "3", "facts.grade.default", "3 for grade, which is no grade"),
    ('consent_fact = "consent"', 'consent_fact = "lens"', "consent_fact", "lens is of kind choice"),
    ('side_fact = "eye"', 'side_fact = "planned"', "side_fact", "planned is of kind number"),
    ('fact = "planned"\n', 'fact = "consent"\n', "planned_minutes_fact", "consent is of kind flag"),
    (
        'label = "oil", key = "o" },\n]',
        'label = "oil", key = "o" },\n  { id = "air", label = "air", key = "a" },\n]',
        f"{END}.tamponade.plan_fact",
        "choices of plan are not those of tamponade",
    ),
    (
        'plan_fact = "plan"',
        'plan_fact = "consent"',
        f"{END}.tamponade.plan_fact",
        "choices of consent are not",
    ),
]

FIGURES = [
    ("minutes = [1, 5]", "minutes = [5, 1]", f"{STEPS}.ports.minutes", "low end 5 is above the high end 1"),
    ("minutes = [1, 5]", "minutes = [-1, 5]", f"{STEPS}.ports.minutes", "below nought"),
    ("usual = [20, 30]", "usual = [20, 130]", "readings.pressure.usual", "130 lies outside the plausible"),
    ("caution_below = 10", "caution_below = -1", "readings.pressure.caution_below", "-1 lies outside"),
    ("caution_above = 40", "caution_above = 121", "readings.pressure.caution_above", "121 lies outside"),
    ("caution_below = 10", "caution_below = 50", "readings.pressure", "every value is marked"),
    ("amber_s = 120", "amber_s = 300", "clocks.raised.amber_s", "amber at 300 s is not before red at 300 s"),
    ("amber_s = 120\n", "min_s = 120\n", "clocks.raised.min_s", "a least time and a longest"),
    (
        '"pressure", above = 40',
        '"pressure", above = 40, at_most = 40',
        "clocks.raised.start.1",
        "no value is above 40 and at most 40",
    ),
]

SHAPES = [
    ('{ step = "close" }', "{}", "clocks.raised.stop.2", "has none of step, reading, event, complication"),
    (
        '{ step = "close" }',
        '{ step = "close", event = "operator" }',
        "clocks.raised.stop.2",
        "step and event",
    ),
    ('{ step = "time_out", level', "{ level", f"{STEPS}.ports.needs.1", "has none of step, any_step"),
    (
        '{ step = "time_out", level',
        '{ step = "time_out", pair_open = "liquid", level',
        f"{STEPS}.ports.needs.1",
        "step and pair_open",
    ),
    (
        '{ pair = "liquid", state = "ever_open" }',
        "{ negate = true }",
        f"{END}.iridotomy.when.any.1",
        "has none of",
    ),
    (
        '{ pair = "liquid", state = "ever_open" }',
        '{ pair = "liquid" }',
        f"{END}.iridotomy.when.any.1",
        "which state",
    ),
    (
        '"liquid", state = "ever_open"',
        '"liquid", state = "ticked"',
        f"{END}.iridotomy.when.any.1",
        "which state",
    ),
    (
        'pair = "liquid", state = "ever_open"',
        'step = "core", state = "open"',
        f"{END}.iridotomy.when.any.1.state",
        "no such state",
    ),
    ('"planned", at_least = 60', '"planned"', f"{END}.iridotomy.when.any.2", "which values satisfy it"),
    (
        '"lens", choice = ["aphakic"]',
        '"lens", at_least = 1',
        f"{END}.iridotomy.when.all.1.at_least",
        "to a number fact",
    ),
    (
        '"lens", choice',
        '"lens", state = "open", choice',
        f"{END}.iridotomy.when.all.1.state",
        "to a pair or a step",
    ),
    (
        '"liquid", state',
        '"liquid", choice = ["x"], state',
        f"{END}.iridotomy.when.any.1.choice",
        "to a fact or a decision",
    ),
    (
        '"liquid", state',
        '"liquid", at_least = 1, state',
        f"{END}.iridotomy.when.any.1.at_least",
        "to a number fact",
    ),
    (
        'decision = "tamponade"',
        'decision = "core"',
        f"{END}.iridotomy.when.all.2.decision",
        "core is no decision",
    ),
    (
        '{ step = "close" }',
        '{ step = "close", edge = "stop" }',
        "clocks.raised.stop.2.edge",
        "to the stop of a span",
    ),
    (
        '{ step = "close" }',
        '{ step = "close", choice = ["x"] }',
        "clocks.raised.stop.2.choice",
        "to a decision or",
    ),
    (
        '{ step = "close" }',
        '{ step = "close", above = 1 }',
        "clocks.raised.stop.2.above",
        "to a number reading",
    ),
    (
        '{ step = "close" }',
        '{ step = "close", at_most = 1 }',
        "clocks.raised.stop.2.at_most",
        "to a number reading",
    ),
    (
        '{ step = "close" }',
        '{ step = "close", amount = 1 }',
        "clocks.raised.stop.2.amount",
        "to a counted pair",
    ),
    ("counted = true\n", "", "pairs.liquid.opens.1.amount_from", "to a counted pair"),
    (
        'amount_from = "pressure"',
        'amount = 1, amount_from = "pressure"',
        "pairs.liquid.opens.1",
        "amount and amount_from",
    ),
    (
        'amount_from = "pressure"',
        'amount_from = "view"',
        "pairs.liquid.opens.1.amount_from",
        "view, which is no number",
    ),
    (
        '{ step = "time_out", level',
        '{ step = "time_out", until = "stop", level',
        f"{STEPS}.ports.needs.1.until",
        "needs of spans",
    ),
    ('key = "v"', 'key = "v"\n  minutes = [1, 2]', f"{STEPS}.already.minutes", "only to spans"),
    (
        'key = "v"',
        'key = "v"\n  choices = [{ id = "x", label = "x", key = "x" }]',
        f"{STEPS}.already.choices",
        "only to decisions",
    ),
    ('key = "v"', 'key = "v"\n  plan_fact = "plan"', f"{STEPS}.already.plan_fact", "only to decisions"),
    ('key = "v"', 'key = "v"\n  shape = "decision"', f"{STEPS}.already", "has no choices"),
    ('key = "v"', 'key = "v"\n  count = "check"', f"{STEPS}.already.count", "only to counts"),
    ('count = "closing"\n', "", f"{END}.count", "has no count"),
    ('key = "v"', 'key = "v"\n  shape = "reading"', f"{STEPS}.already", "has no readings"),
    ('key = "t"', 'key = "t"\n  group = "clearing"', f"{STEPS}.time_out.group", "only to one_of steps"),
    ('key = "t"', 'key = "t"\n  occurrence = "one_of"', f"{STEPS}.time_out", "has no group"),
    (
        'key = "t"',
        'key = "t"\n  occurrence = "one_of"\n  group = "new"',
        f"{STEPS}.time_out.group",
        "holds this step alone",
    ),
    (
        "default = false",
        'default = false\nchoices = [{ id = "x", label = "x", key = "x" }]',
        "facts.consent.choices",
        "only to choice facts",
    ),
    ("default = false", "default = false\nplausible = [0, 1]", "facts.consent.plausible", "only to numbers"),
    (
        'id = "grade"\nlabel = "Grade"\nkind = "grade"\ndefault = "CP3-CA2"',
        'id = "grade"\nlabel = "Grade"\nkind = "choice"\ndefault = "x"',
        "facts.grade",
        "has no choices",
    ),
    ('caution_choices = ["hazy"]', "usual = [1, 2]", "readings.view.usual", "only to number readings"),
    (
        'unit = "mmHg"',
        'caution_choices = ["x"]',
        "readings.pressure.caution_choices",
        "only to choice readings",
    ),
    (
        'key = "c"\n  occurrence',
        'key = "c"\n  starts_case = true\n  occurrence',
        f"{STEPS}.core.starts_case",
        "not the first",
    ),
    ('key = "i"', 'key = "i"\n  ends_case = true', f"{END}.count.ends_case", "not the first"),
    ('[{ reading = "pressure", above = 40 }]', "[]", "clocks.raised.start", "is empty"),
    ('[{ step = "ports", amount_from = "pressure" }]', "[]", "pairs.liquid.opens", "is empty"),
    ('key = "v"', 'key = "v"\n  when = {}', f"{STEPS}.already.when", "holds no tests"),
    (
        "[[anytime]]",
        '[[stages]]\nid = "empty"\nlabel = "Empty"\nsteps = []\n\n[[anytime]]',
        "stages.empty",
        "the stage empty has no steps",
    ),
    (
        'key = "t"',
        'key = "t"\n  needs = [{ step = "time_out", level = "order", reason = "x" }]',
        f"{STEPS}.time_out.needs",
        "time_out needs itself",
    ),
    (
        'key = "t"',
        'key = "t"\n  needs = [{ step = "core", level = "order", reason = "x" }]',
        f"{STEPS}.time_out.needs",
        "time_out needs core needs ports needs time_out",
    ),
]


def test_the_sound_file_is_sound() -> None:
    """The file that the other tests change has nothing against it."""
    assert load_protocol(SOUND, "small.toml").findings == ()


@pytest.mark.parametrize(
    ("old", "new", "path", "what"),
    [*TWICE, *KEYS, *DANGLING, *VALUES, *FIGURES, *SHAPES],
)
def test_one_change_is_found_where_it_was_made(old: str, new: str, path: str, what: str) -> None:
    """A single slip in a sound file is named at its own place, in words that say what it is."""
    found = seen((old, new))

    assert path in [at for at, _ in found]
    assert any(what in words for at, words in found if at == path), found


@pytest.mark.parametrize(("old", "new", "path", "what"), [*KEYS, *DANGLING, *VALUES, *FIGURES])
def test_one_change_is_found_once(old: str, new: str, path: str, what: str) -> None:
    """A slip in a key, a reference, a value or a figure brings one finding, not a train of them."""
    assert [path] == [at for at, _ in seen((old, new))]


def test_a_source_written_out_is_not_taken_for_a_list() -> None:
    """A sentence with SF6 or UK in it names no source of the list."""
    assert seen(('source = "S1"', 'source = "UK report on SF6 and C3F8"')) == []


def test_a_file_without_stages_is_found() -> None:
    """An empty list of stages is a finding of its own."""
    text = 'format = 1\nid = "a"\nversion = "1"\ntitle = "A"\nstages = []\n'

    assert [finding.path for finding in load_protocol(text, "a.toml").findings] == ["stages"]


def test_an_answer_may_have_the_key_of_a_step_of_another_stage() -> None:
    """Only what is shown beside a decision could be meant by the key of its answer."""
    assert seen(('key = "q"', 'key = "t"')) == []


def test_a_step_may_go_without_a_key() -> None:
    """Keys are for the common steps; the rest are found by their place on the screen."""
    assert seen(('  key = "v"\n', ""), ('  key = "i"\n', "")) == []


@pytest.mark.parametrize("rule", CHECKS, ids=lambda rule: rule.__name__)
def test_rules_say_nothing_about_a_sound_protocol(rule) -> None:
    """Each rule by itself is silent about the sound file."""
    protocol = load_protocol(SOUND, "small.toml").protocol

    assert protocol is not None
    assert list(rule(protocol)) == []
    assert list(remarks(protocol)) == []
