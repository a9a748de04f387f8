"""The audit's screen without a screen: filters on the left, a question on the right, at three sizes."""

from __future__ import annotations

from concurrent.futures import Future
from datetime import date

import pytest
from rich.cells import cell_len

from audit_archives import archive
from audit_reports import at_once
from tracker.audit.choices import quarter
from tracker.audit.conventions import shipped
from tracker.audit.desk import SHOWN, AuditDesk
from tracker.audit.keys import COMMANDS
from tracker.audit.population import Filters
from tracker.audit.report.as_text import grid_lines
from tracker.audit.report.drawn import draw
from tracker.audit.report.sheet import Bar, Bars, Box, Boxes, Grid, Run
from tracker.audit.worker import Offered, Worker
from tracker.screen.app import TheatreApp
from tracker.screen.commands import keys_of
from tracker.screen.lines import Size

SIZES = [Size(80, 24), Size(120, 40), Size(200, 60)]
OFFERED = Offered(
    ("complex-pvr",), ("2026.1",), date(2024, 1, 1), date(2024, 5, 2), {"lens": ("phakic", "pseudophakic")}
)


@pytest.fixture(scope="module")
def ask(many):
    """What answers questions about eighty invented cases before the screen looks again, each once."""
    held = {}
    with Worker(many.folder / "tables", shipped()) as worker:

        def once(filters, key):
            name = f"{filters!r} {key}"
            if name not in held:
                held[name] = worker.ask(filters, key)
                held[name].result()
            return held[name]

        yield once


def text(desk, size):
    """The screen as text."""
    return "\n".join("".join(piece for piece, _ in line).rstrip() for line in desk.draw(size))


def press(desk, *keys):
    """Press keys, drawing after each as the screen does."""
    for key in keys:
        desk.press(key)
        desk.draw(SIZES[0])


def go(desk, key):
    """Go to a question by the list of questions."""
    press(desk, "q", "abcdefghijklmnopqrstuvwxyz"[SHOWN.index(key)])


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_every_question_fits_every_size(ask, size):
    """Drawn or as tables, each screen has as many lines as it is tall, each as wide as it is."""
    desk = AuditDesk(ask, OFFERED)
    for key in ("completeness", "stage_lengths", "course", "deviations", "starts", "precedence"):
        go(desk, key)
        for _ in range(2):
            lines = desk.draw(size)
            assert len(lines) == size.height
            assert {sum(cell_len(piece) for piece, _ in line) for line in lines} == {size.width}
            desk.press("t")


def test_filters_left_figure_right(ask):
    """The population stands under the filters; question, n, and shares stand over the figure."""
    shown = text(AuditDesk(ask, OFFERED), SIZES[1])

    assert ">protocol: any" in shown
    assert "80 of 80 invented cases" in shown
    assert f"1/{len(SHOWN)} How complete are the logs?" in shown
    assert "n 80 cases; spans without both ends" in shown


def test_the_small_cell_rule_is_on_every_page_in_a_sentence(ask):
    """What stands for numbers kept back is said under each figure, in one sentence."""
    desk = AuditDesk(ask, OFFERED)
    lines = text(desk, SIZES[1]).splitlines()
    (first,) = (n for n, line in enumerate(lines) if "| <5, all but <5, 5+: 1 to 4 cases" in line)

    assert lines[first + 1].endswith("back.")


def test_a_filter_changes_what_is_asked(ask):
    """Down and Enter choose a value, the population follows, and 0 takes it back."""
    desk = AuditDesk(ask, OFFERED)
    press(desk, "down", "down", "down", "down", "enter")

    assert desk.filters.facts == {"lens": ("phakic",)}
    assert "with another lens than phakic" in " ".join(text(desk, SIZES[2]).split())
    press(desk, "-")
    assert desk.filters == Filters()
    press(desk, "enter", "enter", "0")
    assert desk.filters == Filters()


