"""What a key does at a review: looking, giving reasons, amending, saying, signing, comparing."""

from __future__ import annotations

from datetime import timedelta

import pytest

from debriefs import (
    AFTERWARDS,
    CODE,
    HERE,
    archive_of,
    desk_of,
    disk_of,
    events_of,
    log_bytes,
    press,
    screen,
    told,
)
from faulty_disk import Fault
from tracker.core import debrief_events as db
from tracker.core.durations import step_seconds
from tracker.core.events import Opened
from tracker.core.usual import Usual
from tracker.journal.files import Journal
from tracker.review.screen.acts.amending import told_near
from tracker.review.screen.desk import ReviewDesk
from tracker.screen.lines import Size

FIRST = "need:cut<membranes:12"
"""The deviation of the story that stands first in time; the log gives its reason."""


def under(desk: ReviewDesk) -> str:
    """The lane and the entry under the cursor."""
    return f"{desk.here.label}: {desk.item.label if desk.item else ''}"


def at_lane(label: str, keys: str = "", **how: object) -> ReviewDesk:
    """A desk with the cursor on the first entry of a lane, after `keys`."""
    desk = desk_of(**how)  # type: ignore[arg-type]
    while desk.here.label != label:
        desk.press("down")
    while desk.place:
        desk.press("left")
    press(desk, keys)
    return desk


# -- looking


def test_the_cursor_begins_at_the_stages() -> None:
    """What went well is asked first, and the screen says so."""
    desk = desk_of()

    assert under(desk) == "Ready: Into theatre"
    assert "What went well is asked first" in desk.hint


def test_up_and_down_go_to_the_entry_nearest_in_time() -> None:
    """Ten minutes into the case the lane below has its entry of that time under the cursor."""
    assert under(at_lane("Ready", "right right down")) == "Peel and cut: Core vitrectomy"


def test_left_and_right_go_from_entry_to_entry_and_say_where_a_lane_ends() -> None:
    """At either end the key is answered in words."""
    desk = at_lane("Ready", "right right")
    assert under(desk) == "Ready: Time-out"
    press(desk, "right")
    assert desk.hint == "Ready: no entry further that way"


def test_zoom_keeps_the_cursor_where_it_is() -> None:
    """Closer three times is an eighth of the case, the entry in view; wider comes back to the whole."""
    desk = at_lane("Fill and close", "+ + +")
    assert desk.item is not None
    assert desk.view.seconds == pytest.approx(desk.whole.seconds / 8)
    assert desk.view.start_t <= desk.item.start_t <= desk.view.stop_t
    press(desk, "- - -")
    assert desk.view == desk.whole
    press(desk, "-")
    assert desk.hint == "this is the whole case"


def test_zoom_ends_at_a_minute() -> None:
    """Closer than that nothing was ever logged."""
    desk = desk_of("+ + + + + + + + + + +")

    assert desk.view.seconds == 60
    assert desk.hint == "a minute is as close as it goes"


def test_panning_moves_the_view_and_takes_the_cursor_along() -> None:
    """Half a view at a time, the cursor to an entry in view; at the end it is said."""
    desk = at_lane("Peel and cut", "+ +")
    start = desk.view.start_t
    press(desk, ".")
    assert desk.view.start_t == pytest.approx(start + desk.view.seconds / 2)
    assert desk.item is not None
    assert desk.view.start_t <= desk.item.start_t <= desk.view.stop_t
    press(desk, ". . . . . . . .")
    assert desk.hint == "no further that way"
    press(desk, "0 .")
    assert desk.hint == "the whole case is in view: + looks closer"


def test_an_entry_outside_the_view_brings_the_view_along() -> None:
    """The arrows pan: what they go to is seen."""
    desk = at_lane("Peel and cut", "+ + + + right right right right right right")

    assert desk.item is not None
    assert desk.view.start_t <= desk.item.start_t <= desk.view.stop_t


