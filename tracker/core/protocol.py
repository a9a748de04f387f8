"""A protocol file as frozen values: the stages and steps of one procedure, and what belongs beside them.

The words are the trade's. Times are minutes where the file says `minutes` and seconds where it says
`_s`; a range is `[low, high]`, both ends included. Nothing here blocks anything in theatre: a `need`
that is not met becomes a deviation, never a refusal.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Annotated, Any, Final, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from tracker.core.text import looks_like_markup, unshowable

FORMAT: Final = 1
"""The newest file format this program reads."""

RESERVED_KEYS: Final = frozenset("Q")
"""Letters the live screen keeps for itself; every other letter may be a step's."""


def _plain(text: str) -> str:
    if bad := unshowable(text.replace("\n", " ")):
        raise ValueError(f"holds characters that cannot be shown ({', '.join(bad[:5])})")
    if looks_like_markup(text):
        raise ValueError("holds text that looks like markup; write round brackets or words")
    if text != text.strip():
        raise ValueError("begins or ends with blank space")
    return text


Id = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{0,39}$")]
Slug = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9\-]{0,39}$")]
Label = Annotated[str, StringConstraints(min_length=1, max_length=72), AfterValidator(_plain)]
Prose = Annotated[str, StringConstraints(max_length=1200), AfterValidator(_plain)]
Unit = Annotated[str, StringConstraints(max_length=16), AfterValidator(_plain)]
StepKey = Annotated[str, StringConstraints(pattern=r"^[A-Za-z]$")]
ChoiceKey = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]$")]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-1e9, le=1e9)]
Whole = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]
Flag = Annotated[bool, Field(strict=True)]
Seconds = Annotated[float, Field(strict=True, gt=0, le=172_800, allow_inf_nan=False)]
Range = tuple[Number, Number]
Value = Flag | Number | Annotated[str, StringConstraints(max_length=80), AfterValidator(_plain)]

Level = Literal["safety", "order", "note"]
Shape = Literal["point", "span", "decision", "reading", "count"]
Occurrence = Literal["once", "repeat", "optional", "one_of"]


