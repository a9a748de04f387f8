"""The station's settings: one TOML file, read into values; what is wrong with it is said, never fatal."""

from __future__ import annotations

import errno
import os
import reprlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from msgspec import Struct, field
from msgspec.structs import replace
from platformdirs import user_config_dir, user_data_dir

from tracker.core.findings import Finding
from tracker.core.loading import toml_table
from tracker.journal.codes import next_code
from tracker.screen.binding import NAMED, Table, bound
from tracker.screen.commands import Command
from tracker.screen.paint import BRIGHTNESS, THEMES
from tracker.screen.panels import FIGURES
from tracker.theatre.keys import COMMANDS

ENVIRONMENT: Final = "CLOCKHOUR_SETTINGS"
LIMIT: Final = 16 * 1024
"""Bytes of the largest settings file; a page of keys is two thousand."""

PRESETS: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    "keypad": {
        "natural": ("+", "space"), "strike": ("*", "backspace"),
    },
    "pedals": {
        "bookmark": ("f6", "f7"), "natural": ("space", "f8"), "onward": ("tab", "f9"),
        "pause": ("&",), "hand_over": ("*",), "entries": ("(",),
    },
}  # fmt: skip
"""`keypad`: one hand on a numeric keypad. `pedals`: a three-pedal foot switch that sends F7, F8, F9.

With pedals, what has F7, F8 and F9 else is on the same figures with Shift held.
"""

SECOND_FOLDER: Final = Path(user_data_dir("clockhour", appauthor=False)) / "second"


def second_folder(first: Path, places: Sequence[Path] | None = None) -> Path:
    """Where a case goes on when the disk of the folder `first` does not take entries, if no setting says it.

    The first place on another disk that outlasts the machine's being switched off: a folder that the system keeps, or
    what is plugged in. If there is none, a folder of the user's on the same disk.
    """
    disk = _disk_of(first)
    for place in _places() if places is None else places:
        if _disk_of(place) not in (disk, None) and os.access(place, os.W_OK | os.X_OK):
            return place / SECOND_NAME
    return SECOND_FOLDER


SECOND_NAME: Final = "clockhour-second"


def _places() -> Iterator[Path]:
    """The user's own folders, then disks; none that is asked over a network, which may not answer."""
    yield from (Path(user_data_dir()), Path.home())
    with suppress(OSError):
        yield from sorted(Path("/Volumes").iterdir())
    with suppress(OSError):
        mounts = (
            line.split() for line in Path("/proc/self/mounts").read_text("utf-8", "replace").splitlines()
        )
        found = [
            Path(place) for device, place, kind, *_ in mounts if device.startswith("/dev/") and kind in _DISKS
        ]
        yield from (place for place in found if place.is_dir() and place.parts[1:2] not in _SYSTEM)


_DISKS: Final = frozenset(
    ["ext2", "ext3", "ext4", "xfs", "btrfs", "f2fs", "jfs", "vfat", "exfat", "ntfs", "ntfs3", "fuseblk"]
)
_SYSTEM: Final = (
    (),
    *((name,) for name in ("boot", "dev", "efi", "etc", "opt", "proc", "snap", "sys", "usr", "var")),
)
"""Where the system's own things lie: its root, and these in it."""


def _disk_of(place: Path) -> int | None:
    """The number of the disk that a folder lies on, or will; None if it cannot be asked."""
    with suppress(OSError):
        return next(each for each in (place, *place.parents) if each.exists()).stat().st_dev
    return None


class Settings(Struct, frozen=True, gc=False):
    """How this station looks and which keys it uses; `review_keys` is for the review to check."""

    theme: str = "lamp"
    brightness: int = len(BRIGHTNESS) - 1
    site: str = "A"
    station: str = ""
    second_folder: Path = SECOND_FOLDER
    commands: tuple[Command, ...] = COMMANDS
    review_keys: Any = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


def settings_path(environment: Mapping[str, str]) -> Path:
    """Where the settings lie: `CLOCKHOUR_SETTINGS` if it is set, else the platform's folder for them."""
    chosen = environment.get(ENVIRONMENT)
    return Path(chosen) if chosen else Path(user_config_dir("clockhour", appauthor=False)) / "settings.toml"


