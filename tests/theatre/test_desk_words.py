"""What is said beside the steps: counts, notes, complications, people."""

from __future__ import annotations

import re

import pytest

from desks import (
    SMALL,
    board,
    desk_of,
    panel,
    press,
    read,
    told,
)
from tracker.theatre.acts.screen import open_rows
from tracker.theatre.desk import Desk
from tracker.theatre.settings import Settings, settings_from

# -- counts


def test_the_count_is_told_line_by_line() -> None:
    """Enter goes down the lines of the count board, and on the last keeps what was said."""
    desk = desk_of(SMALL, "c 1 0 enter 2 enter")

    assert told(desk)[-1] == "count swabs=10,blades=2 @4"
    assert panel(desk) == ""


def test_a_count_left_half_said_is_found_again() -> None:
    """Numbers typed before an interruption are there when the count is asked again."""
    desk = desk_of(SMALL, "c 1 0 enter t +60 <count> down 2 enter")

    assert told(desk) == ["tick count_in", "tick time_out", "count swabs=10,blades=2 @4"]


def test_the_closing_count_says_what_is_expected() -> None:
    """What was opened since the first count is in the number that the closing count is shown."""
    desk = desk_of(SMALL, "c 1 0 enter 2 enter <count> a enter 5 enter right right n")

    assert told(desk)[-1] == "tick count_out"
    assert "Swabs: _ expected 15" in board(desk)
    assert "Blades: expected 2" in board(desk)


def test_items_opened_and_handed_off() -> None:
    """Between counts the count key asks for the line, then how many; Enter takes what a letter or digit marked."""
    desk = desk_of(SMALL, "c 1 0 enter 2 enter")

    press(desk, "<count> a enter 5 enter <count> b enter a enter")

    assert told(desk)[-2:] == ["count_change swabs 5", "count_change blades -1"]
    assert desk.case.counts["swabs"].expected == 15
    assert desk.case.counts["blades"].expected == 1


def test_a_closing_count_that_differs_is_a_quiet_line() -> None:
    """A number that is not the expected one is kept as said, and the difference told."""
    desk = desk_of(SMALL, "c 1 0 enter 2 enter right right n 1 0 enter 1 enter")
    assert "1: 2 expected. Enter again keeps it, Backspace corrects" in board(desk)

    press(desk, "enter")

    assert "Blades: count differs (1)" in board(desk)


# -- notes


def test_a_note_eats_letters_and_logs_no_step() -> None:
    """While a note is written every printable key goes into it, the keys of steps and commands too."""
    desk = desk_of(SMALL, '<note> "i c Q 0 ? lens clear"')
    assert told(desk) == []

    press(desk, "enter")

    assert told(desk) == ["note i c Q 0 ? lens clear"]


def test_a_note_left_is_found_again() -> None:
    """Esc leaves a note unfinished; the note key shows it again."""
    desk = desk_of(SMALL, '<note> "lens" escape i <note> " clear" enter')

    assert told(desk) == ["tick in_theatre", "note lens clear"]


def test_a_note_that_looks_like_a_person_is_questioned() -> None:
    """Something that looks like a name is asked about once; enter again keeps it."""
    desk = desk_of(SMALL, '<note> "Mrs Brown" enter')
    assert told(desk) == []
    assert "looks like a title with a name: no patient identifiers" in board(desk)

    press(desk, "enter")

    assert told(desk) == ["note Mrs Brown"]


def test_an_empty_note_is_none() -> None:
    """Enter with nothing written closes the note and keeps nothing."""
    desk = desk_of(SMALL, "<note> enter")

    assert (told(desk), panel(desk)) == ([], "")


def test_pasted_text_goes_into_a_note_up_to_its_length() -> None:
    """Ten thousand pasted characters become a note of the longest length, and the rest is said to be cut."""
    desk = desk_of(SMALL, "<note>")
    desk.paste("x" * 10_000)
    assert "a note holds 2000 characters: the rest was cut" in board(desk)

    press(desk, "enter")

    assert told(desk) == [f"note {'x' * 2000}"]


def test_pasted_text_anywhere_else_is_put_aside_and_said() -> None:
    """Pasted text ticks no step."""
    desk = desk_of()

    desk.paste("icticticQl")

    assert told(desk) == []
    assert "10 characters came at once, as from a paste: set aside" in board(desk)


# -- complications


def test_a_complication_is_stamped_by_one_key() -> None:
    """The key stamps at once and shows the names, none of them marked: which it is may wait."""
    desk = desk_of(SMALL, "+30 <complication>")

    assert told(desk) == ["complication"]
    assert panel(desk) == "Complication since 09:00:30: which it is, or z dealt with"
    assert not any(row.marked for row in desk.panel.rows())
    assert desk.complicated()
    assert desk.case.troubles[0].start.t == 30


def test_a_complication_is_dealt_with_by_a_letter_of_its_own() -> None:
    """While one is open its key asks, stamping nothing; the letter that no name has says that it is dealt with."""
    desk = desk_of(SMALL, "+30 <complication> escape +60 <complication>")
    assert told(desk) == ["complication"]
    assert re.search(r"z +dealt with", board(desk))

    press(desk, "z")

    assert (told(desk)[1:], panel(desk)) == (["complication_closed @4"], "")
    assert not desk.complicated()


