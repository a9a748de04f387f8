"""Counts ticked and not said: no need is met by them, and they are deviations by when they were due."""

from __future__ import annotations

from story import case_of, codes_in, found_in, lines_of, only, protocol_of
from tracker.core.deviations import deviations, open_counts

COUNTS = protocol_of("""
[[counted]]
id = "swab"
label = "Swabs"
[[counted]]
id = "blade"
label = "Blades"
[[stages]]
id = "stage"
label = "Stage"
[[stages.steps]]
id = "count_1"
label = "First count"
shape = "count"
count = "opening"
[[stages.steps]]
id = "ports"
label = "Ports in"
occurrence = "optional"
needs = [{ step = "count_1", level = "safety", reason = "counted before it is used" }]
[[stages.steps]]
id = "count_2"
label = "Closing count"
shape = "count"
count = "closing"
occurrence = "optional"
due_again = [{ event = "count_changed", reason = "an item was opened since" }]
[[stages.steps]]
id = "drapes"
label = "Drapes off"
occurrence = "optional"
needs = [{ step = "count_2", level = "safety", reason = "counts match" }]
[[stages.steps]]
id = "sign_out"
label = "Sign-out"
occurrence = "optional"
needs = [{ step = "count_2", level = "safety", reason = "the counts are part of it" }]
[[stages.steps]]
id = "out"
label = "Patient out"
ends_case = true
occurrence = "optional"
[[anytime]]
id = "check"
label = "Count checked"
shape = "count"
count = "check"
occurrence = "optional"
repeats = true
""")

FIRST = "09:00:00 tick count_1\n"
SAID = f"{FIRST}09:01:00 count 1 swab=10 blade=2\n"


def _open(story: str) -> list[str]:
    return [c.words(COUNTS) for c in open_counts(case_of(COUNTS, story))]


def test_a_count_without_figures_meets_no_need() -> None:
    """A first count ticked and not said is a safety deviation at the step that needs it, and one line."""
    [line] = lines_of(case_of(COUNTS, f"{FIRST}09:10:00 tick ports"))

    assert (line.key, line.code, line.level) == ("count_unsaid:count_1:1", "count_unsaid", "safety")
    assert (line.seq, line.expected, line.found) == (2, "figures by Ports in", "figures not given")
    [need] = line.beneath
    assert (need.code, need.found) == ("prereq_missing", "ticked at 09:00:00, figures not given")


def test_a_count_that_was_said_meets_the_need() -> None:
    """With its figures said before, nothing differs."""
    assert codes_in(case_of(COUNTS, f"{SAID}09:10:00 tick ports\n10:00:00 tick out")) == []


def test_two_steps_that_need_one_unsaid_count_are_one_line() -> None:
    """Drapes off and sign-out after a closing count without figures: one line, the two needs beneath it."""
    story = f"{SAID}10:00:00 tick count_2\n10:05:00 tick drapes\n10:06:00 tick sign_out\n10:10:00 tick out"
    [line] = lines_of(case_of(COUNTS, story))

    assert (line.key, line.expected) == ("count_unsaid:count_2:3", "figures by Drapes off")
    assert [d.step for d in line.beneath] == ["drapes", "sign_out"]


def test_nothing_needs_it_so_it_is_due_by_the_end() -> None:
    """A count that nothing needed by the end of the case is due by then, also when the case stopped early."""
    usual = only(case_of(COUNTS, f"{FIRST}10:00:00 tick out"), "count_unsaid")
    early = only(case_of(COUNTS, f"{FIRST}09:30:00 stop_early collapse"), "count_unsaid")

    assert (usual.seq, usual.expected) == (2, "figures by Patient out")
    assert (early.seq, early.expected) == (2, "figures by the end of the case")
    assert found_in(case_of(COUNTS, FIRST), "count_unsaid") == ()


def test_figures_given_too_late_stay_a_deviation() -> None:
    """Said after they were due, figures close what is open, and the line says when they came."""
    story = f"{FIRST}09:10:00 tick ports\n09:20:00 count 1 swab=10 blade=2"
    [line] = lines_of(case_of(COUNTS, story))

    assert (line.code, line.found) == ("count_unsaid", "given at 09:20:00")
    assert line.beneath[0].found == "ticked at 09:00:00, figures given at 09:20:00"
    assert _open(story) == []


def test_what_is_open_names_the_count() -> None:
    """A count without figures is open from its tick until they are said."""
    assert _open(FIRST) == ["First count 09:00: figures not given"]
    assert _open(SAID) == []


def test_a_line_left_blank_at_the_first_count_is_open_and_no_deviation() -> None:
    """Blades never used want no figure; that none was said at the first count stays in what is open."""
    story = f"{FIRST}09:01:00 count 1 swab=10\n09:10:00 tick ports\n"

    assert _open(story) == ["First count 09:00: no figure for Blades"]
    done = "10:00:00 tick count_2\n10:01:00 count 4 swab=10\n10:05:00 tick drapes\n10:10:00 tick out"
    assert codes_in(case_of(COUNTS, story + done)) == []


