"""Case codes: `A-0001`, a site's letters and a number. They name a case and say nothing of a person.

The key from code to patient is kept outside this program. A code comes from the site's own sequence,
never from a hospital number, initials or a date of birth.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from typing import Final

from tracker.core.text import identifying

_CODE: Final = re.compile(r"([A-Z]{1,4})-([0-9]{4,9})")
_SITE: Final = re.compile(r"[A-Z]{1,4}")
_LAST_NUMBER: Final = 999_999_999
# Microsoft, "Naming Files, Paths, and Namespaces": these stay reserved with any ending.
_RESERVED: Final = frozenset(
    ["CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in range(1, 10))]
)
_BIRTH_FORMS: Final = {6: ("%d%m%y", "%y%m%d", "%m%d%y"), 8: ("%d%m%Y", "%Y%m%d", "%m%d%Y")}


def check_code(text: str) -> str | None:
    """Why `text` cannot be a case code, as a sentence; None when it can."""
    if found := identifying(text):
        return f"A case code says nothing of a person; this holds {' and '.join(found)}."
    if any(mark in text for mark in "/\\:") or ".." in text:
        return "A case code is no path: write one like A-0001."
    if text.partition(".")[0].strip().upper() in _RESERVED:
        return "Windows keeps that name for a device: write a case code like A-0001."
    code = _CODE.fullmatch(text)
    if code is None:
        return "A case code is 1 to 4 capital letters for the site, a hyphen and 4 to 9 digits, like A-0001."
    if _may_be_birth_date(code[2]):
        return "The number of this case code reads like a date of birth: take the next free one."
    return None


def next_code(existing: Iterable[str], site: str) -> str:
    """The code after the highest of `site` in `existing`; codes of other sites do not count.

    Raises:
        ValueError: `site` is not 1 to 4 capital letters, or its numbers are used up.
    """
    if not _SITE.fullmatch(site):
        raise ValueError("a site is 1 to 4 capital letters")
    last = max((_number_at(code, site) for code in existing), default=0)
    for number in range(last + 1, _LAST_NUMBER + 1):
        if check_code(code := f"{site}-{number:04d}") is None:
            return code
    raise ValueError(f"the numbers of site {site} are used up")


def code_order(code: str) -> tuple[str, int]:
    """A sorting key: by site, then by number."""
    site, _, number = code.partition("-")
    return site, int(number)


def latest(codes: Iterable[str], most: int) -> tuple[str, ...]:
    """The latest `most` codes of each site: one site's numbers say nothing of another's. By site and number."""
    sites: dict[str, list[str]] = {}
    for code in sorted(codes, key=code_order):
        sites.setdefault(code_order(code)[0], []).append(code)
    return tuple(code for of_site in sites.values() for code in of_site[-most:])


def _number_at(code: str, site: str) -> int:
    parts = _CODE.fullmatch(code)
    return int(parts[2]) if parts and parts[1] == site else 0


def _may_be_birth_date(digits: str) -> bool:
    return any(_reads_as(digits, form) for form in _BIRTH_FORMS.get(len(digits), ()))


def _reads_as(digits: str, form: str) -> bool:
    try:
        year = datetime.strptime(digits, form).year  # noqa: DTZ007 - a date alone has no zone
    except ValueError:
        return False
    return 1900 <= year < 2100
