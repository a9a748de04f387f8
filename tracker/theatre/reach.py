"""What a letter means: the steps on the screen, and where a letter finds its step.

What is on the screen is ticked at once. A letter whose step is not there is looked for in the stage behind the one
shown, in the one ahead, then further behind, and asks for itself once more. So no letter writes what nobody can see,
and within three neighbouring stages a letter of a sound file means one step.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from tracker.core.case import Case, due_marks, in_case, need_met, running_tick, status
from tracker.core.deviations import need_words
from tracker.core.protocol import Pair, Step
from tracker.theatre.path import is_expected


class OnScreen(Struct, frozen=True, gc=False):
    """The steps that are on the screen, by id: those of the stage, those beside them, those of the next stage."""

    stage: tuple[str, ...]
    beside: tuple[str, ...]
    ahead: tuple[str, ...]

    @property
    def steps(self) -> tuple[str, ...]:
        """All of them, those of the stage first."""
        return (*self.stage, *self.beside, *self.ahead)


def on_screen(case: Case, stage: int) -> OnScreen:
    """What is on the screen while a stage, by its place, is shown."""
    own = tuple(s.id for s in case.protocol.stages[stage].steps)
    beside = tuple(s for s in dict.fromkeys(_beside(case, stage)) if s not in own)
    ahead = tuple(s for s in _ahead(case, stage) if s not in beside)
    return OnScreen(own, beside, ahead)


def _beside(case: Case, stage: int) -> Iterator[str]:
    """Steps of other stages: those of an open loop, in the order of the file, what runs, what is due again."""
    shown, protocol = case.protocol.stages[stage].id, case.protocol
    looping = {
        step
        for loop in protocol.loops
        if shown in loop.stages and any(case.state(s).ticks for s in loop.steps)
        for step in loop.steps
    }
    for ident in protocol.stage_of:
        step, state = protocol.step[ident], case.state(ident)
        if ident in looping or (state.ticks and running_tick(step, state)) or due_marks(case, step):
            yield ident


def settled(case: Case, stage: int) -> bool:
    """Whether nothing of a stage is due: every step is done, decided against, optional or not in the case."""
    steps = case.protocol.stages[stage].steps
    return not any(is_expected(case, s) or status(case, s) == "running" for s in steps)


def _ahead(case: Case, stage: int) -> tuple[str, ...]:
    """The steps of the next stage that has any in this case, once nothing of this one is due."""
    if not settled(case, stage):
        return ()
    later = (
        tuple(s.id for s in after.steps if in_case(case, s)) for after in case.protocol.stages[stage + 1 :]
    )
    return next((steps for steps in later if steps), ())


def step_of(case: Case, stage: int, on: OnScreen, key: str) -> Step | None:
    """The step that a key means: on the screen, of no stage, in the stage behind, the one ahead, further behind."""
    protocol, stages = case.protocol, case.protocol.stages
    shown = [protocol.step[s] for s in on.steps]
    near = (*stages[max(0, stage - 1) : stage], *stages[stage + 1 : stage + 2])
    others = (s for other in (*near, *reversed(stages[: max(0, stage - 1)])) for s in other.steps)
    return next((s for s in (*shown, *protocol.anytime, *others) if s.key == key), None)


def _only_closes(pair: Pair, step: Step) -> bool:
    """Whether a tick of a step can do no more to a pair than close it."""
    return any(t.step == step.id for t in pair.closes) and all(t.step != step.id for t in pair.opens)


def doubt(case: Case, on: OnScreen, step: Step) -> str:
    """Why a step asks for its key once more, in words; nothing where it is ticked at once.

    What runs is stopped and what is due is ticked at once, wherever it belongs. A span that repeats, a further cut
    say, is started at once; a point ticked already is ticked again only if the key is meant.
    """
    state = case.state(step.id)
    if running_tick(step, state):
        return ""
    if step.id in case.protocol.stage_of and step.id not in on.steps:
        return f"it belongs to stage {case.protocol.stage_index[case.protocol.stage_of[step.id]] + 1}"
    if not in_case(case, step):
        return "it is not in this case as things stand"
    weighs = ("safety",) if step.shape == "span" else ("safety", "order")
    unmet = next((n for n in step.needs if n.level in weighs and not need_met(case, n)), None)
    if unmet is not None:
        return f"your file asks for {need_words(case.protocol, unmet)}"
    shut = next((p for p in case.protocol.pairs if _only_closes(p, step) and not case.pairs[p.id].open), None)
    if shut is not None and not state.done:
        return f"{shut.label} is {shut.closed_word} already"
    again = step.may_repeat and (step.shape == "span" or step.id not in case.protocol.stage_of)
    if state.done and not again and not due_marks(case, step):
        return "it was ticked already"
    return ""
