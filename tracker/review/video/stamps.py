"""Times of a recording as people type them and as files hold them.

Drop-frame time code counts 29.97 frames a second with the numbers of 30: it leaves out the numbers 00 and
01 of every minute but each tenth, 108 an hour, so that it stays with the clock (SMPTE ST 12-1). Counted
without leaving out, the same hour reads 3.6 s short.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

from tracker.review.video.remarks import Remark

NTSC: Final = Fraction(30000, 1001)
"""29.97 frames a second, exactly (SMPTE ST 12-1)."""

_CLOCK: Final = re.compile(r"(?:(?:(\d{1,3}):)?(\d{1,3}):)?(\d{1,6}(?:[.,]\d{1,6})?)", re.ASCII)
_CODE: Final = re.compile(r"(\d{1,2}):(\d{2}):(\d{2})([:;])(\d{2})", re.ASCII)


def stamp(seconds: float, point: str = ".") -> str:
    """Seconds, not negative, as `HH:MM:SS.mmm`, rounded to the millisecond."""
    whole, ms = divmod(round(seconds * 1000), 1000)
    minutes, s = divmod(whole, 60)
    h, m = divmod(minutes, 60)
    return f"{h:02d}:{m:02d}:{s:02d}{point}{ms:03d}"


def drop_frame_number(h: int, m: int, s: int, frame: int) -> int:
    """How many frames precede the one that drop-frame time code `h:m:s;frame` names (SMPTE ST 12-1).

    Raises:
        ValueError: there is no such frame; the number is one of those left out, or too large.
    """
    if m > 59 or s > 59 or frame > 29:
        raise ValueError("minutes and seconds go to 59, frames to 29")
    if s == 0 and frame < 2 and m % 10:
        raise ValueError("frames 00 and 01 are left out at the start of this minute")
    minutes = 60 * h + m
    return 30 * (60 * minutes + s) + frame - 2 * (minutes - minutes // 10)


def seconds_of(text: str, rate: Fraction | None = None) -> float | Remark:
    """A time typed as seconds, `MM:SS`, `HH:MM:SS`, with a fraction or not, or as time code with frames.

    `HH:MM:SS;FF` is drop-frame at 29.97; `HH:MM:SS:FF` counts frames at `rate` a second.
    """
    typed = text.strip()
    if code := _CODE.fullmatch(typed):
        return _from_code(typed, code, rate)
    clock = _CLOCK.fullmatch(typed)
    if clock is None:
        return Remark("time", "", f"“{typed[:40]}” is not a time: write seconds, MM:SS or HH:MM:SS.")
    h, m, s = (float((part or "0").replace(",", ".")) for part in clock.groups())
    if (clock[2] and s >= 60) or (clock[1] and m >= 60):
        return Remark("time", "", f"“{typed}” is not a time: minutes and seconds stay below 60.")
    return 3600 * h + 60 * m + s


def _from_code(typed: str, code: re.Match[str], rate: Fraction | None) -> float | Remark:
    h, m, s, frame = (int(code[i]) for i in (1, 2, 3, 5))
    if code[4] == ";":
        try:
            return float(drop_frame_number(h, m, s, frame) / NTSC)
        except ValueError as why:
            return Remark("time", "", f"“{typed}” is no drop-frame time code: {why}.")
    if rate is None:
        return Remark("time", "", f"“{typed}” counts frames: say how many there are in a second.")
    whole = -(-rate.numerator // rate.denominator)
    if m > 59 or s > 59 or frame >= whole:
        return Remark("time", "", f"“{typed}” is no time code at {float(rate):.5g} frames a second.")
    return float((whole * (3600 * h + 60 * m + s) + frame) / rate)