def test_a_line_in_use_left_blank_at_the_closing_count_is_named() -> None:
    """Blades counted at first and left out at the closing count: the need is not met, and they are named."""
    story = f"{SAID}10:00:00 tick count_2\n10:01:00 count 3 swab=10\n10:05:00 tick drapes"
    [line] = lines_of(case_of(COUNTS, story))

    assert (line.code, line.found) == ("count_unsaid", "no figure for Blades")
    assert [d.step for d in line.beneath] == ["drapes"]
    assert _open(story) == ["Closing count 10:00: no figure for Blades"]


def test_a_line_said_only_later_was_left_out_at_the_first_count() -> None:
    """Two blades said at the closing count, none at the first and none opened: the first left them out."""
    story = f"{FIRST}09:01:00 count 1 swab=10\n09:10:00 tick ports\n10:00:00 tick count_2\n"
    line = only(case_of(COUNTS, f"{story}10:01:00 count 4 swab=10 blade=2"), "count_unsaid")

    assert (line.step, line.found, line.seq) == ("count_1", "no figure for Blades", 3)
    opened = case_of(COUNTS, f"{story}10:01:00 count 4 swab=10 blade=2\n10:02:00 blade +1")
    assert only(opened, "count_unsaid").key == line.key


def test_a_line_opened_after_the_first_count_wants_none_there() -> None:
    """Blades opened later and counted at closing make no gap in the first count."""
    story = f"{FIRST}09:01:00 count 1 swab=10\n09:10:00 tick ports\n09:30:00 blade +2\n"
    closing = "10:00:00 tick count_2\n10:01:00 count 5 swab=10 blade=2\n10:05:00 tick drapes\n"

    assert codes_in(case_of(COUNTS, f"{story}{closing}10:10:00 tick out")) == []


def test_a_line_that_came_into_use_after_a_count_was_not_missing_at_it() -> None:
    """Blades opened once the drapes were off make the closing count due again, not incomplete by the drapes."""
    closed = f"{FIRST}09:01:00 count 1 swab=10\n10:00:00 tick count_2\n10:01:00 count 3 swab=10\n"
    story = f"{closed}10:05:00 tick drapes\n10:06:00 blade +2\n"

    assert codes_in(case_of(COUNTS, story)) == []
    assert [words for words in _open(story) if words.startswith("Closing")] == []


def test_a_check_in_between_is_dealt_with_by_a_later_count() -> None:
    """A check without figures is open until any later count is said; the closing count closes it."""
    story = f"{SAID}09:30:00 tick check\n"

    assert _open(story) == ["Count checked 09:30: figures not given"]
    closed = f"{story}10:00:00 tick count_2\n10:01:00 count 4 swab=10 blade=2\n"
    assert _open(closed) == []
    assert codes_in(case_of(COUNTS, f"{closed}10:10:00 tick out")) == []


def test_a_count_ticked_again_by_mistake_asks_for_nothing_more() -> None:
    """Once said, a further tick of the same count that was not due again leaves its figures standing."""
    case = case_of(COUNTS, f"{SAID}09:02:00 tick count_1\n09:10:00 tick ports")

    assert codes_in(case) == [("repeated", "count_1")]


def test_a_count_due_again_asks_for_its_figures_again() -> None:
    """Items opened after the closing count make it due again: ticked without figures it is not said."""
    first = f"{SAID}10:00:00 tick count_2\n10:01:00 count 3 swab=10 blade=2\n10:02:00 swab +5\n"
    line = only(case_of(COUNTS, f"{first}10:03:00 tick count_2\n10:05:00 tick drapes"), "count_unsaid")

    assert (line.key, line.found) == ("count_unsaid:count_2:6", "figures not given")


def test_figures_struck_were_never_given() -> None:
    """A strike of the figures leaves the count open again."""
    assert _open(f"{SAID}09:02:00 strike 2") == ["First count 09:00: figures not given"]


def test_the_key_stays_while_the_case_goes_on() -> None:
    """From the step that needed it to the end of the case the line keeps its key and its reason."""
    story = f"{FIRST}09:10:00 tick ports\n09:11:00 reason count_unsaid:count_1:1 teaching\n"
    for told in (story, f"{story}09:20:00 count 1 swab=10\n10:00:00 tick out"):
        case = case_of(COUNTS, told)
        [line] = deviations(case, case.last_t)
        assert line.key == "count_unsaid:count_1:1"
        assert line.given is not None
        assert line.given.reason == "teaching"


def test_without_counted_lines_a_tick_is_all_there_is() -> None:
    """A file that names no lines asks for no figures."""
    bare = protocol_of("""
    [[stages]]
    id = "stage"
    label = "Stage"
    [[stages.steps]]
    id = "count_1"
    label = "First count"
    shape = "count"
    count = "opening"
    [[stages.steps]]
    id = "out"
    label = "Out"
    ends_case = true
    needs = [{ step = "count_1", level = "safety", reason = "counted" }]
    """)

    assert codes_in(case_of(bare, f"{FIRST}10:00:00 tick out")) == []
