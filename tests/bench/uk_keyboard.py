"""Which keys lie beside which on a UK QWERTY keyboard, named as the desk names them."""

from __future__ import annotations

from functools import cache

ROWS = (
    (0.0, "`1234567890-="),
    (1.5, "qwertyuiop[]"),
    (1.75, "asdfghjkl;'#"),
    (1.25, "\\zxcvbnm,./"),
)
"""The four rows, each with how far to the right of the first its first key lies, in key widths."""

SHIFTED = dict(zip("`1234567890-=[];'#\\,./", '¬!"£$%^&*()_+{}:@~|<>?', strict=True))

NAMED = {
    "enter": ("#", "'", "]"),
    "space": ("c", "v", "b", "n", "m"),
    "backspace": ("=", "]", "#"),
    "escape": ("`", "f1"),
    "left": ("down",),
    "right": ("down",),
    "up": ("down",),
    "down": ("left", "right", "up"),
    "tab": ("q", "`"),
    "f1": ("escape", "f2"),
    **{f"f{n}": (f"f{n - 1}", f"f{n + 1}") for n in range(2, 12)},
    "f12": ("f11",),
}
"""Neighbours of the keys that print nothing. The function keys stand apart from the digits below them."""


def _places() -> dict[str, tuple[float, float]]:
    return {key: (y, start + x) for y, (start, keys) in enumerate(ROWS) for x, key in enumerate(keys)}


@cache
def neighbours(key: str) -> tuple[str, ...]:
    """The keys that a finger may hit instead; with shift held where `key` needs shift."""
    if key in NAMED:
        return NAMED[key]
    unshifted = {above: below for below, above in SHIFTED.items()}
    base = unshifted.get(key, key.lower())
    places = _places()
    if base not in places:
        return ()
    y, x = places[base]
    near = [k for k, (v, u) in places.items() if k != base and abs(v - y) <= 1 and abs(u - x) <= 1.0]
    if base == key:
        return tuple(near)
    return tuple(SHIFTED.get(k, k.upper()) for k in near)