def test_d_goes_through_the_deviations_in_time_and_round() -> None:
    """Each once, in order of time, then from the beginning again; D goes back."""
    desk = desk_of()
    count = len([d for d in desk.drawn.found if d.code != "complication"])
    seen = []
    for _ in range(count):
        desk.press("d")
        assert desk.item is not None
        seen.append((desk.item.start_t, desk.item.keys[0]))
    assert seen == sorted(seen, key=lambda s: s[0])
    assert len({key for _, key in seen}) == count
    press(desk, "d")
    assert desk.hint == "from the beginning again"
    press(desk, "D")
    assert desk.item is not None
    assert desk.item.keys[0] == seen[-1][1]


def test_b_goes_to_the_bookmark_or_says_there_is_none() -> None:
    """The story has one, with its words."""
    assert under(desk_of("b")) == "Bookmarks: good bit"
    bare = desk_of("b", archive_of("09:00 opened\n09:05 tick step=in_theatre"))
    assert bare.hint == "no bookmark was set in this case"


def test_l_goes_through_the_spans_by_length() -> None:
    """The core took 10 min 30 s, the laser 8 min; then the next longest."""
    desk = desk_of("l")
    assert under(desk) == "Peel and cut: Core vitrectomy"
    assert desk.hint == "1 of 5 spans by length: Core vitrectomy, 10 min 30 s"
    press(desk, "l")
    assert under(desk) == "Peel and cut: Edge laser"


def test_the_entry_is_told_with_its_original_and_what_was_made_of_it() -> None:
    """Entry 36 was pressed at 09:54:00 and back-stamped to 09:53:00 by entry 37."""
    desk = at_lane("Fill and close")
    while under(desk) != "Fill and close: Ports closed":
        desk.press("right")
    text = screen(desk, 120, 40)

    assert "entry 36; stop; Ports closed; 09:54:00; circulating practitioner" in text
    assert "stands at 09:53:00" in text
    assert "amended in the log by entry 37: back-stamp, 09:53:00" in text


def test_a_stage_tells_its_usual_range_or_that_n_is_too_small() -> None:
    """The 10th and 90th percentile with their n; until then that there are too few cases."""
    usual = {"peel": Usual(20.0, 45.5, 24)}

    assert "usual here 20.0 to 45.5 min (n = 24)" in screen(at_lane("Peel and cut", usual=usual), 120, 40)
    assert "usual range here: n too small" in screen(at_lane("Peel and cut"), 120, 40)


# -- reasons


def test_a_reason_is_a_letter_and_enter_and_how_it_came_about_too() -> None:
    """r, the file's reason, how it came about, Enter behind each: kept, and the deviation has it."""
    desk = desk_of("r f enter o enter")

    [said] = told(desk)
    assert said.startswith("deviation_reason ")
    assert said.endswith(" forced oversight")
    assert len(desk.without_reason) == len(desk_of().without_reason) - 1
    assert "kept;" in desk.hint


def test_a_reason_is_of_the_deviation_under_the_cursor() -> None:
    """D goes to one, r asks of that one, in its own words."""
    desk = desk_of("d")
    assert desk.item is not None
    key = desk.item.keys[0]
    press(desk, "r f enter i enter")

    assert [e.deviation for e in desk.debrief.standing(db.Reasoned)] == [key]


def test_a_reason_given_in_theatre_may_be_given_anew() -> None:
    """The debrief's stands, the log's is where it was."""
    desk = desk_of()
    while not desk.item or FIRST not in desk.item.keys:
        desk.press("d")
    press(desk, "r f enter i enter")

    assert desk.drawn.by_key[FIRST].given.how == "intended"  # type: ignore[union-attr]
    assert desk.review.logged.reasons[FIRST].how == "finding_forced"


def test_words_are_added_to_a_reason() -> None:
    """Reason and how stay as they were."""
    desk = desk_of('d r f enter n enter R "was ticked by hand" enter')

    assert told(desk)[-1].endswith(" forced not_logged was ticked by hand")