def test_what_the_command_line_gave_is_where_filters_begin(ask):
    """Given filters are the first values; a fact with no list of values stays as given."""
    given = Filters("complex-pvr", first_day=date(2024, 2, 1), facts={"lens": ("phakic",), "eye": ("left",)})

    assert AuditDesk(ask, OFFERED, given).filters == given


def test_days_go_by_quarters():
    """A quarter is its first and its last day."""
    assert quarter("2024 Q1") == (date(2024, 1, 1), date(2024, 3, 31))
    assert quarter("2023 Q4") == (date(2023, 10, 1), date(2023, 12, 31))


def test_keys_come_from_one_table(ask):
    """The key sheet has every command; a key that means nothing is answered in words."""
    desk = AuditDesk(ask, OFFERED)
    desk.press("?")
    sheet = text(desk, SIZES[1])

    for command in COMMANDS:
        assert command.does in sheet
        assert keys_of(command) in sheet
    desk.press("?")
    desk.press("z")
    assert "z: nothing here has this key" in text(desk, SIZES[0])


def test_each_command_does_something(ask):
    """No command of the table is without an act."""
    for command in COMMANDS:
        desk = AuditDesk(ask, OFFERED)
        desk.press(command.key)
        assert desk.left == (command.id == "leave")


def test_a_long_figure_is_read_on(ask):
    """What does not fit is said to be there; the full stop goes down and the comma up."""
    desk = AuditDesk(ask, OFFERED)
    go(desk, "step_lengths")
    first = text(desk, SIZES[0])
    press(desk, ".")
    second = text(desk, SIZES[0])

    assert "more lines below: .)" in first
    assert first != second
    press(desk, ",")
    assert text(desk, SIZES[0]) == first


def test_no_key_waits_for_an_engine():
    """Until there is an answer that is said, and keys go on; a refusal is said too."""
    asked: list[Future] = []

    def slow(_filters, _key):
        asked.append(Future())
        return asked[-1]

    desk = AuditDesk(slow, OFFERED)
    assert "asking ..." in text(desk, SIZES[0])
    press(desk, "right")
    assert "2/" in text(desk, SIZES[0])
    asked[-1].set_exception(OSError("the disk is away"))
    assert "not answered: the disk is away" in text(desk, SIZES[0])


def test_only_what_is_shown_is_waited_for():
    """Values gone through on the way to another are not asked when their turn comes; an answer is kept."""
    asked = []

    def later(_filters, key):
        asked.append(Future())
        return asked[-1]

    desk = AuditDesk(later, OFFERED)
    press(desk, "down")
    asked[0].set_running_or_notify_cancel()
    press(desk, "down", "down", "down", "enter", "enter")

    assert [each.cancelled() for each in asked] == [False, True, False]
    press(desk, "enter")
    assert len(asked) == 3  # the first is asked still


def test_a_filter_says_its_value_in_words(ask):
    """No underscore of an id stands on the screen."""
    desk = AuditDesk(ask, Offered(facts={"planned_dye": ("trypan_blue",)}))
    for _ in range(4):
        desk.mark(1)
    desk.change(1)

    assert "planned dye: trypan blue" in text(desk, SIZES[0])


def test_one_case_and_none(tmp_path):
    """With one case, or none, the screen says so in place of figures."""
    one = AuditDesk(at_once(archive(tmp_path / "one", "AB-0001")), Offered())
    none = AuditDesk(at_once(archive(tmp_path / "none")), Offered())

    assert "n <5 cases" in text(one, SIZES[1])
    assert "No figure: no case to answer from" in text(none, SIZES[1])


def test_how_few_there_are_is_not_told_beside_a_figure_either(many):
    """A filter that leaves one to four cases leaves no number that says which; what they were of is told."""
    few = Filters(last_day=date(2024, 1, 1))
    with Worker(many.folder / "tables", shipped()) as worker:
        told = worker.ask(few, "case_lengths").result()

    assert told.population.startswith("<5 of ")


