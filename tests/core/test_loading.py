"""Whatever a protocol file holds, loading it gives a protocol or plain findings, and never raises."""

import json
import re
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from protocol_files import SOUND, changed, findings, seen
from tracker.core.day_plan import Plan
from tracker.core.loading import LIMIT, load_protocol
from tracker.core.loading.schema import protocol_schema
from tracker.core.loading.sentences import PATTERNS, quoted, toml_sentence
from tracker.core.protocol import FORMAT
from tracker.core.text import looks_like_markup, unshowable

HEAD = 'format = 1\nid = "a"\nversion = "1"\ntitle = "A"\n'
JARGON = re.compile(r"pydantic|https?:|Input should|\btuple\b|\bdictionary\b|Traceback|\b[Ee]rror\b|\bNone\b")
STEPS = "stages.access.steps"


def plainly_told(text: str) -> int:
    """Load a text, hold every finding to what findings promise, and say how many there are."""
    loaded = load_protocol(text, "file.toml")

    assert (loaded.protocol is None) == bool(loaded.findings)
    assert list(loaded.findings) == sorted(set(loaded.findings))
    for finding in loaded.findings:
        assert finding.source == "file.toml"
        assert 0 <= finding.line <= text.count("\n") + 1
        assert finding.what and finding.mend and not finding.mend.endswith(".")
        assert not unshowable(str(finding))
        assert not looks_like_markup(str(finding))
        assert not JARGON.search(str(finding))
    return len(loaded.findings)


# -- what is not TOML


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("a = 1\nb\n", 2, "without = and a value"),
        ("a = 1\na = 2\nb = 3\n", 2, "already has a value"),
        ("a = { b = 1, b = 2 }\n", 1, "already has a value"),
        ("[a]\n\n[a]\n", 3, "of this name stands earlier"),
        ("a = { b = 1 }\na.c = 2\n", 2, "closed earlier"),
        ("a = 1 b = 2\n", 1, "on the same line"),
        ("[a\nb = 1\n", 1, "name of a table is not closed"),
        ('a = "b\nc = 1\n', 1, "does not allow"),
        ('a = "b', 1, "text is not closed"),
        ("a = 1\nb = [1\n", 2, "list is not closed"),
        ("a = 1\nb = [1,\n", 2, "ends in the middle of a value"),
        ("a = { b = 1\n", 1, "curly brackets is not closed"),
        ('a = "\\q"\n', 1, "means nothing"),
        ('a = "\\uD800"\n', 1, "stands for no character"),
        ('a = "\\uZZZZ"\n', 1, "stands for no character"),
        ("a = 1\nb = \x01\n", 2, "cannot be read"),
        ("a = 1\n= 2\n", 2, "neither a key nor a table"),
        ("a.= 2\n", 1, "begins with a character"),
        ("a = 2026-02-30\n", 1, "does not exist"),
        ("a = 1\nb = word\nc = 2\n", 2, "cannot be read"),
        (f"a = 1\nb = {'9' * 5000}\nc = 1\n", 2, "thousands of digits"),
    ],
)
def test_what_is_not_toml_is_named_with_its_line(text: str, line: int, what: str) -> None:
    """A slip of the pen is said in plain words, at the line where reading stopped."""
    (finding,) = findings(text)

    assert finding.line == line
    assert what in finding.what
    plainly_told(text)


def test_a_message_not_met_before_keeps_its_line() -> None:
    """What a later TOML reader may say is told in general words, at the line that it names."""
    line, what, _ = toml_sentence("Something new (at line 3, column 1)")

    assert (line, what) == (3, "this cannot be read as TOML")


@pytest.mark.parametrize("depth", [10_000, 300])
@pytest.mark.parametrize(("opening", "closing"), [("[", "]"), ("{a=", "}")])
def test_deep_nesting_is_a_finding(opening: str, closing: str, depth: int) -> None:
    """Brackets nested without end are refused, not followed."""
    plainly_told(f"{HEAD}stages = {opening * depth}{closing * depth}\n")


@pytest.mark.parametrize("key", ["a.", '"a".', "'a' . ", "a.\t"])
def test_a_key_of_very_many_parts_is_refused_unread(key: str) -> None:
    """The time that a dotted key takes grows with the square of its parts, so it is looked for beforehand."""
    (finding,) = findings(f"x = 1\n{key * 100_000}a = 1\n")

    assert (finding.line, finding.what) == (2, "holds a key of very many parts")