def test_deviations_not_logged_at_the_time_are_listed_last() -> None:
    """They are told apart from what was not done."""
    desk = desk_of("r f enter n enter i")
    assert desk.panel is not None
    rows = [row.text for row in desk.panel.rows()]

    assert "not logged at the time" in rows[-1]
    assert "not logged at the time" not in "".join(rows[:-1])


# -- amending


def amend(keys: str) -> ReviewDesk:
    """A desk that amended the core vitrectomy, 09:06:00 to 09:16:30."""
    desk = desk_of("l")
    before = log_bytes(desk.debriefing.archive)
    press(desk, keys)
    assert log_bytes(desk.debriefing.archive) == before
    return desk


def core_minutes(desk: ReviewDesk) -> float | None:
    """How long the core took."""
    seconds = step_seconds(desk.case, desk.case.protocol.step["core"], desk.case.last_t)
    return None if seconds is None else seconds / 60


def test_a_time_is_amended_with_a_reason() -> None:
    """The start at 09:08, its reason the file's: eight and a half minutes, and the original told."""
    desk = amend('a t enter "09:08" enter f enter')

    assert told(desk) == ["amended 8 2026-10-24T09:08:00.000+01:00 forced"]
    assert core_minutes(desk) == 8.5
    text = screen(desk, 120, 40)
    assert "entry 8; start; Core vitrectomy; 09:06:00" in text
    assert "amended at the debrief, 2026-10-26: at 09:08:00; finding forced it" in text


def test_a_stop_is_amended() -> None:
    """The stop at 09:12: six minutes."""
    assert core_minutes(amend('a e enter "9:12:00" enter f enter')) == 6.0


def test_an_entry_is_amended_to_another_step_of_its_shape() -> None:
    """A span is offered spans: the core becomes the membrane peel."""
    desk = amend("a s enter")
    assert desk.panel is not None
    labels = {row.text: row.key for row in desk.panel.rows() if row.key}
    assert set(labels) == {"Membrane peel", "Retina cut", "Edge laser", "Ports closed"}
    press(desk, f"{labels['Membrane peel']} enter f enter")

    assert [t.seq for t in desk.case.state("membranes").ticks] == [8, 19]


def test_an_entry_is_amended_to_be_void_with_words() -> None:
    """Its own words in place of a reason of the file."""
    desk = amend('a v enter = enter "pressed by mistake" enter')

    assert told(desk) == ["amended 8 True pressed by mistake"]
    assert core_minutes(desk) is None


def test_a_time_that_is_none_is_asked_again() -> None:
    """The words say how to write it, and what was typed stays."""
    desk = amend('a t enter "noon" enter')

    assert desk.panel is not None
    assert [row.text for row in desk.panel.rows()] == ["noon_", "a time of day as HH:MM:SS or HH:MM"]
    assert told(desk) == []


def test_a_time_is_that_nearest_to_the_entry() -> None:
    """About midnight the day before or after is meant."""
    near = AFTERWARDS.replace(hour=0, minute=5)

    assert told_near("23:50", near) == near.replace(hour=23, minute=50) - timedelta(days=1)
    assert told_near("00:20:30", near) == near.replace(minute=20, second=30)


def test_the_frame_cannot_be_amended() -> None:
    """A time in which the log was not open is no entry that anybody made: it is said."""
    desk = at_lane("Log not open", "a")

    assert desk.panel is None
    assert "cannot be amended" in desk.hint


# -- what is said


def test_what_went_well_is_kept() -> None:
    """Words as typed, no more."""
    assert told(desk_of('w "calm hand-over" enter')) == ["went_well calm hand-over"]


def test_what_to_change_has_action_owner_date_and_tag() -> None:
    """Four weeks after 26 October 2026 is 23 November."""
    desk = desk_of('c "second vial on the trolley" enter a enter f enter k enter')

    assert told(desk) == ["to_change second vial on the trolley runner 2026-11-23 kit"]