def test_the_worker_answers_beside(many):
    """The worker offers what is in the archive, and answers from a thread of its own."""
    with Worker(many.folder / "tables", shipped()) as worker:
        offered = worker.offered()
        told = worker.ask(Filters(), "case_lengths").result()

    assert offered.protocols == ("complex-pvr",)
    assert offered.first_day is not None
    assert "phakic" in offered.facts["lens"]
    assert told.population.startswith(f"{told.sheet.n} of 80 invented cases")


async def test_on_a_terminal(ask):
    """On a terminal the arrow turns to the next question and Q leaves."""
    desk = AuditDesk(ask, OFFERED)
    app = TheatreApp(desk, 0.1)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("right")
        assert desk.key == SHOWN[1]
        await pilot.press("Q")

    assert desk.left


# -- drawn in plain characters


def drawn(drawing, width=60, height=12):
    """A drawing as text lines."""
    return ["".join(piece for piece, _ in line) for line in draw(drawing, width, height)]


def test_a_box_in_plain_characters():
    """On an axis from 0 to 100 the median of 50 stands in the middle, between the quartiles."""
    line = drawn(Boxes("Minutes", "min", (Box("a", "9", 0, 25, 50, 75, 100),)))[1]
    box = line[line.index("|") : line.rindex("|") + 1]

    assert box.index("O") == pytest.approx(len(box) / 2, abs=1)
    assert box.index("[") == pytest.approx(len(box) / 4, abs=1)
    assert line.endswith("50.0 n 9")


def test_bars_in_plain_characters():
    """A bar of half the largest is half as long; an interval ends in brackets; below 0 it goes left."""
    lines = drawn(Bars("Share", "%", (Bar("a", 40, "x", 30, 50), Bar("b", 25, "y"), Bar("c", -10, "z"))))

    assert lines[1].count("(") == lines[1].count(")") == 1
    assert lines[2].count("#") == pytest.approx(25 / 60 * (60 - 4), abs=2)
    assert lines[3].index("#") < lines[2].index("#")


def test_a_run_in_plain_characters():
    """A point beyond the limits is an X, the others stars, limits and centre are named in minutes."""
    lines = drawn(Run("Cases", "ln min", (4.0, 5.5, 4.1), 4.2, 3.5, 5.0, (1,)))

    assert sum(line.count("X") for line in lines[1:-1]) == 1
    assert sum(line.count("*") for line in lines[1:-1]) == 2
    assert any("67 min" in line for line in lines)  # exp(4.2) = 66.7


@pytest.mark.parametrize("width", [31, 51, 81])
def test_labels_stand_whole(width):
    """A label too long for a side column stands above its row; no two rows look alike for want of letters."""
    names = [f"longer than the file's range: the {n} step of the case" for n in ("first", "second")]
    bars = drawn(Bars("Deviations", "%", tuple(Bar(name, 40, "40.0, to 8 %") for name in names)), width)
    boxes = drawn(Boxes("Stages", "minutes", tuple(Box(n, "9", 0, 25, 50, 75, 100) for n in names)), width)

    for lines in (bars, boxes):
        told = " ".join(" ".join(line.replace("|", " ").split()) for line in lines)
        assert all(name in told for name in names)
        assert all(len(line) <= width for line in lines)


@pytest.mark.parametrize("width", [20, 31, 51])
def test_no_figure_of_a_table_is_cut_off(width):
    """Where the figures of a table do not fit side by side they stand one below the other, each named."""
    headings = (
        "Cases",
        "n",
        "cases with it",
        "share",
        "95 % interval",
        "mean cases between",
        "since the last",
    )
    grid = Grid("Cases with it", headings, (("all", "296", "8", "2.7 %", "1.4 % to 5.2 %", "37.4", "1,234"),))
    lines = grid_lines(grid, width)

    assert all(len(line) <= width for line in lines)
    assert "since the last: 1,234" in " ".join(" ".join(lines).split())
