"""The debrief's journal: the rules of the log, beside the log, and never in it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debriefs import (
    AFTERWARDS,
    CODE,
    DEBRIEFS,
    HERE,
    SAYINGS,
    archive_of,
    debriefing_of,
    disk_of,
    log_bytes,
)
from desks import Hand
from faulty_disk import CRASHES, Fault, FaultyDisk, PowerCut
from tracker.core.debrief_events import DEBRIEF_BY_KIND, DEBRIEF_KINDS, ToChange, WentWell, Withdrawn
from tracker.core.events import BY_KIND, Event
from tracker.journal.archive import Archive, Mended, NotSound
from tracker.journal.books import DEBRIEF
from tracker.journal.cases import reviewed_of
from tracker.journal.files import Journal, case_path
from tracker.journal.lines import START, encode, read_lines
from tracker.journal.trouble import Damaged, InUse
from tracker.review.debriefing import Debriefing, NotOfThisLog

PATH = case_path(HERE, CODE, DEBRIEF)
BRIEF = "09:00 opened\n09:05 tick step=in_theatre\n09:10 start step=core"


def spoken(archive: Archive, *texts: str) -> Archive:
    """The archive once so much went well."""
    debriefing = debriefing_of(archive)
    for text in texts:
        debriefing.say(WentWell, text=text)
    debriefing.close()
    return archive


def went_well(archive: Archive) -> list[str]:
    """What went well, as the archive has it."""
    read = archive.read_beside(CODE, DEBRIEF)
    return [e.text for e in read.events if isinstance(e, WentWell)] if read else []


# -- lines


@given(DEBRIEFS)
def test_entries_are_lines_and_lines_are_entries(events: tuple[Event, ...]) -> None:
    """Every kind is written and read back as it was, each line vouching for the one before."""
    data, head = b"", START
    for event in events:
        line, head = encode(event, head)
        data += line
    read = read_lines(data)

    assert read.events == events
    assert (read.broken, read.torn, read.head) == (None, None, head)


def test_no_kind_of_the_debrief_is_one_of_the_log() -> None:
    """A word means one thing, whichever of the two journals it stands in."""
    assert len(DEBRIEF_BY_KIND) == len(DEBRIEF_KINDS) == 13
    assert BY_KIND.keys() & DEBRIEF_BY_KIND.keys() == set()


# -- beside the log


def test_looking_touches_nothing() -> None:
    """A review in which nothing is said makes no file and takes no lock."""
    archive = archive_of()
    disk = disk_of(archive)
    names, locks = disk.names(HERE), disk.calls["lock"]
    debriefing_of(archive).close()

    assert (disk.names(HERE), disk.calls["lock"]) == (names, locks)


def test_the_first_line_points_at_the_log() -> None:
    """Case code, the last hash and the number of entries of the log as it was."""
    archive = spoken(archive_of(), "calm")
    log, read = archive.read(CODE), archive.read_beside(CODE, DEBRIEF)

    assert read is not None
    first = read.events[0]
    assert (first.kind, first.seq) == ("debriefed", 1)
    assert first.model_dump(include={"code", "log_hash", "log_entries"}) == {
        "code": CODE, "log_hash": log.head, "log_entries": len(log.events),
    }  # fmt: skip
    assert archive.verify(CODE) == ()


@settings(max_examples=60)
@given(st.lists(SAYINGS, max_size=12))
def test_nothing_said_changes_the_log(said: list[dict[str, object]]) -> None:
    """Whatever is said, the log's bytes are what they were, and what was said is on disk."""
    archive = archive_of()
    before, debriefing = log_bytes(archive), debriefing_of(archive)
    for saying in said:
        fields = dict(saying)
        kind = DEBRIEF_BY_KIND.get(str(fields.pop("kind")))
        if kind is not None:
            debriefing.say(kind, **fields)
            assert debriefing.waiting == ()
    debriefing.close()
    read = archive.read_beside(CODE, DEBRIEF)

    assert log_bytes(archive) == before
    assert (read.events if read else ()) == debriefing.debrief.events
    assert reviewed_of(archive.read(CODE), read) == debriefing.review