def test_text_over_a_mebibyte_is_refused_unread() -> None:
    """More than 1 MiB of text is no protocol."""
    (finding,) = findings("#" * (LIMIT + 1))

    assert "more than 1 MiB" in finding.what
    assert not [f for f in findings("#" * LIMIT) if "MiB" in f.what]


def test_half_a_character_is_refused() -> None:
    """A lone surrogate, as it comes of a broken encoding, is named with its line."""
    (finding,) = findings("a = 1\nb = '\ud800'\n")

    assert (finding.line, finding.what) == (2, "holds half a character")


@pytest.mark.parametrize("newer", [FORMAT + 1, 10**30])
def test_a_newer_format_asks_for_a_newer_program(newer: int) -> None:
    """A file of a later format is not judged by this one's rules."""
    (finding,) = findings(f"unheard_of = true\nformat = {newer}\n")

    assert (finding.line, finding.path, finding.mend) == (2, "format", "Update the program")
    assert "a newer Clockhour" in finding.what


# -- what is TOML and not a protocol


@pytest.mark.parametrize(
    ("old", "new", "path", "what"),
    [
        ('title = "Small repair"\n', "", "", "has no title"),
        ('title = "Small repair"', 'title = ""', "title", "is empty"),
        ('title = "Small repair"', "title = 7", "title", "wants text in quotes, and has 7"),
        ('title = "Small repair"', "title = 2026-01-01", "title", "has a date or a time"),
        ('title = "Small repair"', 'title = " x"', "title", "begins or ends with blank space"),
        ('title = "Small repair"', f'title = "{"x" * 73}"', "title", "longer than 72 characters"),
        ('title = "Small repair"', 'title = "a\\u001b[31mb"', "title", "cannot be shown (U+001B)"),
        ('title = "Small repair"', 'title = "a\\u202eb"', "title", "cannot be shown (U+202E)"),
        ('title = "Small repair"', 'title = "[red]a[/]"', "title", "looks like markup"),
        ('title = "Small repair"', 'title = "<b>a</b>"', "title", "looks like markup"),
        ('id = "small-repair"', 'id = "Small Repair"', "id", "“Small Repair” is not an id"),
        ('version = "1.0"', "version = 1.0", "version", "wants text in quotes, and has 1"),
        ("format = 1", 'format = "1"', "format", "wants a whole number, and has “1”"),
        ("format = 1", "format = true", "format", "wants a whole number, and has true"),
        ("format = 1", "format = 0", "format", "wants at least 1, and has 0"),
        ("[sources]", '[sources]\n"S-1" = "x"', "sources.S-1", "“S-1” is not the name of a source"),
        ('S1 = "Journal of the Eye 1991;1:1"', "S1 = 1", "sources.S1", "wants text in quotes"),
        (
            'kind = "choice"',
            'kind = "color"',
            "facts.lens.kind",
            "is “color”, not one of choice, number, flag or",
        ),
        ("default = 120", "default = []", "facts.planned.default", "wants true or false, a number, or text"),
        ("default = 120", "default = nan", "facts.planned.default", "is not nan or inf, and has nan"),
        (
            "default = 120",
            "default = 1e10",
            "facts.planned.default",
            "wants at most 1000000000, and has 1e+10",
        ),
        ("default = 120", 'default = "[b]"', "facts.planned.default", "looks like markup"),
        ("plausible = [10, 480]", "plausible = [10]", "facts.planned.plausible", "wants two numbers"),
        ("plausible = [10, 480]", "plausible = [1, 2, 3]", "facts.planned.plausible", "wants two numbers"),
        ("plausible = [10, 480]", "plausible = 480", "facts.planned.plausible", "wants a list, and has 480"),
        (
            "plausible = [10, 480]",
            "plausible = [10, true]",
            "facts.planned.plausible.2",
            "a number, and has true",
        ),
        ('key = "v"', 'key = "vv"', f"{STEPS}.already.key", "“vv” is not a key"),
        ('key = "v"', 'keys = "v"', f"{STEPS}.already.keys", "this key is not known here"),
        ('key = "v"', "starts_case = 1", f"{STEPS}.already.starts_case", "wants true or false, and has 1"),
        ('key = "v"', "when = 1", f"{STEPS}.already.when", "wants a table, and has 1"),
        ('key = "v"', "needs = [1]", f"{STEPS}.already.needs.1", "wants a table, and has 1"),
        ("amber_s = 120", "amber_s = 0", "clocks.raised.amber_s", "wants more than 0, and has 0"),
        ("amber_s = 120", "amber_s = inf", "clocks.raised.amber_s", "has inf"),
        ('level = "safety", reason = "the', 'reason = "the', f"{STEPS}.ports.needs.1", "has no level"),
        (
            'amount_from = "pressure"',
            "amount = -1",
            "pairs.liquid.opens.1.amount",
            "wants at least 0, and has -1",
        ),
        ('amount_from = "pressure"', "amount = 1.5", "pairs.liquid.opens.1.amount", "wants a whole number"),
        (
            'amount_from = "pressure"',
            f"amount = 0x{'f' * 999}",
            "pairs.liquid.opens.1.amount",
            "a very large number",
        ),
    ],
)
def test_a_mismatch_is_told_in_plain_words_at_its_place(old: str, new: str, path: str, what: str) -> None:
    """One mismatch brings one finding, on the line of the change, and none of the model's own words."""
    text = changed((old, new))
    (finding,) = findings(text)

    assert finding.path == path
    assert what in finding.what
    assert finding.line in (1, text[: text.index(new)].count("\n") + 1 + new.count("\n")) or new == ""
    plainly_told(text)