@pytest.mark.parametrize("key", ["/", "*", "f7"])
def test_the_key_that_stamps_a_complication_never_ends_it(key: str) -> None:
    """Pressed again and again by someone who does not look, a station's own key or a pedal leaves it open."""
    settings = f'[keys]\ncomplication = ["{key}"]\npause = "&"'
    desk = Desk(desk_of(SMALL).session, Settings(commands=settings_from(settings, "settings.toml").commands))

    press(desk, " ".join([key] * 5))

    assert told(desk) == ["complication"]
    assert desk.complicated()


@pytest.mark.parametrize(("key", "what"), [("b", "bleed"), ("a", "tear")])
def test_a_complication_is_named(key: str, what: str) -> None:
    """The key of the file, or a free letter, names the complication, which stays open until dealt with."""
    desk = desk_of(SMALL, f"<complication> {key}")

    assert told(desk)[-1] == f"complication_detail {what} @4"
    assert desk.complicated()

    press(desk, "<complication> z")

    assert told(desk)[-1] == "complication_closed @4"
    assert not desk.complicated()


def test_after_one_is_dealt_with_the_key_stamps_the_next() -> None:
    """A second complication is an entry of its own."""
    desk = desk_of(SMALL, "<complication> z +60 <complication>")

    assert told(desk) == ["complication", "complication_closed @4", "complication"]
    assert [t.stop is None for t in desk.case.troubles] == [False, True]


def test_a_complication_struck_is_open_no_more() -> None:
    """Stamped by a slip and struck, it asks for nothing, and the key stamps anew."""
    desk = desk_of(SMALL, "<complication> escape backspace")
    assert not desk.complicated()

    press(desk, "<complication>")

    assert told(desk) == ["complication", "strike @4", "complication"]


def test_a_file_that_names_no_complication_can_have_one() -> None:
    """Without a list there is nothing to name; it is dealt with all the same."""
    desk = desk_of(SMALL.split("[[complications]]", maxsplit=1)[0], "<complication> z")

    assert told(desk) == ["complication", "complication_closed @4"]


def test_an_open_complication_is_on_the_board() -> None:
    """As long as it is open the board tells it with its time, named or not, wherever in the case."""
    desk = desk_of(SMALL, "<complication> escape right right +90")
    assert "complication 01:30 not yet named" in read(desk)

    press(desk, "<complication> b")
    assert "bleeding 01:30 complication" in read(desk)

    press(desk, "<complication> z")
    assert "bleeding 01:30" not in read(desk)


@pytest.mark.parametrize("keys", ["c", "right d", "right right n"])
def test_nothing_asks_while_a_complication_is_open(keys: str) -> None:
    """Ticks stand as ever, but nothing opens by itself until the complication is dealt with."""
    desk = desk_of(SMALL, f"<complication> escape {keys}")

    assert panel(desk) == ""
    assert len(told(desk)) == 2


def test_what_a_key_is_for_is_asked_while_a_complication_is_open() -> None:
    """Why a step is not needed is asked, and nothing is said of the step before a reason is chosen."""
    desk = desk_of(SMALL, "<complication> escape <not_needed>")

    assert panel(desk) == "Into theatre is not needed: why"
    assert told(desk) == ["complication"]


def test_what_was_not_asked_is_found_afterwards() -> None:
    """A decision ticked during a complication is asked for by its key once there is time."""
    desk = desk_of(SMALL, "<complication> escape right d <complication> z <decision> z")

    assert told(desk) == ["complication", "tick cut_decide", "complication_closed @4", "choice cut @5"]


# -- people


def test_hand_over_with_counts_confirmed() -> None:
    """Who comes, whether the counts were confirmed, and that what is open was read: a key each."""
    desk = desk_of(SMALL, "<hand_over> a y y")

    assert told(desk) == ["handover runner relief True", "handover_accepted @4"]
    assert desk.case.post("circulating") == "relief"
    assert desk.case.posts[-1].accepted is not None


def test_entries_after_a_hand_over_are_by_the_incoming_role() -> None:
    """From the hand-over on, the role in every entry is the incoming one."""
    desk = desk_of(SMALL, "i <hand_over> a y y t")

    assert [e.role for e in desk.case.events[3:]] == ["runner", "runner", "relief", "relief"]


def test_hand_over_without_counts_makes_the_count_due() -> None:
    """Counts not confirmed at a hand-over are due again, and the sheet says why."""
    desk = desk_of(SMALL, "right right n escape <hand_over> a n y")

    assert told(desk)[1] == "handover runner relief False"
    assert "due again: counts were not confirmed at the hand-over" in read(desk)


def test_a_hand_over_not_acknowledged_is_open() -> None:
    """A hand-over that was not acknowledged is on the sheet, and the hand-over key asks again."""
    desk = desk_of(SMALL, "<hand_over> a y i i")
    assert "Relief circulating practitioner has not acknowledged the hand-over" in [
        row.text for row in open_rows(desk)
    ]

    press(desk, "<hand_over> y")

    assert told(desk) == ["handover runner relief True", "tick in_theatre", "handover_accepted @4"]


def test_another_operator() -> None:
    """Who operates changes by two keys."""
    desk = desk_of(SMALL, "<hand_over> b")

    assert told(desk) == ["operator fellow"]
    assert desk.case.post("operator") == "fellow"


def test_a_count_said_in_part_is_asked_for_the_rest() -> None:
    """The first count with a figure for one line, the closing one without it: its key asks for what is wanting."""
    desk = desk_of(SMALL, "i c 4 enter 6 enter t right right n 4 enter enter")
    press(desk, "<count>")

    assert panel(desk).startswith("Closing count")
    press(desk, "down 6 enter")
    assert told(desk)[-1] == "count blades=6 @8"