def test_the_log_may_be_written_while_its_debrief_is() -> None:
    """Each has a lock of its own, and the debrief then says that the log has gone on."""
    archive = archive_of()
    debriefing = debriefing_of(archive)
    debriefing.say(WentWell, text="calm")
    with Journal.open(HERE, CODE, disk_of(archive)) as journal:
        last = journal.events[-1]
        journal.append(last.model_copy(update={"seq": last.seq + 1}))
    debriefing.close()

    assert debriefing_of(archive).review.bond == "the log has gone on"
    assert archive.verify(CODE) == ()


def test_one_writer_at_a_time() -> None:
    """A second review is refused in a sentence while the first says something, and nothing is said by it."""
    archive = archive_of()
    first, second = debriefing_of(archive), debriefing_of(archive)
    first.say(WentWell, text="calm")
    with pytest.raises(InUse, match="The debrief of case A-0007 is in use on this station"):
        second.say(WentWell, text="loud")
    first.close()

    assert second.debrief.events == ()
    assert went_well(archive) == ["calm"]


def test_what_another_said_meanwhile_is_taken_in_first() -> None:
    """Numbers go on, and nothing of either is lost."""
    archive = archive_of()
    second = debriefing_of(archive)
    spoken(archive, "calm")
    second.say(WentWell, text="quick")
    second.close()

    assert went_well(archive) == ["calm", "quick"]
    assert [e.seq for e in second.debrief.events] == [1, 2, 3]


def test_each_opening_is_a_run_of_its_own() -> None:
    """Monotonic time counts from the opening that an entry belongs to."""
    archive = spoken(spoken(archive_of(), "one", "two"), "three")
    read = archive.read_beside(CODE, DEBRIEF)

    assert read is not None
    assert [e.run for e in read.events] == [1, 1, 1, 2]


# -- trouble


def test_a_debrief_of_another_log_takes_nothing_more() -> None:
    """Its first line points at a log that is not here: said in a sentence, and verify names it."""
    other = spoken(archive_of("09:00 opened\n09:01 note text=other"), "calm")
    archive = archive_of()
    disk_of(archive).put(PATH, disk_of(other).text(PATH))
    debriefing = debriefing_of(archive)

    assert debriefing.review.bond == "another log"
    with pytest.raises(NotOfThisLog, match="made on another log"):
        debriefing.say(WentWell, text="calm")
    [finding] = archive.verify(CODE)
    assert "The log is not the one that the debrief is of" in str(finding)


def test_an_unfinished_last_line_is_set_aside() -> None:
    """Cut at every byte of its last line, the debrief keeps the lines before and goes on."""
    archive = spoken(archive_of(BRIEF), "one", "two")
    whole, before = disk_of(archive).text(PATH), log_bytes(archive)
    start = whole[:-1].rfind(b"\n") + 1
    for cut in range(start + 1, len(whole)):
        torn = archive_of(BRIEF)
        disk_of(torn).put(PATH, whole[:cut])
        assert went_well(torn) == ["one"]
        spoken(torn, "three")
        assert disk_of(torn).text(HERE / f"{CODE}.debrief.torn-1.txt") == whole[start:cut]
        assert went_well(torn) == ["one", "three"]
        assert log_bytes(torn) == before


def test_a_changed_line_is_named_and_mended() -> None:
    """Verify names file and line, nothing is added to it, and mending keeps what stands before."""
    archive = spoken(archive_of(), "one", "two")
    disk = disk_of(archive)
    disk.put(PATH, disk.text(PATH).replace(b'"one"', b'"eno"'))

    [finding] = archive.verify(CODE)
    assert (finding.source, finding.line) == (f"{CODE}.debrief.jsonl", 2)
    with pytest.raises(Damaged):
        debriefing_of(archive)
    aside, damaged = f"{CODE}.debrief.aside-1.txt", f"{CODE}.debrief.damaged-1.jsonl"
    assert archive.mend(CODE, DEBRIEF) == Mended(1, aside, damaged)
    assert archive.mend(CODE) is None
    assert went_well(spoken(archive, "three")) == ["three"]
    assert archive.verify(CODE) == ()