@pytest.mark.parametrize(
    ("key", "mend"),
    [
        ("lable", "Write label, or take it out"),
        ("consent_fact", "Move it there, above the first table"),
        ("colour", "Take it out; known here are id, label, key"),
    ],
)
def test_an_unknown_key_brings_the_nearest_known_one(key: str, mend: str) -> None:
    """What is known at that place is offered, or where the key belongs."""
    (finding,) = findings(changed(('key = "v"', f'key = "v"\n  {key} = "x"')))

    assert finding.path == f"{STEPS}.already.{key}"
    assert finding.mend.startswith(mend)


def test_an_unknown_id_brings_the_nearest_known_one() -> None:
    """A slip in a reference is mended by the id that is nearest to it."""
    (finding,) = findings(changed(('{ step = "time_out"', '{ step = "timeout"')))

    assert finding.mend == "Use the id of a step of this file; time_out is the nearest"


def test_everything_is_found_at_once() -> None:
    """Mismatches do not hide one another, nor do they hide what the cross-checks find in the rest."""
    text = changed(
        ('title = "Small repair"', 'title = "[b]"'),
        ('key = "t"', 'key = "tt"'),
        ("minutes = [1, 5]", "minutes = [5, 1]"),
        ('group = "clearing"', 'grupp = "clearing"'),
        ('by = "close"', 'by = "nowhere"'),
        ("amber_s = 120", "amber_s = 900"),
    )

    assert [(f.line, f.path) for f in findings(text)] == [
        (4, "title"),
        (text[: text.index('"tt"')].count("\n") + 1, f"{STEPS}.time_out.key"),
        (text[: text.index("[5, 1]")].count("\n") + 1, f"{STEPS}.ports.minutes"),
        (text[: text.index("grupp")].count("\n") + 1, f"{STEPS}.core.grupp"),
        (text[: text.rindex("group")].count("\n") + 1, f"{STEPS}.already.group"),
        (text[: text.index("amber_s")].count("\n") + 1, "clocks.raised.amber_s"),
        (text[: text.index('"nowhere"')].count("\n") + 1, "pairs.liquid.by"),
    ]


@pytest.mark.parametrize(
    ("old", "new", "path"),
    [
        ('shape = "span"', 'shape = "spam"', f"{STEPS}.ports.shape"),
        ('kind = "flag"', 'kind = "flagg"', "facts.consent.kind"),
        (
            '{ id = "oil", label = "oil", key = "q" },\n  ]',
            '{ id = "oil", label = "oil", key = "oo" },\n  ]',
            "stages.finish.steps.tamponade.choices.oil.key",
        ),
        (
            'occurrence = "one_of"\n  group = "clearing"\n  needs',
            'occurrence = "one"\n  group = "clearing"\n  needs',
            f"{STEPS}.core.occurrence",
        ),
        (
            '[{ reading = "pressure", above = 40 }]',
            '[{ reading = "pressure", above = "40" }]',
            "clocks.raised.start.1.above",
        ),
        ('by = "close"\n', "by = 3\n", "pairs.liquid.by"),
        ('sources]\nS1 = "Journal of the Eye 1991;1:1"', "sources]\nS1 = 1", "sources.S1"),
    ],
)
def test_what_was_left_out_is_not_missed(old: str, new: str, path: str) -> None:
    """A part that is left out over its own finding brings no findings where the rest refers to it."""
    assert [at for at, _ in seen((old, new))] == [path]


