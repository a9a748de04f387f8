"""What a stranger may hand to the program, and what must never come of it.

For the hostile tests and for `make torture`. Each `take_...` gives one input to everything that the program
would do with it, and holds what comes out against the promises: nothing raises but a `Trouble`, no character
that a terminal obeys comes out, no file name leaves its folder. They take anything, so that a fuzzer may
drive them.
"""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any, get_args

from desks import SMALL, Hand, Memory, press, protocol_of, shipped
from record_alone import build
from tracker.audit.rows_of_visits import visit_rows
from tracker.core.case import Case
from tracker.core.debrief_events import DEBRIEF_KINDS
from tracker.core.events import KINDS, Event
from tracker.core.fold import extend
from tracker.core.follow_up import follow_up_lines
from tracker.core.follow_up_events import FOLLOW_UP_KINDS
from tracker.core.loading import load_protocol
from tracker.core.protocol import Protocol
from tracker.core.reviewed import Reviewed
from tracker.core.text import identifying, shown
from tracker.journal.cases import case_of, follow_up_of, reviewed_of
from tracker.journal.codes import check_code
from tracker.journal.follow import Follower
from tracker.journal.lines import START, Read, canonical, read_lines
from tracker.journal.trouble import Trouble
from tracker.review.film_files import AS_NAMES, film_files
from tracker.review.record.build import build_reviewed
from tracker.review.record.formats import FORMATS
from tracker.review.record.structure import Record
from tracker.review.recordings import films_of
from tracker.review.video.consent import Refusal
from tracker.review.video.film import Wishes
from tracker.screen.lines import Line, Size
from tracker.screen.station import Now
from tracker.theatre.desk import Desk
from tracker.theatre.session import Session
from tracker.theatre.settings import Settings, settings_from
from tracker.theatre.watching import Watch

NOON = datetime(2026, 3, 10, 12, tzinfo=UTC)
SIZES = (Size(80, 24), Size(31, 9))
PLAIN_FORMATS = ("toml", "md", "csv", "json")

DIRTY = (
    "\x1b[2J\x1b[H\x1b]0;title\x07",
    "\x9b31m\x90q\x9c",
    "\x1b]52;c;aGk=\x1b\\",
    "\x00\r\n\t\x08\x7f",
    "lens \u202eraelc\u202c\u2066x\u200b\ufeff\u2028\u2029",
    "\ue000\ufffe\U000e0041",
    "[red]text[/red][@click=app.bell]x[/]",
    "<script>alert(1)</script><img src=x onerror=alert(1)>",
    '=HYPERLINK("http://example.org","x")',
    "@SUM(1+1)|cmd",
    "../../../etc/passwd",
    "C:\\CON",
    "e\u0301" * 40,
    "縫合網膜" * 40,
    "x" * 5000,
    "{{ 7 * 7 }} ${7*7} %s %(x)s {0}",
    "&xxe; <!DOCTYPE x [<!ENTITY a 'b'>]> ]]>",
)
"""Words that try to be something else."""


