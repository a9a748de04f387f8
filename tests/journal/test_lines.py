"""A journal's lines: the published vectors they stand on, and what is and is not taken at its word."""

from __future__ import annotations

import hashlib
import json
import math
import random
import struct
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import jcs
import pytest
import rfc8785
from hypothesis import example, given, settings
from hypothesis import strategies as st

from journal_cases import BEGAN, case, entry, events, json_values, lines_of, moments, opened, written
from tracker.core.events import KINDS, BackStamp, Event, Note, Opened, Tick, Unknown
from tracker.journal import lines
from tracker.journal.lines import (
    LONGEST_LINE,
    START,
    BrokenLine,
    canonical,
    decode,
    encode,
    read_lines,
    time_from,
    time_text,
)


def sealed(data: dict[str, Any], prev: str = START) -> bytes:
    """A line with a true hash around any content, as another program might write it."""
    body = {**data, "prev": prev}
    digest = hashlib.sha256(rfc8785.dumps(body)).hexdigest()
    return rfc8785.dumps({**body, "hash": digest}) + b"\n"


def plain(event: Event) -> dict[str, Any]:
    """The content of an event's line."""
    data = json.loads(encode(event, START)[0])
    return {key: value for key, value in data.items() if key not in {"prev", "hash"}}


# -- RFC 8785 ------------------------------------------------------------------------------------------


def test_rfc8785_sample_has_the_published_bytes() -> None:
    """The sample of RFC 8785 section 3.2.2 becomes the bytes of section 3.2.4."""
    sample = json.loads(
        r'{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],'
        r'"string":"\u20ac$\u000F\u000aA\'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}'.replace(
            r"\'", "'"
        )
    )

    form = canonical(sample)

    assert (
        form
        == (
            '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
            r'"string":"€$\u000f\nA' + r"'B\"\\\\\"/" + '"}'
        ).encode()
    )  # RFC 8785, 3.2.2-3.2.4
    assert len(form) == 118
    assert hashlib.sha256(form).hexdigest() == (
        "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb"  # recomputed with rfc8785 and jcs
    )
    assert form == jcs.canonicalize(sample)


def test_rfc8785_keys_stand_in_the_published_order() -> None:
    """The file "structures" of the cyberphone/json-canonicalization test data comes out as published."""
    structures = json.loads(
        r'{"1":{"f":{"f":"hi","F":5},"\n":56.0},"10":{},"":"empty","a":{},"111":[{}],"A":{}}'
    )

    form = canonical(structures)

    assert form == rb'{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{}],"A":{},"a":{}}'
    assert hashlib.sha256(form).hexdigest() == (
        "513d0c0f2524a8b295a9bbd982a37b7a000f1c5f915bf2d6d8cfdf75347bacad"  # recomputed with rfc8785 and jcs
    )
    assert form == jcs.canonicalize(structures)


@pytest.mark.parametrize(
    ("bits", "text"),
    [  # RFC 8785, appendix B; the table from memory, confirmed by two libraries
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("44b52d02c7e14af6", "1e+23"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555555", "333333333.3333333"),
    ],
)
def test_rfc8785_numbers_have_the_published_text(bits: str, text: str) -> None:
    """A double is written as RFC 8785 appendix B says."""
    (number,) = struct.unpack(">d", bytes.fromhex(bits))

    assert canonical(number) == text.encode()
    assert jcs.canonicalize(number) == text.encode()


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf, 2**53, "\ud800", object()])
def test_what_has_no_canonical_form_is_refused(number: object) -> None:
    """RFC 8785 section 3.2.2.3 and I-JSON: no NaN, no infinity, no whole number from 2**53, no surrogate."""
    with pytest.raises(ValueError, match=r"."):
        canonical(number)


@given(st.recursive(st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(
    st.characters(exclude_categories=["Cs"])), lambda part: st.lists(part, max_size=4) | st.dictionaries(
    st.text(st.characters(codec="ascii")), part, max_size=4)) | json_values)  # fmt: skip