def read_settings(path: Path) -> Settings:
    """The settings of a file; none is as good as an empty one, a bad one falls back and says so."""
    try:
        if not path.exists():
            return Settings()
        content = _bytes(path)
    except OSError:
        return _defaults(path.name, "cannot be read")
    if len(content) > LIMIT:
        return _defaults(path.name, f"holds more than {LIMIT // 1024} KiB")
    try:
        return settings_from(content.decode("utf-8-sig"), path.name)
    except UnicodeDecodeError:
        return _defaults(path.name, "cannot be read as text")


def _bytes(path: Path) -> bytes:
    if not path.is_file():
        raise OSError(errno.EINVAL, "no plain file")  # a named pipe would hold the station up
    with path.open("rb") as file:
        return file.read(LIMIT + 1)


def _defaults(source: str, what: str) -> Settings:
    found = Finding(source, 0, "", what, "The station goes on with its defaults")
    return Settings(findings=(found,))


def settings_from(text: str, source: str) -> Settings:
    """The settings of a text; every key that is not understood is a finding and keeps its default."""
    try:
        raw, refused = toml_table(text)
    except RecursionError:
        return _defaults(source, "nests brackets too deeply")
    if refused:
        return Settings(findings=tuple(Finding(source, *each) for each in refused))
    settings, said = Settings(), []
    for key, value in raw.items():
        if key in ("preset", "keys", "review_keys"):
            continue
        if _fits(key, value):
            settings = replace(settings, **{key: _AS.get(key, _same)(value)})
        else:
            said.append(
                Finding(source, 0, key, f"{reprlib.repr(value)} is not known here", _MEND.get(key, _UNKNOWN))
            )
    commands, clashes = _bound(raw, source)
    findings = (*said, *clashes)
    return replace(settings, commands=commands, review_keys=raw.get("review_keys", {}), findings=findings)


def _same(value: Any) -> Any:
    return value


_AS: Final[Mapping[str, Callable[[Any], Any]]] = {"brightness": lambda n: n - 1, "second_folder": Path}
_UNKNOWN: Final = (
    "Known are theme, brightness, site, station, second_folder, preset, and the tables keys and review_keys"
)
_MEND: Final = {
    "theme": f"Write one of {', '.join(THEMES)}",
    "brightness": f"Write a number from 1 to {len(BRIGHTNESS)}",
    "site": "Write one to four capital letters",
    "station": "Write a short name of the place, no person's",
    "second_folder": "Write the full path of a folder on another disk",
}


def _fits(key: str, value: Any) -> bool:
    if key == "theme":
        return value in THEMES if isinstance(value, str) else False
    if key == "brightness":
        return type(value) is int and 1 <= value <= len(BRIGHTNESS)
    if key == "site":
        return isinstance(value, str) and _is_site(value)
    if key == "second_folder":
        return isinstance(value, str) and value.isprintable() and Path(value).is_absolute()
    return key == "station" and isinstance(value, str) and len(value) <= 40 and value.isprintable()


def _is_site(text: str) -> bool:
    try:
        next_code((), text)
    except ValueError:
        return False
    return True


# -- keys


def may_bind(key: str) -> bool:
    """Whether a command may have this key: no letter, figure or chord, not Enter, nothing a terminal keeps for itself."""
    return (key in NAMED and key != "enter") or (
        len(key) == 1 and key.isascii() and key.isprintable() and not key.isalnum() and key not in FIGURES
    )


_TABLE: Final = Table(
    "keys",
    COMMANDS,
    may_bind,
    "Write a punctuation mark, f1 to f12, space, tab, an arrow; letters are the steps', digits . and - are figures,"
    " Enter answers",
)


def _bound(raw: Mapping[str, Any], source: str) -> tuple[tuple[Command, ...], tuple[Finding, ...]]:
    preset: Any = raw.get("preset", "")
    said: tuple[Finding, ...] = ()
    if not isinstance(preset, str) or (preset and preset not in PRESETS):
        known = f"Write one of {', '.join(PRESETS)}"
        said = (Finding(source, 0, "preset", "is not known here", known),)
    presets = PRESETS.get(preset, {}) if isinstance(preset, str) else {}
    commands, found = bound(_TABLE, raw.get("keys", {}), source, presets)
    return commands, (*said, *found)