class Part(BaseModel):
    """Anything in a protocol file: frozen, and an unknown key in it is a finding."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Choice(Part):
    """One answer of a closed question, with the key that gives it."""

    id: Id
    label: Label
    key: ChoiceKey


class Fact(Part):
    """A case fact asked before the start; it switches conditional steps and feeds the audit.

    `kind` is `choice` (one of `choices`), `number` (inside `plausible`), `flag` (yes or no) or `grade`
    (a proliferative vitreoretinopathy grade such as CP3-CA2). One without a default must be chosen before a
    case starts, as the side of the eye is: nothing is assumed of it.
    """

    id: Id
    label: Label
    kind: Literal["choice", "number", "flag", "grade"]
    choices: tuple[Choice, ...] = ()
    default: Value | None = None
    unit: Unit = ""
    plausible: Range | None = None
    source: Prose = ""
    remark: Prose = ""


class Reading(Part):
    """A value with a unit. `plausible` guards the typing; outside the caution limits it is marked."""

    id: Id
    label: Label
    kind: Literal["number", "choice", "flag"] = "number"
    unit: Unit = ""
    choices: tuple[Choice, ...] = ()
    plausible: Range | None = None
    usual: Range | None = None
    caution_below: Number | None = None
    caution_above: Number | None = None
    caution_total_above: Number | None = None
    caution_choices: tuple[Id, ...] = ()
    source: Prose = ""
    remark: Prose = ""


class Trigger(Part):
    """Something that happens in a case and moves a clock, a pair or a step.

    Exactly one of `step`, `reading`, `event`, `complication`. `edge` says which end of a span counts;
    a point has only one. `choice` narrows a decision step or a choice reading; `above` and `at_most`
    narrow a number. `amount` and `amount_from` say how many a counted pair gains or loses.
    """

    step: Id | None = None
    edge: Literal["start", "stop"] = "start"
    reading: Id | None = None
    event: Literal["handover_unconfirmed", "count_changed", "operator"] | None = None
    complication: Id | None = None
    choice: tuple[Id, ...] = ()
    above: Number | None = None
    at_most: Number | None = None
    amount: Whole | None = None
    amount_from: Id | None = None


class DueAgain(Trigger):
    """A trigger after which a step already ticked is due once more, with the reason."""

    reason: Prose


class Test(Part):
    """One test of a condition: exactly one of `fact`, `decision`, `pair`, `step`.

    `choice` lists the values that satisfy it; `at_least` is for number facts; `state` is for a pair
    (`open`, `ever_open`) or a step (`ticked`). `negate` turns it round.
    """

    __test__ = False  # not a test case, whatever a collector thinks of the name

    fact: Id | None = None
    decision: Id | None = None
    pair: Id | None = None
    step: Id | None = None
    choice: tuple[Value, ...] = ()
    at_least: Number | None = None
    state: Literal["open", "ever_open", "ticked"] | None = None
    negate: Flag = False


class Condition(Part):
    """When a step belongs to the case: every test of `all` and, if given, at least one of `any`."""

    all: tuple[Test, ...] = ()
    any: tuple[Test, ...] = ()


class Need(Part):
    """What usually or necessarily comes first. Exactly one of `step`, `any_step`, `pair_open`, `pair_closed`.

    `until` says which end of a span meets it. `level` is the file's, never computed.
    """

    step: Id | None = None
    any_step: tuple[Id, ...] = ()
    pair_open: Id | None = None
    pair_closed: Id | None = None
    until: Literal["start", "stop"] = "start"
    level: Literal["safety", "order"]
    reason: Prose


class Wanted(Part):
    """A reading that belongs to a step; `required` makes its absence a deviation."""

    id: Id
    required: Flag = False


class Sets(Part):
    """A fact that ticking the step changes, as the lens once it has been removed."""

    fact: Id
    to: Value


class Step(Part):
    """One unit that is ticked.

    `occurrence` is `once`, `repeat` (once or more), `optional`, or `one_of` a `group`; `when` makes any
    of them conditional. `minutes` is the expected total of a span. `plan_fact` names the fact that holds
    the plan of a decision: until the choice is stated the plan stands.
    """

    id: Id
    label: Label
    key: StepKey | None = None
    shape: Shape = "point"
    occurrence: Occurrence = "once"
    group: Id | None = None
    repeats: Flag = False
    when: Condition | None = None
    needs: tuple[Need, ...] = ()
    due_again: tuple[DueAgain, ...] = ()
    minutes: Range | None = None
    readings: tuple[Wanted, ...] = ()
    choices: tuple[Choice, ...] = ()
    plan_fact: Id | None = None
    sets: tuple[Sets, ...] = ()
    count: Literal["opening", "closing", "check"] | None = None
    starts_case: Flag = False
    ends_case: Flag = False
    source: Prose = ""
    remark: Prose = ""

    @property
    def may_repeat(self) -> bool:
        """Whether a further tick is expected rather than a deviation."""
        return self.repeats or self.occurrence == "repeat"


class Stage(Part):
    """A group of steps in the usual order. Stages overlap in life; the file only says what is usual."""

    id: Id
    label: Label
    steps: tuple[Step, ...]
    source: Prose = ""
    remark: Prose = ""


class Loop(Part):
    """Steps that come round together. Once one of them was entered all stay on the screen in `stages`."""

    id: Id
    steps: tuple[Id, ...]
    stages: tuple[Id, ...]
    remark: Prose = ""


class Clock(Part):
    """A running time between two triggers: too short under `min_s`, marked from `amber_s` and `red_s`."""

    id: Id
    label: Label
    start: tuple[Trigger, ...]
    stop: tuple[Trigger, ...]
    min_s: Seconds | None = None
    amber_s: Seconds | None = None
    red_s: Seconds | None = None
    level: Level = "note"
    source: Prose = ""
    remark: Prose = ""


class Pair(Part):
    """Something that goes in and must come out, or opens and must close, by the time `by` is ticked."""

    id: Id
    label: Label
    opens: tuple[Trigger, ...]
    closes: tuple[Trigger, ...]
    by: Id
    counted: Flag = False
    open_word: Label = "in"
    closed_word: Label = "out"
    level: Level = "safety"
    source: Prose = ""
    remark: Prose = ""


class Counted(Part):
    """A line of accountable items. The count board decides; this only writes down what was said."""

    id: Id
    label: Label


class Reason(Part):
    """Why a deviation came about: one of a closed list, one key each."""

    id: Id
    label: Label
    key: ChoiceKey


class Complication(Part):
    """A complication of a closed list; free text may stand beside it."""

    id: Id
    label: Label
    key: ChoiceKey | None = None
    source: Prose = ""


class Role(Part):
    """A post in theatre. Staff are recorded by role, never by name."""

    id: Id
    label: Label
    post: Literal["circulating", "operator", "other"]


class Protocol(Part):
    """A whole procedure: the value of one protocol file.

    `side_fact` names the fact, a choice, that says which eye is operated on; the screens show it large.

    Source: the semantics are those of staged theatre protocols as vitreoretinal units use them; each
    figure's own source stands in the file.
    """

    format: Annotated[int, Field(strict=True, ge=1)]
    id: Slug
    version: Annotated[str, StringConstraints(pattern=r"^[0-9A-Za-z][0-9A-Za-z.\-]{0,19}$")]
    title: Label
    reviewed_by: Annotated[str, StringConstraints(max_length=120), AfterValidator(_plain)] = ""
    summary: Prose = ""
    sources: Mapping[Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9]{1,12}$")], Prose] = Field(
        default_factory=dict
    )
    planned_minutes_fact: Id | None = None
    list_position_fact: Id | None = None
    consent_fact: Id | None = None
    side_fact: Id | None = None
    facts: tuple[Fact, ...] = ()
    roles: tuple[Role, ...] = ()
    readings: tuple[Reading, ...] = ()
    counted: tuple[Counted, ...] = ()
    stages: tuple[Stage, ...]
    anytime: tuple[Step, ...] = ()
    loops: tuple[Loop, ...] = ()
    clocks: tuple[Clock, ...] = ()
    pairs: tuple[Pair, ...] = ()
    reasons: tuple[Reason, ...] = ()
    complications: tuple[Complication, ...] = ()

    def all_steps(self) -> Iterator[Step]:
        """Every step in file order, those of no stage last."""
        for stage in self.stages:
            yield from stage.steps
        yield from self.anytime

    @cached_property
    def step(self) -> Mapping[str, Step]:
        """Steps by id."""
        return {s.id: s for s in self.all_steps()}

    @cached_property
    def stage_of(self) -> Mapping[str, str]:
        """The id of the stage of each staged step; steps of no stage are absent."""
        return {s.id: stage.id for stage in self.stages for s in stage.steps}

    @cached_property
    def stage_index(self) -> Mapping[str, int]:
        """The place of each stage in the file, from 0."""
        return {stage.id: i for i, stage in enumerate(self.stages)}

    @cached_property
    def groups(self) -> Mapping[str, tuple[str, ...]]:
        """The steps of each `one_of` group."""
        found: dict[str, tuple[str, ...]] = {}
        for s in self.all_steps():
            if s.group:
                found[s.group] = (*found.get(s.group, ()), s.id)
        return found

    @cached_property
    def conditional(self) -> tuple[Step, ...]:
        """The steps that belong to a case only under a condition, those of a group left out."""
        return tuple(s for s in self.all_steps() if s.when is not None and not s.group)

    @cached_property
    def decisions(self) -> tuple[Step, ...]:
        """The steps at which something is decided."""
        return tuple(s for s in self.all_steps() if s.shape == "decision")

    @cached_property
    def fact(self) -> Mapping[str, Fact]:
        """Facts by id."""
        return {f.id: f for f in self.facts}

    @cached_property
    def defaults(self) -> Mapping[str, Value]:
        """What is taken of each fact that has a default, until something else is said."""
        return {f.id: f.default for f in self.facts if f.default is not None}

    @cached_property
    def reading(self) -> Mapping[str, Reading]:
        """Readings by id."""
        return {r.id: r for r in self.readings}

    @cached_property
    def clock(self) -> Mapping[str, Clock]:
        """Clocks by id."""
        return {c.id: c for c in self.clocks}

    @cached_property
    def pair(self) -> Mapping[str, Pair]:
        """Pairs by id."""
        return {p.id: p for p in self.pairs}

    @cached_property
    def labels(self) -> Mapping[str, str]:
        """The label of every id in the file: steps first, so that a step's own name wins."""
        parts: list[Any] = [*self.roles, *self.complications, *self.reasons, *self.counted]
        parts += [*self.pairs, *self.clocks, *self.readings, *self.facts, *self.stages, *self.all_steps()]
        return {p.id: p.label for p in parts}

    def label(self, ident: str) -> str:
        """The label of an id, or the id itself where the file does not know it."""
        return self.labels.get(ident, ident)