@example({"\x7f": "\x00\x1f\x7f\u2028\u2029\ufeff\U0001f441", "b": ["/", "\\", '"', "\b\f\n\r\t"]})
@example({"\ufb33": 1, "\U0001f600": 2})
def test_the_fast_form_is_the_canonical_form(value: Any) -> None:
    """The standard library's form, where it is used, is byte for byte that of two RFC 8785 libraries."""
    assert canonical(value) == rfc8785.dumps(value) == jcs.canonicalize(value)


# -- FIPS 180-4 ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("message", "digest"),
    [  # FIPS 180-4 and NIST's example values
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ],
)
def test_sha256_gives_the_published_digests(message: bytes, digest: str) -> None:
    """The hash that the chain is made of is SHA-256."""
    assert hashlib.sha256(message).hexdigest() == digest


# -- RFC 3339 ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "epoch"),
    [  # RFC 3339, section 5.8
        ("1985-04-12T23:20:50.52Z", 482196050.52),
        ("1996-12-19T16:39:57-08:00", 851042397),
        ("1996-12-20T00:39:57Z", 851042397),
        ("1937-01-01T12:00:27.87+00:20", -1041337172.13),
    ],
)
def test_rfc3339_examples_name_their_moments(text: str, epoch: float) -> None:
    """The examples of RFC 3339 are the moments they stand for."""
    assert time_from(text).timestamp() == pytest.approx(epoch, abs=1e-6)


@pytest.mark.parametrize("text", ["1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00"])
def test_a_leap_second_is_refused(text: str) -> None:
    """The leap second of RFC 3339 section 5.8 is valid there and not kept here: it would have to be moved."""
    with pytest.raises(ValueError, match="leap second"):
        time_from(text)


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-29",
        "2026-03-29T10:00:00",
        "2026-03-29 10:00:00+01:00",
        "2026-03-29T10:00:00+01",
        "2026-03-29T10:00:00+0100",
        "2026-03-29T10:00+01:00",
        "2026-03-29T10:00:00,5Z",
        "2026-03-29T10:00:00.Z",
        "٢٠٢٦-03-29T10:00:00Z",
        "2026-02-29T10:00:00Z",
        "2026-W13-7T10:00:00Z",
        "20260329T100000Z",
    ],
)
def test_what_is_not_rfc3339_is_refused(text: str) -> None:
    """ISO 8601 allows more than RFC 3339 section 5.6 does."""
    with pytest.raises(ValueError, match=r"."):
        time_from(text)


@pytest.mark.parametrize(
    "at",
    [
        BEGAN.replace(tzinfo=None),
        BEGAN.replace(microsecond=250_001),
        BEGAN.replace(tzinfo=timezone(timedelta(seconds=75))),  # London before 1847
    ],
)
def test_a_time_is_whole_milliseconds_with_a_plain_offset(at: datetime) -> None:
    """A time that would change by being written is refused."""
    with pytest.raises(ValueError, match="whole milliseconds"):
        time_text(at)


@given(moments)
def test_a_time_comes_back_as_it_was_written(at: datetime) -> None:
    """Moment and offset survive being written."""
    back = time_from(time_text(at))

    assert (back, back.utcoffset()) == (at, at.utcoffset())


# -- one line ------------------------------------------------------------------------------------------


def test_a_back_stamp_is_written_as_before_there_was_spreading() -> None:
    """Without `spread` its line and hash are those of earlier programs; with it, it is read back."""
    event = BackStamp(
        seq=7, at=BEGAN, entered_at=BEGAN, elapsed_ms=5, run=1, role="runner", ref=3, seconds=60.0
    )
    spread = event.model_copy(update={"spread": True})

    assert encode(event, START)[1] == "954910179fea9c362fdddfa87e922ab8013c56fa46a4649373459d1994ecf241"
    line, digest = encode(spread, START)
    assert b'"spread":true' in line
    assert decode(line, START) == (spread, digest)