def test_a_date_is_typed_and_looked_at() -> None:
    """The 31st of June is asked again, the 30th is taken; nobody and no tag are answers too."""
    desk = desk_of('c "drill" enter = enter d enter "2027-06-31" enter')
    assert desk.panel is not None
    assert "a date as YYYY-MM-DD" in desk.panel.rows()[-1].text
    press(desk, 'backspace backspace "30" enter n enter')

    assert told(desk) == ["to_change drill 2027-06-30"]


def test_a_note_about_a_person_is_questioned() -> None:
    """Enter asks first, a second Enter keeps."""
    desk = desk_of('w "Mrs Invented was calm" enter')
    assert desk.panel is not None
    assert "a title with a name" in desk.panel.rows()[-1].text
    press(desk, "enter")
    assert told(desk) == ["went_well Mrs Invented was calm"]


def test_who_took_part_is_entered_and_taken_back() -> None:
    """The same key again takes it back."""
    desk = desk_of("t c enter t d enter")
    assert [e.who for e in desk.debrief.standing(db.Attended)] == ["consultant", "fellow"]
    press(desk, "t c enter")
    assert [e.who for e in desk.debrief.standing(db.Attended)] == ["fellow"]


def test_a_sign_off_says_what_is_left() -> None:
    """It is never refused; the deviations without a reason are counted."""
    desk = desk_of("s")
    assert desk.panel is not None
    assert f"{len(desk.without_reason)} deviations have no reason yet" in desk.panel.title
    press(desk, "c enter y enter")

    assert told(desk) == ["signed consultant"]
    assert desk.debrief.state == "signed off"


@pytest.mark.parametrize(
    "keys",
    [
        'w "late thought" enter',
        "r f enter o enter",
        "l a v enter f enter",
        'c "later" enter = enter n enter n enter',
        "backspace right y enter",
    ],
)
def test_after_the_sign_off_every_change_asks_why(keys: str) -> None:
    """One more question, its answer kept with the entry."""
    desk = desk_of(f'w "calm" enter s c enter y enter {keys}')
    assert desk.panel is not None
    assert desk.panel.title == "The debrief is signed off: why this now"
    press(desk, '"was forgotten" enter')

    assert [e.why for e in desk.debrief.after_sign_off] == ["was forgotten"]
    assert desk.debrief.state == "changed since the sign-off"


def test_backspace_takes_an_entry_back_once_it_is_said_so() -> None:
    """The latest is offered, Right goes to the one before; Esc takes nothing back."""
    desk = desk_of('w "one" enter w "two" enter backspace escape')
    assert len(desk.debrief.standing(db.WentWell)) == 2
    press(desk, "backspace right y enter")

    assert [e.text for e in desk.debrief.standing(db.WentWell)] == ["two"]


def test_the_role_that_writes_is_chosen() -> None:
    """Entries made from then on carry it."""
    desk = desk_of('u c enter w "calm" enter')

    assert desk.debrief.events[-1].role == "consultant"
    assert "writing: consultant" in screen(desk, 120, 40)


def test_the_debrief_so_far_begins_with_what_went_well() -> None:
    """Then what to change, amendments, who took part, who signed."""
    desk = desk_of('c "drill" enter a enter w enter d enter w "calm" enter t c enter s c enter y enter o')
    assert desk.panel is not None
    rows = [row.text for row in desk.panel.rows()]

    assert rows[1] == "went well: calm"
    assert rows[2] == "to change: drill (owner: circulating practitioner; by 2026-11-02, drill)"
    assert rows[3:5] == ["took part: consultant", f"signed off: consultant, {AFTERWARDS:%Y-%m-%d %H:%M}"]


# -- nothing is lost


def test_words_left_are_found_again() -> None:
    """Esc leaves them, the status line counts them, the key goes on with them."""
    desk = desk_of('w "half a thou" escape')
    assert "1 begun, not said" in screen(desk)
    press(desk, 'w "ght" enter')

    assert told(desk) == ["went_well half a thought"]
    assert "begun" not in screen(desk)