@pytest.mark.parametrize(
    "key", ["facts", "readings", "pairs", "complications", "stages", "anytime", "sources"]
)
def test_a_list_that_is_none_is_not_missed(key: str) -> None:
    """Where a whole list is amiss, nothing is said of what it might have held."""
    without = re.sub(rf"(?ms)^\[\[?{key}(?:\.\w+)*\]\]?$.*?(?=^\[\[?(?!{key})|\Z)", "", changed())
    text = without.replace('title = "Small repair"', f'title = "Small repair"\n{key} = 5', 1)

    assert [(f.line, f.path) for f in findings(text)] == [(5, key)]


def test_numbers_in_paths_count_what_stands_in_the_file() -> None:
    """An item without an id keeps its number although one before it was left out."""
    needs = '{ step = 1, level = "order", reason = "x" }, { step = "zz", level = "order", reason = "x" }, '
    text = changed(("needs = [{ step", f"needs = [{needs}{{ step"))

    assert [f.path for f in findings(text)] == [f"{STEPS}.ports.needs.1.step", f"{STEPS}.ports.needs.2.step"]


def test_the_second_of_a_name_is_where_the_line_points() -> None:
    """An id that is given twice in one list is found at its second place."""
    text = changed(('id = "consent"\n', 'id = "planned"\n'))
    second = text.index('id = "planned"', text.index('id = "planned"') + 1)

    (twice,) = (f for f in findings(text) if f.what == "the id planned is given to more than one fact")
    assert twice.line == text[:second].count("\n")


def test_long_values_are_cut() -> None:
    """A value in a message is at most 60 characters, and nothing in it can be obeyed."""
    assert len(quoted("x" * 1000)) == 62
    assert quoted("[b]\x1b]0;x\x07<i>") == "“(b)�)0;x�(i)”"


def test_every_pattern_of_the_format_has_words() -> None:
    """No regular expression ever reaches a person."""
    used = set(re.findall(r'"pattern": ("(?:[^"\\]|\\.)*")', json.dumps(protocol_schema())))
    used |= set(re.findall(r'"pattern": ("(?:[^"\\]|\\.)*")', json.dumps(Plan.model_json_schema())))
    named: set[str] = {json.loads(pattern) for pattern in used} | set(
        protocol_schema()["properties"]["sources"]["patternProperties"]
    )

    assert named == set(PATTERNS)


# -- what was made to break the program


def _step(number: int, more: str = "") -> str:
    return f'[[stages.steps]]\nid = "x{number}"\nlabel = "Step {number}"\n{more}\n'


def _steps(count: int, more: str = "") -> str:
    steps = "".join(_step(n, more.replace("#", str(n)).replace("+", str(n + 1))) for n in range(count))
    return f'{HEAD}[[stages]]\nid = "s"\nlabel = "S"\n{steps}'


@pytest.mark.parametrize(
    ("more", "count"),
    [
        ("unheard# = 1", 5000),
        ("shape = 1", 5000),
        ('key = "a"', 4999),
        ('needs = [{ step = "y#", level = "order", reason = "r" }]', 5000),
        ('needs = [{ step = "x#", level = "order", reason = "r" }]', 5000),
        ('needs = [{ step = "x+", level = "order", reason = "r" }]', 1),
        ('occurrence = "one_of"\ngroup = "g#"', 5000),
        ("", 0),
    ],
)
def test_thousands_of_steps_bring_thousands_of_findings(more: str, count: int) -> None:
    """A file of 5,000 steps is read whole, and each thing amiss in it is said."""
    assert len(findings(_steps(5000, more))) == count


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\ufeff",
        "\x00\x01\x02\x7f\xff" * 50,
        "\x1b]0;title\x07",
        '"\\u001b[31m" = 1',
        f'{HEAD}"[red]\\u202e" = 1\n"<b>" = 2',
        f"{HEAD}stages = [{{}}]",
        f"{HEAD}stages = [[[[]]]]",
        f"{HEAD}stages = nan",
        f"{HEAD}stages = 0x{'f' * 50_000}",
        f"format = 0x{'f' * 50_000}",
        f"format = -0x{'f' * 10}",
        f"{HEAD}[sources]\nkey = 1\nlabel = 2\n'' = 3",
        f'{HEAD}[[stages]]\nid = ""\nlabel = 1\nsteps = 1',
        f"{HEAD}[[facts]]\nid = 5\n[[stages]]\n[[stages.steps]]\nkey = 5\nwhen.all = [5]\nwhen.every = 1",
        HEAD + "stages = [" + "1," * 500_000 + "]",
        HEAD + "stages = [" + "{}," * 300_000 + "]",
        HEAD + "".join(f"key{n} = 1\n" for n in range(60_000)),
        "a" * LIMIT,
        "[" * LIMIT,
        '"' * LIMIT,
        "'" * LIMIT,
        "\n" * LIMIT,
        "." * LIMIT,
        'a = "' + "\\" * 1_000_000,
        'a = """' + '"' * 1_000_000,
        ("1" * 4299 + "\n") * 240,
    ],
    ids=lambda text: repr(text[-20:]),
)
def test_hostile_texts_are_findings(text: str) -> None:
    """Nothing that a file can hold breaks the loading or reaches a screen raw."""
    assert plainly_told(text)