def test_a_line_is_what_the_guide_says() -> None:
    """A line holds the fields, the hash of the line before and its own, sorted, and nothing absent."""
    event = Tick(
        seq=2, at=BEGAN, entered_at=BEGAN, elapsed_ms=1500, run=1, role="circulating", step="ports_in"
    )

    line, digest = encode(event, "ab" * 32)

    assert line == (
        b'{"at":"2026-03-30T09:00:00.250+01:00","elapsed_ms":1500,'
        b'"entered_at":"2026-03-30T09:00:00.250+01:00","hash":"' + digest.encode() + b'",'
        b'"kind":"tick","prev":"'
        + b"ab" * 32
        + b'","role":"circulating","run":1,"seq":2,"step":"ports_in"}\n'
    )
    rest = json.loads(line)
    del rest["hash"]
    assert digest == hashlib.sha256(rfc8785.dumps(rest)).hexdigest()


@settings(max_examples=300)
@given(events(), st.text("0123456789abcdef", min_size=64, max_size=64))
def test_an_event_comes_back_as_it_went(event: Event, prev: str) -> None:
    """Every kind, unknown kinds and keys of a newer program survive being written."""
    line, digest = encode(event, prev)

    back, found = decode(line, prev, event.seq)

    assert (back, found, type(back)) == (event, digest, type(event))
    assert encode(back, prev)[0] == line
    assert (back.at.utcoffset(), back.entered_at.utcoffset()) == (
        event.at.utcoffset(),
        event.entered_at.utcoffset(),
    )


def test_every_kind_is_tried() -> None:
    """The events that the test above draws from are all there are."""
    assert len({kind.model_fields["kind"].default for kind in KINDS}) == len(KINDS) == 28


def test_a_kind_of_a_newer_program_is_kept_whole() -> None:
    """A line of an unknown kind is read, with all it carries, and the chain goes on through it."""
    newer = {**plain(entry(7)), "seq": 2, "kind": "robot_docked", "arm": {"no": 3, "angle": [1.5, None]}}
    first, head = encode(opened(), START)
    second = sealed(newer, head)

    read = read_lines(first + second)

    assert (read.broken, read.torn) == (None, None)
    assert isinstance(read.events[1], Unknown)
    extra = read.events[1].model_extra or {}
    assert (extra["arm"], extra["step"]) == ({"no": 3, "angle": [1.5, None]}, "cannula_seen")
    assert encode(read.events[1], head)[0] == second


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"seq": "1"}, "under `seq`"),
        ({"seq": True}, "under `seq`"),
        ({"elapsed_ms": -1}, "under `elapsed_ms`"),
        ({"elapsed_ms": 1.5}, "under `elapsed_ms`"),
        ({"at": 1774857600}, "no time as text under `at`"),
        ({"at": "2026-03-30T09:00:00Z"}, "not in milliseconds"),
        ({"at": "2026-03-30T09:00:00.250-00:00"}, "not in milliseconds"),
        ({"at": "2026-03-30T24:00:00.250+00:00"}, "under `at`"),
        ({"entered_at": "1990-12-31T23:59:60.000+00:00"}, "leap second"),
        ({"step": 7}, "under `step`"),
        ({"step": None}, "under `step`"),
        ({"kind": None}, "under `kind`"),
        ({"kind": 7}, "under `kind`"),
    ],
)
def test_a_line_is_taken_at_its_word_only_in_its_own_form(change: dict[str, object], what: str) -> None:
    """With a true hash too, a value of another type or a time of another form is not guessed at."""
    tick = Tick(seq=1, at=BEGAN, entered_at=BEGAN, elapsed_ms=0, run=1, role="circulating", step="brief")

    with pytest.raises(BrokenLine, match=what):
        decode(sealed({**plain(tick), **change}), START)