@pytest.mark.parametrize("crash", CRASHES)
def test_a_power_cut_loses_nothing_that_was_kept(crash: str) -> None:
    """The power goes before any call of the disk: what was told as kept is there, and the log is whole."""
    calls = _calls_of_a_debrief()
    for dies_at in range(*calls):
        archive = archive_of(BRIEF)
        disk, before, kept = disk_of(archive), log_bytes(archive), []
        disk.dies_at = dies_at
        try:
            debriefing = debriefing_of(archive)
            for text in ("one", "two"):
                debriefing.say(WentWell, text=text)
                kept += [] if debriefing.waiting else [text]
        except PowerCut:
            pass
        disk.crash(crash)  # type: ignore[arg-type]
        assert went_well(archive)[: len(kept)] == kept
        assert log_bytes(archive) == before
        spoken(archive, "three")
        assert went_well(archive)[-1] == "three"


def _calls_of_a_debrief() -> tuple[int, int]:
    archive = archive_of(BRIEF)
    before = sum(disk_of(archive).calls.values())
    spoken(archive, "one", "two")
    return before + 1, sum(disk_of(archive).calls.values()) + 1


def test_what_the_disk_refuses_waits_and_is_tried_again() -> None:
    """It is said to wait, nothing overtakes it, and it is on disk once there is room."""
    archive = archive_of()
    debriefing = debriefing_of(archive)
    debriefing.say(WentWell, text="one")
    disk = disk_of(archive)
    disk.faults[("write", disk.calls["write"] + 1)] = Fault(28)
    debriefing.say(WentWell, text="two")

    assert [e.kind for e in debriefing.waiting] == ["went_well"]
    assert "the disk is full" in debriefing.trouble
    assert debriefing.keep_waiting()
    debriefing.close()
    assert went_well(archive) == ["one", "two"]


# -- the folder


def test_a_debrief_is_nothing_foreign_in_the_folder() -> None:
    """It lies beside its case; without its case it is told of."""
    archive = spoken(archive_of(), "calm")
    assert [e.name for e in archive.entries()] == [f"{CODE}.case.jsonl"]

    alone = FaultyDisk()
    alone.put(PATH, disk_of(archive).text(PATH))
    [orphan] = Archive(HERE, alone).entries()  # type: ignore[arg-type]
    assert (orphan.state, orphan.what) == ("foreign", "a debrief whose case is not here")


def test_a_debrief_travels_with_its_case(tmp_path: Path) -> None:
    """Export copies both with their digests; import takes both, and neither if one byte differs."""
    here, stick, there = (Archive(tmp_path / name) for name in ("here", "stick", "there"))
    source = spoken(archive_of(), "calm")
    here.folder.mkdir()
    for suffix in (".case.jsonl", ".debrief.jsonl"):
        (here.folder / f"{CODE}{suffix}").write_bytes(disk_of(source).text(HERE / f"{CODE}{suffix}"))
    copy = here.export_case(CODE, stick.folder)
    assert there.import_case(copy) == CODE
    assert went_well(there) == ["calm"]
    assert there.verify(CODE) == ()

    debrief = stick.folder / f"{CODE}.debrief.jsonl"
    debrief.write_bytes(debrief.read_bytes().replace(b"calm", b"loud"))
    third = Archive(tmp_path / "third")
    with pytest.raises(NotSound, match="debrief of case A-0007 does not match the digest beside it"):
        third.import_case(copy)
    assert not third.folder.exists()


def test_what_was_said_can_be_taken_back() -> None:
    """A withdrawal is one more entry; the one withdrawn stays legible in the file."""
    archive = archive_of()
    debriefing = debriefing_of(archive)
    said = debriefing.say(ToChange, action="order a second vial", owner="fellow")
    debriefing.say(Withdrawn, ref=said.seq)
    debriefing.close()

    assert debriefing.debrief.standing(ToChange) == ()
    assert b"order a second vial" in disk_of(archive).text(PATH)


def test_an_entry_holds_who_wrote_it_and_when() -> None:
    """The role chosen, else that nobody said; the station's time with its offset."""
    debriefing = Debriefing(archive_of(), CODE, Hand(AFTERWARDS))
    first = debriefing.say(WentWell, text="calm")
    debriefing.role = "consultant"
    second = debriefing.say(WentWell, text="quick")

    assert (first.role, second.role) == ("reviewer", "consultant")
    assert first.at == first.entered_at == AFTERWARDS
