"""Events as lines of text: one JSON object a line, each vouching for itself and for the line before.

A line is the RFC 8785 form of the event's fields, of `prev` (the hash of the line before, 64 zeros on
line 1) and of `hash`, the SHA-256 of the RFC 8785 form of all the rest. Absent fields are left out, and
keys of a newer program are kept. The chain shows accidents and clumsy changes; whoever rewrites a whole
file can compute it anew, so the last hash belongs in every record that leaves the archive.

A file ends in one of three ways. *Sound*: every line holds. *Torn*: what follows the last good line is
at most one line's worth (no line end in it but at its very end) and holds no entry that vouches for
itself; this is what an interrupted append leaves behind. *Broken*: anything else. Entries after a broken
line are not returned, because nothing vouches for their place.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable
from datetime import datetime
from typing import Annotated, Any, Final, NoReturn

import msgspec
import rfc8785
from msgspec import Struct
from pydantic import ValidationError

from tracker.core.day_events import LIST_BY_KIND
from tracker.core.debrief_events import DEBRIEF_BY_KIND
from tracker.core.events import BY_KIND, Event, Unknown
from tracker.core.findings import Finding
from tracker.core.follow_up_events import FOLLOW_UP_BY_KIND

START: Final = "0" * 64
"""What stands for the hash of the line before line 1."""

LONGEST_LINE: Final = 4 * 2**20
"""Bytes of the longest line; the first one holds a protocol of up to 1 MB, escaped."""

_LARGEST_WHOLE: Final = 2**53 - 1  # RFC 8785 numbers are IEEE 754 doubles
_KINDS: Final = {**BY_KIND, **DEBRIEF_BY_KIND, **FOLLOW_UP_BY_KIND, **LIST_BY_KIND}
_OWN_KEYS: Final = frozenset({"prev", "hash"})
_MOMENT: Final = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:([0-9]{2})(?:\.[0-9]+)?(?:[Zz]|[+-][0-9]{2}:[0-9]{2})"
)
_OWN_MOMENT: Final = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}T(?!24)[0-9]{2}:[0-9]{2}:[0-5][0-9]\.[0-9]{3}(?!-00:00)[+-][0-9]{2}:[0-5][0-9]"
)


class BrokenLine(Exception):  # noqa: N818 - a fact about a file, not about this program
    """A line that cannot be taken at its word; `what` says why, to follow "Line 7 ..."."""

    def __init__(self, what: str) -> None:
        super().__init__(what)
        self.what = what


class Read(Struct, frozen=True, gc=False):
    """What a file holds up to its first unverifiable line.

    `hashes` runs beside `events`; `size` is the verified length in bytes and `head` the hash of the last
    good line; `torn` the bytes of an unfinished last line; `broken` the finding at a line that cannot be
    one.
    """

    events: tuple[Event, ...]
    hashes: tuple[str, ...]
    size: int
    head: str
    torn: bytes | None = None
    broken: Finding | None = None


def time_text(at: datetime) -> str:
    """`at` in the one form that a line holds, as `2026-03-29T00:59:59.250+00:00`.

    Raises:
        ValueError: `at` has no offset, an offset with seconds, or parts of a millisecond.
    """
    text = at.isoformat(timespec="milliseconds")
    if len(text) != 29 or at.microsecond % 1000:
        raise ValueError("a time is kept in whole milliseconds with its offset in whole minutes")
    return text


def time_from(text: str) -> datetime:
    """The moment that an RFC 3339 text names, its offset kept, to the microsecond.

    A leap second (`:60`) is refused: it would have to be moved to fit, and a station's clock never
    shows one.

    Raises:
        ValueError: `text` is no such text, or names a leap second.
    """
    form = _MOMENT.fullmatch(text)
    if form is None:
        raise ValueError("is not an RFC 3339 time with an offset")
    if form[1] == "60":
        raise ValueError("names a leap second, which is not kept here")
    return datetime.fromisoformat(text)


def canonical(value: Any) -> bytes:
    """The RFC 8785 form of `value`, in UTF-8.

    msgspec writes that very form for ASCII keys and numbers that are whole and below 2**53, many times as
    fast; everything else goes through `rfc8785`.

    Raises:
        ValueError: `value` has no such form: not a number, too large, a lone surrogate, no JSON.
    """
    return _ENCODE(value) if _simple((value,)) else rfc8785.dumps(value)


def encode(event: Event, prev_hash: str) -> tuple[bytes, str]:
    """The line of `event` with its line end, and the line's hash.

    Raises:
        ValueError: the event holds what a line cannot, as half a millisecond or a lone surrogate.
    """
    data = {**_fields(event), "prev": prev_hash}
    # Keys are sorted, so the form of the whole is that of the keys before and after `hash`, written once.
    before = canonical({key: value for key, value in data.items() if key < "hash"})[1:-1]
    after = canonical({key: value for key, value in data.items() if key > "hash"})[1:-1]
    digest = hashlib.sha256(b"{%s,%s}" % (before, after)).hexdigest()
    line = b'{%s,"hash":"%s",%s}\n' % (before, digest.encode(), after)
    if len(line) > LONGEST_LINE:
        raise ValueError("the entry is longer than a line may be")
    return line, digest


def decode(line: bytes, prev_hash: str, seq: int | None = None) -> tuple[Event, str]:
    """The event of a line with its line end, and the line's hash; `seq` is its number, if known.

    Raises:
        BrokenLine: the bytes are not the one form that `encode` writes after `prev_hash`.
    """
    data = _sealed(line)
    digest = data.pop("hash")
    if data.pop("prev", None) != prev_hash:
        raise BrokenLine("does not follow from the line before it")
    if seq is not None and data.get("seq") != seq:
        raise BrokenLine(f"does not carry the number {seq}")
    told, entered = data.get("at"), data.get("entered_at")
    data["at"] = _moment("at", told)
    data["entered_at"] = data["at"] if entered == told else _moment("entered_at", entered)
    try:
        # Strict: a text "7" or a `true` in place of a number is not what was written.
        event = _KINDS.get(str(data.get("kind")), Unknown).model_validate(data, strict=True)
    except ValidationError as refusal:
        raise BrokenLine(_plainly(refusal)) from refusal
    return event, str(digest)


def read_lines(data: bytes, source: str = "journal", prev_hash: str = START, done: int = 0) -> Read:
    """Read lines up to the first that does not hold.

    `source` names the file in a finding. A reader that has verified `done` lines before, the last with
    `prev_hash`, may give only what follows them.
    """
    events: list[Event] = []
    hashes: list[str] = []
    at = 0
    while at < len(data):
        end = data.find(b"\n", at) + 1 or len(data)
        number = done + len(events) + 1
        try:
            event, prev_hash = decode(data[at:end], prev_hash, number)
        except BrokenLine as broken:
            tail = data[at:]
            finding = None if _unfinished(tail) else _finding(source, number, broken.what)
            return Read(tuple(events), tuple(hashes), at, prev_hash, None if finding else tail, finding)
        events.append(event)
        hashes.append(prev_hash)
        at = end
    return Read(tuple(events), tuple(hashes), at, prev_hash)


def _fields(event: Event) -> dict[str, Any]:
    data = event.model_dump()
    if not _OWN_KEYS.isdisjoint(data):
        raise ValueError("an entry may not carry the keys `prev` and `hash`")
    known = type(event).model_fields
    return {
        **{key: value for key, value in data.items() if value is not None or key not in known},
        "at": time_text(event.at),
        "entered_at": time_text(event.entered_at),
    }


def _sealed(line: bytes) -> dict[str, Any]:
    """The object of a line that is in canonical form and carries its own true hash."""
    if not line.endswith(b"\n"):
        raise BrokenLine("has no line end")
    if len(line) > LONGEST_LINE:
        raise BrokenLine("is longer than a line may be")
    body = line[:-1]
    try:
        data, same = _read_canonical(body)
    except (ValueError, RecursionError):
        raise BrokenLine("is not readable as an entry") from None
    if not isinstance(data, dict) or not same:
        raise BrokenLine("is not in the form that entries are written in")
    member = b'"hash":"%s",' % str(data.get("hash")).encode()
    # In canonical form, cutting the member out gives the canonical form of the rest.
    if hashlib.sha256(body.replace(member, b"", 1)).hexdigest() != data.get("hash"):
        raise BrokenLine("does not match its own hash")
    return data


def _read_canonical(body: bytes) -> tuple[Any, bool]:
    """What a text of JSON holds, and whether it is in canonical form."""
    if len(body) > _LONG:
        for form, text in _protocols_read:
            if (known := _read_around(body, form, text)) is not None:
                return known
    data, same = _read_plain(body) or _read_any(body)
    if same and len(body) > _LONG:
        _remember(data)
    return data, same


def _read_plain(body: bytes) -> tuple[Any, bool] | None:
    """What nearly every line is: texts, flags and whole numbers under ASCII keys, at most one level deep."""
    try:
        data = _PLAIN(body)
    except msgspec.ValidationError:
        return None
    return (data, _ENCODE(data) == body) if body.isascii() or _simple((data,)) else None


def _read_any(body: bytes) -> tuple[Any, bool]:
    data = _DECODE(body.decode())
    return data, canonical(data) == body


def _read_around(body: bytes, form: bytes, text: str) -> tuple[Any, bool] | None:
    """`_read_canonical` of a text with the protocol `text`, as written `form`; None if it has another."""
    at = body.find(_PROTOCOL, 0, _LONG)
    value = at + len(_PROTOCOL)
    if at < 0 or not body.startswith(form, value):
        return None
    rest = body[:value] + b'""' + body[value + len(form) :]
    if rest.count(_PROTOCOL) != 1:  # the one found may be a part of something else
        return None
    data, same = _read_canonical(rest)
    if not isinstance(data, dict) or data.get("protocol") != "":
        return None
    return {**data, "protocol": text}, same


def _remember(data: Any) -> None:
    global _protocols_read  # noqa: PLW0603 - this module's own memory, replaced as a whole
    text = data.get("protocol") if isinstance(data, dict) else None
    if isinstance(text, str) and len(text) > _LONG:
        _protocols_read = ((_ENCODE(text), text), *_protocols_read)[:4]


def _unfinished(tail: bytes) -> bool:
    """Whether `tail` can be one interrupted append: see the head of this module."""
    if 0 <= tail.find(b"\n") < len(tail) - 1:
        return False
    glued = tail.rfind(b'{"at":"')
    return not any(_vouches(tail[start:]) for start in {0, max(glued, 0)})


def _vouches(line: bytes) -> bool:
    try:
        _sealed(line)
    except BrokenLine:
        return False
    return True


def _finding(source: str, line: int, what: str) -> Finding:
    mend = "Leave the file alone; `clockhour archive mend` keeps what stands before and sets aside the rest"
    return Finding(source=source, line=line, path="", what=f"Line {line} {what}", mend=mend)


def _moment(key: str, text: object) -> datetime:
    if not isinstance(text, str):
        raise BrokenLine(f"has no time as text under `{key}`")
    own = _OWN_MOMENT.fullmatch(text)
    try:
        at = datetime.fromisoformat(text) if own else time_from(text)
    except ValueError as refusal:
        raise BrokenLine(f"has under `{key}` what {_short(str(refusal))}") from refusal
    if not own:
        raise BrokenLine(f"has a time under `{key}` that is not in milliseconds with an offset")
    return at


def _plainly(refusal: ValidationError) -> str:
    first = refusal.errors(include_url=False, include_context=False, include_input=False)[0]
    key = ".".join(str(part) for part in first["loc"]) or "kind"
    if first["type"] == "missing":
        return f"lacks `{key}`, which its kind must carry"
    return f"holds under `{_short(key)}` what its kind cannot carry"


def _short(text: str) -> str:
    return text if len(text) <= 60 else text[:59] + "…"


def _simple(values: Iterable[Any]) -> bool:
    # One loop and no call a value: every line of every journal passes here.
    for value in values:
        kind = type(value)
        if kind is str or kind is bool or value is None:
            continue
        if kind is int:
            simple = -_LARGEST_WHOLE <= value <= _LARGEST_WHOLE
        elif kind is dict:
            simple = _simple_keys(value) and _simple(value.values())
        else:
            simple = kind is list and _simple(value)
        if not simple:
            return False
    return True


def _simple_keys(keys: Iterable[Any]) -> bool:
    try:
        return "".join(keys).isascii()
    except TypeError:  # a key that is no text
        return False


def _number(digits: str) -> int | float:
    # RFC 8785 writes a double such as 1e20 without an exponent; above 2**53 it must come back as a double.
    whole = int(digits)
    return whole if -_LARGEST_WHOLE <= whole <= _LARGEST_WHOLE else float(digits)


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is not JSON")


_ENCODE: Final = msgspec.json.Encoder(order="sorted").encode
_Whole = Annotated[int, msgspec.Meta(ge=-_LARGEST_WHOLE, le=_LARGEST_WHOLE)]
_Plain = _Whole | bool | str | None
_PLAIN: Final = msgspec.json.Decoder(dict[str, _Plain | dict[str, _Plain]]).decode
_DECODE: Final = json.JSONDecoder(parse_int=_number, parse_constant=_no_number).decode

_LONG: Final = 2048
_PROTOCOL: Final = b'"protocol":'
"""As a key alone: within a text its quotes would be escaped."""
_protocols_read: tuple[tuple[bytes, str], ...] = ()
"""The protocols of the last lines 1, as written and as read: a thousand cases begin with one and the same."""