@pytest.mark.parametrize("key", ["seq", "at", "entered_at", "kind", "role", "run", "elapsed_ms", "step"])
def test_a_line_that_lacks_a_key_is_not_completed(key: str) -> None:
    """What a kind must carry is never filled in."""
    tick = plain(
        Tick(seq=1, at=BEGAN, entered_at=BEGAN, elapsed_ms=0, run=1, role="circulating", step="brief")
    )
    del tick[key]

    with pytest.raises(BrokenLine, match=f"`{key}`"):
        decode(sealed(tick), START)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'"run":1', b'"run": 1'),
        (b'"run":1', b'"run":1.0'),
        (b'"run":1', b'"run":1e0'),
        (b'"run":1,"seq":1', b'"seq":1,"run":1'),
        (b'"run":1', b'"run":1,"run":1'),
        (b"circulating", b"c\\u0069rculating"),
        (b'"run":1', b'"run":NaN'),
        (b'"run":1', b'"run":' + b"1" * 5000),
        (b'"run":1', b'"run":' + b"[" * 5000 + b"]" * 5000),
        (b"}\n", b"} \n"),
        (b"}\n", b"}\r\n"),
        (b"}\n", b"}"),
        (b"circulating", b"circulat\xffing"),
        (b"{", b"\xef\xbb\xbf{"),
    ],
)
def test_another_spelling_of_the_same_line_is_seen(old: bytes, new: bytes) -> None:
    """The same content in other bytes is not the line that was written."""
    line, _ = encode(opened(), START)
    assert old in line

    with pytest.raises(BrokenLine):
        decode(line.replace(old, new, 1), START)


@pytest.mark.parametrize(
    "line", [b"\n", b"7\n", b"null\n", b"[]\n", b"{}\n", b'"hash"\n', b"\x00" * 512, b""]
)
def test_what_is_no_object_is_no_entry(line: bytes) -> None:
    """Bytes that are something else, or nothing, are no entry."""
    with pytest.raises(BrokenLine):
        decode(line, START)


def test_a_hash_over_another_spelling_does_not_help() -> None:
    """A line is canonical besides carrying a hash that fits its bytes."""
    spaced = encode(opened(), START)[0].replace(b'"run":1', b'"run": 1')[:-1]
    old = json.loads(spaced)["hash"].encode()
    true = hashlib.sha256(spaced.replace(b'"hash":"' + old + b'",', b"")).hexdigest().encode()

    with pytest.raises(BrokenLine, match="not in the form"):
        decode(spaced.replace(old, true) + b"\n", START)


def test_an_entry_may_not_bring_its_own_chain() -> None:
    """The keys `prev` and `hash` belong to the line."""
    event = Unknown.model_validate({**entry(2).model_dump(exclude_none=True), "kind": "new", "hash": "x"})

    with pytest.raises(ValueError, match="may not carry"):
        encode(event, START)


def test_a_line_longer_than_a_line_is_not_read() -> None:
    """A stranger's endless line does not fill the memory with what it might mean."""
    with pytest.raises(BrokenLine, match="longer"):
        decode(b"[" * LONGEST_LINE + b"\n", START)


def test_an_entry_longer_than_a_line_is_refused() -> None:
    """What could not be read back is not written."""
    base = entry(6).model_dump(include={"seq", "at", "entered_at", "elapsed_ms", "run", "role"})

    with pytest.raises(ValueError, match="longer"):
        encode(Note(**base, text="x" * LONGEST_LINE), START)


# -- a whole file --------------------------------------------------------------------------------------


def test_a_sound_file_is_read_whole() -> None:
    """All entries, the length and the last hash come back."""
    story = case(30)

    read = read_lines(written(story))

    assert (read.events, read.size, read.torn, read.broken) == (story, len(written(story)), None, None)
    assert read.head == read.hashes[-1] == json.loads(lines_of(story)[-1])["hash"]


LONG_TEXT = 'title = "µ – a protocol"\n' * 400