def test_a_file_that_fits_nowhere_is_told_in_one_sentence() -> None:
    """Past twenty thousand mismatches a file is taken for something else."""
    (finding,) = findings(HEAD + "stages = [" + "{}," * 20_000 + "]")

    assert finding.what == "differs from the format in more than 20000 places"


ANYTHING = settings(deadline=None, max_examples=150, suppress_health_check=list(HealthCheck))


@ANYTHING
@given(st.text(st.characters()) | st.binary().map(lambda data: data.decode("latin-1")))
@example("\ud800")
@example("a=\r")
def test_any_text_is_told_plainly(text: str) -> None:
    """Any text at all is a protocol or has findings."""
    plainly_told(text)
    plainly_told(HEAD + text)


BITS = st.text(max_size=4) | st.sampled_from(
    [
        *("[", "]", "{", "}", '"', "'", "=", ",", ".", "\n", "#", "\\", "\\u001b", "\\uD800", "[[", "]]"),
        *("nan", "inf", "true", "1e999", "-1", "9" * 20, "2026-01-01", "[]", "{}", "[red]", "\x1b", '"""'),
        *("stages", "steps", "id", "key", "choices", "needs", "when", "default", "[[stages]]", "[[anytime]]"),
    ]
)


@st.composite
def mutants(draw: st.DrawFn) -> str:
    """The sound file after a few cuts, insertions and swaps."""
    text = SOUND
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        until = draw(st.sampled_from([at, at + 1, at + 8, at + 80, text.find("\n", at) + 1]))
        text = text[:at] + draw(BITS) + text[max(at, until) :]
    return text


@st.composite
def swapped(draw: st.DrawFn) -> str:
    """The sound file with a few of its values put in place of others, so that it is still TOML."""
    values = re.findall(r'(?<== )("[^"]*"|\[[^\[\]{}]*\]|[a-z0-9.]+)(?=[\n,} ])', SOUND)
    odd: list[Any] = [*values, "5", "-1.5", "true", "nan", "[]", "{}", "[1]", '""', '"\\u001b"', "2026-01-01"]
    text = SOUND
    for _ in range(draw(st.integers(1, 5))):
        old, new = draw(st.sampled_from(values)), draw(st.sampled_from(odd))
        places = [m.start() for m in re.finditer(re.escape(f"= {old}"), text)]
        if places:
            at = draw(st.sampled_from(places))
            text = f"{text[:at]}= {new}{text[at + 2 + len(old) :]}"
    return text


@ANYTHING
@given(mutants() | swapped())
def test_any_change_to_a_sound_file_is_told_plainly(text: str) -> None:
    """A sound file that was tampered with is a protocol or has findings."""
    plainly_told(text)


def test_a_case_logged_by_a_file_stays_readable_whatever_keys_it_had() -> None:
    """Two steps with one key are a finding in a file, and none in the text that a journal holds."""
    text = """
format = 1
id = "old"
version = "1"
title = "An old file"

[[stages]]
id = "only"
label = "Only"
steps = [
  { id = "one", label = "One", key = "k" },
  { id = "two", label = "Two", key = "k" },
]
"""
    assert load_protocol(text, "old.toml").protocol is None
    assert load_protocol(text, "line 1", kept=True).protocol is not None