def test_a_form_left_in_the_middle_is_gone_on_with_or_begun_anew() -> None:
    """Its answers are told; g goes on, n begins anew."""
    desk = desk_of('c "drill" enter a enter escape c')
    assert desk.panel is not None
    assert desk.panel.title == "What to change, begun: drill; runner"
    press(desk, "g enter n enter n enter")
    assert told(desk) == ["to_change drill runner"]

    press(desk, 'c "oil" enter escape c n enter "gas" enter = enter n enter n enter')
    assert told(desk)[-1] == "to_change gas"


def test_leaving_with_something_begun_asks_first() -> None:
    """Without anything begun Q leaves at once."""
    desk = desk_of('w "half" escape Q')
    assert not desk.left
    assert desk.panel is not None
    assert desk.panel.title == "1 begun and not said (Esc stays)"
    press(desk, "escape Q l enter")
    assert desk.left
    assert desk_of("Q").left


def test_what_cannot_be_opened_keeps_what_was_typed() -> None:
    """Another review writes: said in a sentence, and once it is gone the same words are said."""
    archive = archive_of()
    other, desk = desk_of('w "first" enter', archive), desk_of("", archive)
    press(desk, 'w "second" enter')
    assert "is in use on this station" in desk.hint
    assert "What was begun is kept" in desk.hint
    other.close()
    press(desk, "w g enter")

    assert told(desk) == ["went_well first", "went_well second"]


def test_what_waits_for_the_disk_is_told_at_the_top() -> None:
    """Until it is on disk; then the line goes."""
    archive = archive_of()
    desk = desk_of('w "one" enter', archive)
    disk = disk_of(archive)
    disk.faults |= {("write", disk.calls["write"] + n): Fault(28) for n in (1, 2)}
    press(desk, 'w "two" enter')
    assert "1 not on disk, kept in memory" in screen(desk)
    press(desk, "Q")
    assert not desk.left
    press(desk, "escape")
    desk.pulse()
    desk.pulse()
    assert "not on disk" not in screen(desk)


# -- recordings


def test_a_recording_is_named_and_marked() -> None:
    """File, length, and the entry under the cursor at a time of the file: the alignment is told."""
    desk = desk_of('v f enter "rec1.mp4" enter "1:00:00" enter l v m enter a enter "5:00" enter v v enter')
    assert desk.panel is not None
    rows = "\n".join(row.text for row in desk.panel.rows())

    assert told(desk) == ["recording rec1.mp4 3600.0", "video_mark rec1.mp4 660.0 300.0"]
    assert "Consent to the recording is yes in the case facts." in rows
    assert "1 mark, offset -360.00 s" in rows
    assert "recording: rec1.mp4 at 05:00" in screen(
        at_lane("Peel and cut", archive=desk.debriefing.archive), 120, 40
    )


def test_a_part_of_a_recording_is_entered_by_the_time_of_day() -> None:
    """From 09:00 to as far as the file reaches."""
    desk = desk_of('v f enter "rec1.mp4" enter - enter v p enter a enter "09:00" enter - enter')

    assert told(desk) == ["recording rec1.mp4", "recording_part rec1.mp4 300.0"]


@pytest.mark.parametrize(
    ("typed", "says"),
    [("-5", "is not a time"), ("1:99", "minutes and seconds stay below 60"), ("", "is not a time")],
)
def test_a_time_of_a_file_that_is_none_is_asked_again(typed: str, says: str) -> None:
    """Negative, over sixty, empty: a sentence, and nothing is said."""
    desk = desk_of('v f enter "rec1.mp4" enter - enter l v m enter a enter')
    press(desk, f'"{typed}" enter' if typed else "enter")

    assert desk.panel is not None
    assert says in desk.panel.rows()[-1].text
    assert told(desk) == ["recording rec1.mp4"]


# -- comparing