def obeyed(text: str) -> set[str]:
    """The characters of `text` that a terminal might obey, line ends left aside."""
    if text.isascii() and text.isprintable():
        return set()
    return {c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Zl", "Zp", "Cs")} - {"\n"}


def painted(lines: Iterable[Line]) -> str:
    """The board as text, held against the promise that nothing in it is obeyed."""
    text = "\n".join("".join(piece for piece, _ in line) for line in lines)
    assert obeyed(text) == set(), sorted(map(hex, map(ord, obeyed(text))))
    return text


# -- journals ------------------------------------------------------------------------------------------------


def sealed(entries: Iterable[Mapping[str, Any]]) -> bytes:
    """Lines whose chain is true, whatever they say: a stranger can compute hashes too."""
    lines, head = [], START
    for entry in entries:
        body = {**{k: v for k, v in entry.items() if k not in ("hash", "prev")}, "prev": head}
        head = hashlib.sha256(canonical(body)).hexdigest()
        lines.append(canonical({**body, "hash": head}) + b"\n")
    return b"".join(lines)


@cache
def first_line(text: str = "", code: str = "A-0001") -> dict[str, Any]:
    """The first line of a case of a protocol text."""
    text = text or shipped()
    return {
        **envelope(1), "kind": "opened", "code": code, "protocol": text, "program": "0.1.0",
        "digest": hashlib.sha256(text.encode()).hexdigest(), "invented": True, "station": "",
    }  # fmt: skip


def envelope(seq: int, minute: int | None = None) -> dict[str, Any]:
    """What every line carries; an entry a minute."""
    minute = seq if minute is None else minute
    at = f"2026-03-10T{9 + minute // 60:02}:{minute % 60:02}:00.000+00:00"
    return {"seq": seq, "at": at, "entered_at": at, "elapsed_ms": minute * 60_000, "run": 1, "role": "runner"}


def take_journal(data: bytes, formats: Sequence[str] = PLAIN_FORMATS) -> Case | None:
    """Read bytes as a journal, and do everything with the case that the program would."""
    read = read_lines(data, "A-0001.case.jsonl")
    assert len(read.events) == len(read.hashes)
    assert data[: read.size].count(b"\n") == len(read.events)
    if read.broken is not None:
        assert obeyed(shown(str(read.broken))) == set()
    sound = Read(read.events, read.hashes, read.size, read.head)
    try:
        case = case_of(sound)
    except Trouble as told:
        assert obeyed(shown(str(told))) == set()
        return None
    _step_by_step(case)
    _on_screens(case, data[: read.size])
    take_record(case, read, formats)
    return case


def _step_by_step(case: Case) -> None:
    if len(case.events) > 1:
        assert extend(case, case.events[-1]).protocol is case.protocol


def _on_screens(case: Case, data: bytes) -> None:
    session = Session(case, Memory(case.events), Hand(), max(e.run for e in case.events), "runner")
    desk = Desk(session)
    for size in SIZES:
        painted(desk.draw(size))
    for key in ("0", "down", "'", "escape", "=", "escape", "1", "escape", "backspace", "-", "."):
        desk.press(key)
        painted(desk.draw(SIZES[0]))
    painted(watch_of(data).draw(SIZES[0]))


class _Bytes:
    """A follower of bytes that are all there."""

    problem = None

    def __init__(self, data: bytes) -> None:
        self.events: tuple[Event, ...] = read_lines(data).events

    def poll(self) -> tuple[Event, ...]:
        """Everything, once."""
        told, self.events = self.events, ()
        return told


def watch_of(data: bytes) -> Watch:
    """A watch of a journal of these bytes."""
    follower: Any = _Bytes(data)
    assert hasattr(Follower, "poll")
    return Watch(follower, "A-0001", lambda: Now(NOON, 0), Settings())


def take_record(case: Case, read: Read, formats: Sequence[str]) -> dict[str, bytes]:
    """Render the record of a case; every text in it is harmless, every name stays in its folder."""
    return _rendered(build(case, case.last_t, read.head, len(read.events)), formats)


def _rendered(record: Record, formats: Sequence[str]) -> dict[str, bytes]:
    files: dict[str, bytes] = {}
    for name in formats:
        files |= FORMATS[name].render(record)
    for data in files.values():
        _harmless(data)
    return files


def _harmless(data: bytes) -> None:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return  # a picture or a page description: its own test reads it
    assert obeyed(text.replace("\r\n", "\n").replace("\t", "")) == set()


# -- protocols, settings, words ------------------------------------------------------------------------------


def take_protocol(text: str) -> Protocol | None:
    """Load a text as a protocol; if it is one, begin a case of it and draw it."""
    loaded = load_protocol(text, "stranger.toml")
    assert (loaded.protocol is None) == bool(loaded.findings)
    for finding in loaded.findings:
        assert obeyed(str(finding)) == set()
    if loaded.protocol is not None:
        take_case(loaded.protocol, text)
    return loaded.protocol


def take_case(protocol: Protocol, text: str) -> None:
    """Begin a case of a stranger's protocol, press its keys, draw every stage, write its record."""
    facts = protocol.defaults
    session = Session.begin(Memory(), protocol, text, "A-0001", facts, Hand())
    desk = Desk(session)
    for _ in protocol.stages[:12]:
        for key in ("space", "enter", "escape", "0", "escape", "5", "escape"):
            desk.press(key)
        painted(desk.draw(SIZES[0]))
        desk.press("right")
    painted(desk.draw(SIZES[1]))
    events = desk.case.events
    take_record(desk.case, Read(events, ("0" * 64,) * len(events), 0, "0" * 64), PLAIN_FORMATS)


def take_settings(text: str) -> None:
    """Read a text as settings: findings, never a refusal, and commands whose keys are free of clashes."""
    settings = settings_from(text, "settings.toml")
    for finding in settings.findings:
        assert obeyed(shown(str(finding))) == set()
        assert len(str(finding)) < 1000
    keys = [key for c in settings.commands for key in (c.key, *c.also)]
    assert len(keys) == len(set(keys))
    assert settings.second_folder.is_absolute()


def take_code(text: str) -> None:
    """Take a text for a case code: it is one, or a sentence says why not; one that is stays in its folder."""
    why = check_code(text)
    if why is None:
        assert identifying(text) == ()
        assert Path(f"/a/{text}.case.jsonl").name == f"{text}.case.jsonl"
        assert text.isascii()
        assert len(text) <= 14
    else:
        assert obeyed(shown(why)) == set()


def take_note(text: str) -> str:
    """Paste a text into a note, keep it, and draw the board before and after; what was kept."""
    desk = note_desk()
    press(desk, "<note>")
    desk.paste(text)
    painted(desk.draw(SIZES[0]))
    press(desk, "enter")
    painted(desk.draw(SIZES[0]))
    press(desk, "enter escape")
    painted(desk.draw(SIZES[1]))
    kept = [getattr(e, "text", "") for e in desk.case.events if e.kind == "note"]
    assert all(obeyed(note) == set() and len(note) <= 2000 for note in kept)
    return kept[-1] if kept else ""


def note_desk() -> Desk:
    """The desk of a case that just began."""
    text = shipped()
    protocol = protocol_of(text)
    facts = protocol.defaults
    return Desk(Session.begin(Memory(), protocol, text, "A-0001", facts, Hand()))


# -- entries made of bytes -----------------------------------------------------------------------------------

MOMENTS = (
    "2026-03-10T09:30:00.000+00:00",
    "2026-03-10T09:30:00.000+23:59",
    "0001-01-01T00:00:00.000+00:00",
    "0001-01-01T00:00:00.000+23:59",
    "9999-12-31T23:59:59.999+00:00",
    "9999-12-31T23:59:59.999-23:59",
    "1969-12-31T23:59:59.999-05:00",
)
NUMBERS = (
    0,
    1,
    -1,
    2,
    3,
    7,
    40,
    2**31,
    2**53 - 1,
    -(2**53) + 1,
    0.1,
    -0.5,
    1e308,
    -1e308,
    5e-324,
    True,
    False,
)


class Chooser:
    """Choices made by bytes, one a choice; nought once they are used up."""

    def __init__(self, data: bytes) -> None:
        self.left = iter(data)
        self.more = len(data)

    def of(self, choices: Sequence[Any]) -> Any:
        """One of a few."""
        self.more -= 1
        return choices[next(self.left, 0) % len(choices)]


def _pools(protocol: Protocol) -> dict[Any, Sequence[Any]]:
    ids = [*protocol.labels, "nowhere"]
    words = [*ids, *DIRTY, ""]
    return {str: words, int: [n for n in NUMBERS if isinstance(n, int)], float: NUMBERS, bool: (True, False)}


def entries_of(
    data: bytes, protocol: Protocol, kinds: Sequence[type[Event]] = KINDS, first: int = 2
) -> list[dict[str, Any]]:
    """Entries of any kind that bytes choose: ids of the protocol and dirty words, odd numbers, odd times."""
    choose, pools, made = Chooser(data), _pools(protocol), []
    while choose.more > 0 and len(made) < 40:
        kind = choose.of([*kinds, None])
        seq = len(made) + first
        entry: dict[str, Any] = {**envelope(seq, min(seq, 200)), **_odd_frame(choose)}
        if kind is None:
            entry |= {"kind": choose.of(DIRTY), choose.of(DIRTY): choose.of([*NUMBERS, *DIRTY])}
        else:
            entry |= {name: _value(choose, info.annotation, pools, seq) for name, info in _own(kind)}
            entry["kind"] = kind.model_fields["kind"].default
        made.append({key: value for key, value in entry.items() if value is not None})
    return made


def _odd_frame(choose: Chooser) -> dict[str, Any]:
    odd = choose.of(range(12))
    if odd == 0:
        return {"at": choose.of(MOMENTS)}
    if odd == 1:
        return {"at": choose.of(MOMENTS), "entered_at": choose.of(MOMENTS)}
    if odd == 2:
        return {"elapsed_ms": choose.of([0, 1, 10**9, 2**53 - 1])}
    if odd == 3:
        return {"run": choose.of([1, 2, 2**31, 2**53 - 1])}
    return {"role": choose.of(DIRTY)} if odd == 4 else {}


def _own(kind: type[Event]) -> Iterable[tuple[str, Any]]:
    frame = {"seq", "at", "entered_at", "elapsed_ms", "run", "role", "kind"}
    return [(name, info) for name, info in kind.model_fields.items() if name not in frame]


def _value(choose: Chooser, annotation: Any, pools: Mapping[Any, Sequence[Any]], seq: int) -> Any:
    name = str(annotation)
    if "Mapping" in name:
        return {choose.of(pools[str]): choose.of(pools[int if "int]" in name else float]) for _ in range(2)}
    if "Literal" in name:
        return choose.of([None, *_words_in(annotation)])
    if annotation in pools:
        return choose.of(pools[annotation])
    if annotation == (int | None):
        return choose.of([None, seq - 1, seq - 2, 1, 2, 3, seq, seq + 1, -1])
    if annotation == (str | None):
        return choose.of([None, *pools[str]])
    return choose.of([*pools[float], *DIRTY])


def _words_in(annotation: Any) -> Iterable[str]:
    """The closed list of words that an annotation allows."""
    if isinstance(annotation, str):
        yield annotation
    for inner in get_args(annotation):
        yield from _words_in(inner)


FILMED = SMALL.replace("[[facts]]", 'consent_fact = "video"\n\n[[facts]]', 1)
"""The small protocol with a fact that says whether films may be made."""


def take_debrief(data: bytes) -> None:
    """Make a debrief of entries that bytes choose: what it adds to the record, and the films cut by it."""
    consented = {**envelope(2), "kind": "facts", "values": {"video": True}}
    first = [first_line(FILMED), consented] if data[:1] > b"@" else [first_line(FILMED)]
    log = read_lines(sealed([*first, *entries_of(data[:30], protocol_of(FILMED), first=len(first) + 1)]))
    opened = {"kind": "debriefed", "code": "A-0001", "log_hash": log.head, "log_entries": len(log.events)}
    said = entries_of(data[30:], protocol_of(FILMED), DEBRIEF_KINDS)
    take_review(log, read_lines(sealed([{**envelope(1), **opened, "program": "0.1.0"}, *said])))


def take_follow_up(data: bytes) -> None:
    """Make a follow-up of entries that bytes choose: what it tells, as lines and as rows of the table."""
    log = read_lines(sealed([first_line(SMALL)]))
    opened = {
        "kind": "followed",
        "code": "A-0001",
        "log_hash": log.head,
        "log_entries": 1,
        "program": "0.1.0",
    }
    said = entries_of(data, protocol_of(SMALL), FOLLOW_UP_KINDS)
    # Bytes that choose words never choose a day: every other visit has one.
    said = [{**e, "day": "2026-06-01"} if e["kind"] == "visit" and e["seq"] % 2 else e for e in said]
    read = read_lines(sealed([{**envelope(1), **opened}, *said]))
    told = follow_up_of(log, Read(read.events, read.hashes, read.size, read.head), "A-0001")
    for line in follow_up_lines(told, NOON.date()):
        assert obeyed(shown(line)) == set()
    for row in visit_rows("A-0001", NOON.date(), told):
        assert row.days == (row.day - NOON.date()).days
        assert row.logmar is None or abs(row.logmar) <= 3


def take_review(log: Read, debrief: Read) -> int:
    """The record and the films of a log and its debrief, as far as they hold; how many films' files."""
    sound = (Read(read.events, read.hashes, read.size, read.head) for read in (log, debrief))
    review = reviewed_of(*sound, "A-0001")
    for told in (True, False):
        now_t = review.logged.last_t
        record = build_reviewed(review, now_t, log.head, len(log.events), notes=told, roles=told)
        _rendered(record, PLAIN_FORMATS)
    return _take_films(review)


def _take_films(review: Reviewed) -> int:
    made = films_of(review, Wishes())
    if isinstance(made, Refusal):
        assert obeyed(shown(made.reason)) == set()
        return 0
    files = film_files(made, AS_NAMES, "A-0001")
    for name, data in files.items():
        assert Path(name).name == name
        assert name.isascii()
        _harmless(data)
    return len(files)


def take_entries(data: bytes) -> None:
    """Make a true chain of entries that bytes choose, and take it as a journal."""
    entries = entries_of(data, protocol_of(SMALL))
    take_journal(sealed([first_line(SMALL), *entries]))