def read_afresh(line: bytes) -> object:
    """What a line is to a process that has read no other."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lines, "_protocols_read", ())
        return answer(line)


def answer(line: bytes) -> object:
    """The event of a line, or what is said against it."""
    try:
        return decode(line, START)
    except BrokenLine as broken:
        return broken.what


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"code": "A-0002", "station": "second table"},
        {"protocol": ""},
        {"protocol": LONG_TEXT + "x"},
        {"protocol": "x" + LONG_TEXT},
        {"protocol": [LONG_TEXT]},
        {"a": {"protocol": LONG_TEXT}, "protocol": ""},
        {"a": {"a": 1, "protocol": LONG_TEXT}, "protocol": ""},
        {"a": {"a": 1, "protocol": LONG_TEXT}, "protocol": LONG_TEXT},
        {"a": {"protocol": LONG_TEXT}, "protocol": ...},
        {"aaaaaa": LONG_TEXT, "protocol": ""},
        {"a": f'","protocol":"{LONG_TEXT}"', "protocol": ""},
        {"zzz": {"protocol": ""}},
        {"zzz": 1.5},
        {"zzz": {"é": 1}},
    ],
)
def test_a_protocol_read_before_changes_nothing_about_a_line(change: dict[str, object]) -> None:
    """Many first lines hold one and the same protocol, which is compared, not read: the answer is the same."""
    first = opened().model_copy(update={"protocol": LONG_TEXT})
    content = {key: value for key, value in {**plain(first), **change}.items() if value is not ...}
    line = sealed(content)
    bent = line.replace(b"\xc2\xb5", b"\xc2\xb6", 1)
    fresh = [read_afresh(line), read_afresh(bent)]

    decode(sealed(plain(first)), START)

    assert [answer(line), answer(bent)] == fresh
    assert (fresh[1] != fresh[0]) == (bent != line)


def test_an_empty_file_is_sound() -> None:
    """Nothing is nothing the matter."""
    read = read_lines(b"")

    assert (read.events, read.head, read.torn, read.broken) == ((), START, None, None)


def test_a_file_may_be_read_on_from_any_line() -> None:
    """A reader that verified some lines needs only the rest."""
    lines = lines_of(case(12))
    first = read_lines(b"".join(lines[:5]))

    rest = read_lines(b"".join(lines[5:]), "journal", first.head, 5)

    assert first.events + rest.events == case(12)


def test_a_file_cut_at_any_byte_keeps_every_whole_line() -> None:
    """Cut anywhere, a journal gives the lines before the cut, and the rest as an unfinished line."""
    story, lines = case(30), lines_of(case(30))
    head, start = START, 0

    for number, line in enumerate(lines):
        for cut in range(len(line)):
            # What stands before is read by the same steps whatever follows, so it need not be read each time.
            read = read_lines(line[:cut], "journal", head, number)
            assert (read.events, read.torn or b"", read.broken) == ((), line[:cut], None)
        whole = read_lines(b"".join(lines)[: start + len(line) // 2])
        assert (whole.events, whole.size, whole.torn) == (story[:number], start, line[: len(line) // 2])
        head, start = json.loads(line)["hash"], start + len(line)


def test_a_flipped_bit_is_seen_and_located() -> None:
    """Any one bit flipped anywhere: the line is named, all before it kept, nothing after it believed."""
    story, lines = case(30), lines_of(case(30))
    data = b"".join(lines)
    chance = random.Random(20260330)

    for at in [*chance.sample(range(len(data)), 250), 0, len(data) - 1]:
        flipped = bytearray(data)
        flipped[at] ^= 1 << chance.randrange(8)
        hit = data[:at].count(b"\n")

        read = read_lines(bytes(flipped))

        assert read.events == story[:hit]
        assert (read.torn is not None) != (read.broken is not None)
        assert read.broken is None or read.broken.line == hit + 1
        assert hit == len(lines) - 1 or read.broken is not None


def end(*parts: bytes) -> bytes:
    """Three good lines and then these bytes."""
    return b"".join([*lines_of(case(3)), *parts])


GOOD = lines_of(case(6))


@pytest.mark.parametrize(
    "tail",
    [
        b"{",
        b"\n",
        bytes(512),
        bytes(511) + b"\n",
        GOOD[3][:-1],
        GOOD[3][:40],
        GOOD[3][40:],
        GOOD[3][:40] + bytes(40) + GOOD[3][80:],
        b"hello\n",
    ],
)
def test_an_unfinished_last_line_is_told_as_torn(tail: bytes) -> None:
    """At most one line's worth without a line end inside, vouching for nothing, is an interrupted append."""
    read = read_lines(end(tail))

    assert (len(read.events), read.torn, read.broken) == (3, tail, None)


