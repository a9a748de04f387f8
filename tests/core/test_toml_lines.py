"""Each key and item of a TOML file is found on its own line."""

import tomllib
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from protocol_files import SOUND
from tracker.core.loading.lines import Path, key_lines, line_of


def _paths(value: Any, path: Path = ()) -> list[Path]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(found for part, item in inner for found in _paths(item, (*path, part)))]


AWKWARD = '''
# a comment with [brackets] and a = sign
a = 1.5
"b c" = """
not.a.key = 1
[not.a.header] """
c.d = 1979-05-27 07:32:00
list = [ 1.5, # one
  "two, ]",
  { e = 1, f = [2,
    3] },
]
[ g . "h" ]
i = 'single # quoted'
[[j]]
[[j.k]]
l = """quote at the end""""
[[j.k]]
l = -1e5
[j.m]
n = true
[[j]]
  [[j.k]]
  l = {}
'''

EXPECTED = {
    ("a",): 3,
    ("b c",): 4,
    ("c", "d"): 7,
    ("list",): 8,
    ("list", 0): 8,
    ("list", 1): 9,
    ("list", 2): 10,
    ("list", 2, "e"): 10,
    ("list", 2, "f", 1): 11,
    ("g", "h"): 13,
    ("g", "h", "i"): 14,
    ("j",): 15,
    ("j", 0): 15,
    ("j", 0, "k", 0): 16,
    ("j", 0, "k", 0, "l"): 17,
    ("j", 0, "k", 1): 18,
    ("j", 0, "k", 1, "l"): 19,
    ("j", 0, "m", "n"): 21,
    ("j", 1): 22,
    ("j", 1, "k", 0, "l"): 24,
}


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_awkward_layouts_do_not_lead_astray(ending: str) -> None:
    """Comments, texts that look like keys, lists over several lines and headers are all told apart."""
    lines = key_lines(AWKWARD.replace("\n", ending))

    assert EXPECTED.items() <= lines.items()
    assert set(_paths(tomllib.loads(AWKWARD))) == set(lines)


def test_a_place_without_a_line_takes_that_of_what_is_round_it() -> None:
    """A missing key is found at the item that lacks it, and a missing item at the file."""
    lines = key_lines(AWKWARD)

    assert line_of(lines, ("j", 1, "label")) == 22
    assert line_of(lines, ("nowhere",)) == 1


def test_every_part_of_a_protocol_has_a_line_that_names_it() -> None:
    """In the sound file each key stands on the line that is given for it."""
    rows, lines = SOUND.splitlines(), key_lines(SOUND)

    paths = _paths(tomllib.loads(SOUND))
    assert set(paths) == set(lines)
    assert all(path[-1] in rows[lines[path] - 1] for path in paths if path and isinstance(path[-1], str))


KEYS = st.text("ab-_1", min_size=1, max_size=3) | st.text()
TREES: st.SearchStrategy[Any] = st.recursive(
    st.integers() | st.floats() | st.booleans() | st.text() | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=15,
)


@settings(deadline=None, suppress_health_check=list(HealthCheck))
@given(st.dictionaries(KEYS, TREES, max_size=4), st.booleans())
def test_whatever_is_written_is_found_again(tree: dict[str, Any], multiline: bool) -> None:
    """Every path of any table that is written as TOML has a line, and no other path has one."""
    text = tomli_w.dumps(tree, multiline_strings=multiline)

    assert set(_paths(tomllib.loads(text))) == set(key_lines(text))