def two_cases() -> ReviewDesk:
    """A desk in whose folder lies a second case, of a core of two minutes and no end."""
    archive = archive_of()
    text = "09:00 opened\n09:01 tick step=in_theatre\n09:05 start step=core\n09:07 stop step=core ref=3"
    first, *rest = events_of(text)
    assert isinstance(first, Opened)
    with Journal.create(HERE, "A-0003", disk_of(archive)) as journal:
        journal.append(first.model_copy(update={"code": "A-0003"}))
        for event in rest:
            journal.append(event)
    return desk_of("", archive)


def test_cases_stand_side_by_side_by_stage() -> None:
    """Minutes of each stage, the whole, and the case facts in which they differ."""
    desk = two_cases()
    press(desk, "x a enter")
    rows = {line[:20].strip(): line[20:].split() for line in screen(desk, 100, 40).splitlines()}

    assert rows["Peel and cut"] == ["34.0", "2.0", "n", "too", "small"]
    assert rows["Whole case"] == ["65.0", "no", "end"]
    assert "A-0007 beside A-0003: past cases here, not good practice" in screen(desk, 100, 40)
    press(desk, "backspace")
    assert "A-0003" not in screen(desk, 100, 40)


def test_another_case_that_is_not_there_is_told() -> None:
    """A code typed is looked for before it is taken."""
    desk = two_cases()
    press(desk, 'x = enter "A-0099" enter')

    assert desk.panel is not None
    assert desk.panel.rows()[-1].text == "there is no case of that code in this folder"


def test_a_folder_with_one_case_has_nothing_to_compare() -> None:
    """It is said."""
    assert desk_of("x").hint == "there is no other case in this folder"


# -- a log that is not the one debriefed, or goes on


def test_a_debrief_of_another_log_is_told_and_left_alone() -> None:
    """At the top of the screen, and a key that would add to it is answered in words."""
    other = archive_of("09:00 opened\n09:01 note text=other")
    press(desk_of("", other), 'w "calm" enter')
    archive, path = archive_of(), HERE / f"{CODE}.debrief.jsonl"
    disk_of(archive).put(path, disk_of(other).text(path))
    desk = desk_of('w "more" enter', archive)

    assert "debrief of another log: nothing of it is taken in" in screen(desk)
    assert "was made on another log" in desk.hint


def test_a_case_of_one_entry_is_drawn() -> None:
    """A log that was only opened has lanes without entries, and nothing raises."""
    desk = desk_of("d b l e i o r a v escape x escape + - , . 0 up down", archive_of("09:00 opened"))

    assert "nothing is logged on this lane" in screen(desk) or "nothing" in screen(desk)
    assert len(desk.draw(Size(80, 24))) == 24


# -- what is not meant is not said


def test_a_menu_left_open_signs_nothing_off() -> None:
    """The keys of a sign-off, typed over a menu that was left open, stay within the menu."""
    desk = desk_of("v")
    menu = desk.panel
    press(desk, "s f s c")

    assert told(desk) == []
    assert desk.panel is menu is not None


def test_a_sign_off_is_said_back_and_wants_a_second_act() -> None:
    """Who signs is said back with what is left; neither the letter alone nor Enter alone signs."""
    desk = desk_of("s c enter")
    assert desk.panel is not None
    assert desk.panel.title.startswith("You sign off as: consultant")
    press(desk, "enter enter")
    assert told(desk) == []
    press(desk, "y")
    assert told(desk) == []
    press(desk, "enter")
    assert told(desk) == ["signed consultant"]


@pytest.mark.parametrize("opened", ["r", "a", "c", "s", "t", "u", "v"])
@pytest.mark.parametrize(
    "words", ["of course it was forced", "staff were changing over then", "no more forceps at that time"]
)
def test_a_sentence_typed_a_screen_early_says_nothing(opened: str, words: str) -> None:
    """A whole sentence with its Enter, typed at a list, becomes no reason, no amendment, no sign-off."""
    desk = desk_of("d")
    press(desk, opened)
    if opened == "c":  # asks words first: the sentence belongs there, the next one does not
        press(desk, f'"{words}" enter')
    press(desk, f'"{words}" enter')

    assert told(desk) == []