@pytest.mark.parametrize(
    "tail",
    [
        GOOD[4],  # a line is missing before it
        GOOD[2],  # the last line twice
        GOOD[0],
        b"hello\n" + GOOD[3],
        GOOD[3][:-20] + GOOD[4],  # the line end between two lines is gone: an entry stands in the rest
        bytes(100) + GOOD[3],
        b"hello\nworld",
        b"\n\n",
        GOOD[3].replace(b"2", b"3", 1) + GOOD[4],
    ],
)
def test_anything_else_is_told_as_a_broken_line(tail: bytes) -> None:
    """More than one append, or a true entry in the wrong place, is not what an interruption leaves."""
    read = read_lines(end(tail), "A-0001.case.jsonl")

    assert (len(read.events), read.torn) == (3, None)
    assert read.broken is not None
    assert (read.broken.source, read.broken.line) == ("A-0001.case.jsonl", 4)
    assert "mend" in read.broken.mend


def test_lines_in_another_order_are_seen() -> None:
    """Two lines that changed places break the chain at the first of them."""
    lines = lines_of(case(8))
    lines[4], lines[5] = lines[5], lines[4]

    read = read_lines(b"".join(lines))

    assert (len(read.events), read.broken and read.broken.line) == (4, 5)


def test_a_number_that_was_left_out_is_seen() -> None:
    """Entries are numbered without gaps, also where every hash fits."""
    first, head = encode(opened(), START)

    read = read_lines(first + encode(entry(3), head)[0])

    assert (len(read.events), read.broken and read.broken.what) == (1, "Line 2 does not carry the number 2")


def test_a_first_line_from_another_case_is_seen() -> None:
    """A line of another case does not fit, though it is true in itself."""
    lines = lines_of(case(4))
    other = encode(opened("B-0001"), START)[0]

    read = read_lines(b"".join([other, *lines[1:]]))

    assert (len(read.events), read.broken and read.broken.line) == (1, 2)
    assert isinstance(read.events[0], Opened)


@given(st.integers(0, 8), st.binary(max_size=60), st.integers(0, 200), st.integers(0, 200))
def test_any_bytes_get_an_answer(line: int, noise: bytes, at: int, gone: int) -> None:
    """Whatever is put into a journal, cut out of it or put in its place: a reading, never a traceback."""
    lines = lines_of(case(9))
    lines[line] = lines[line][:at] + noise + lines[line][at + gone :]
    data = b"".join(lines)

    read, only_noise = read_lines(data), read_lines(noise)

    assert read.events[:line] == case(line) if line else True
    assert only_noise.events == ()
    assert data[read.size :] == b"" or (read.torn is None) != (read.broken is None)


def test_midnight_and_the_change_of_the_clocks_are_nothing_special() -> None:
    """Offsets of both sides of 2026-10-25 in London are kept apart, at the same wall time."""
    before = datetime(2026, 10, 25, 1, 30, tzinfo=timezone(timedelta(hours=1)))
    after = datetime(2026, 10, 25, 1, 30, tzinfo=UTC)

    assert time_text(before) == "2026-10-25T01:30:00.000+01:00"
    assert time_text(after) == "2026-10-25T01:30:00.000+00:00"
    assert after - before == timedelta(hours=1)  # IANA tzdata: the clocks go back at 01:00Z
