"""A protocol written and read again is the same protocol, and the JSON Schema agrees with the loading."""

import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from protocol_files import SOUND, changed, protocol_table
from strategies import protocols
from tracker.core.loading import load_protocol
from tracker.core.loading.schema import protocol_schema
from tracker.core.protocol import Protocol

REPOSITORY = Path(__file__).resolve().parents[2]
SLOW_TO_DRAW = settings(deadline=None, max_examples=60, suppress_health_check=list(HealthCheck))


def _holds(table: dict[str, Any]) -> bool:
    return jsonschema.Draft202012Validator(protocol_schema()).is_valid(table)


@SLOW_TO_DRAW
@given(protocols(), st.booleans())
def test_every_protocol_survives_writing_and_reading(protocol: Protocol, multiline: bool) -> None:
    """What is written from a sound protocol is read back equal, with nothing found."""
    text = tomli_w.dumps(protocol_table(protocol), multiline_strings=multiline)
    loaded = load_protocol(text, "written.toml")

    assert loaded.findings == ()
    assert loaded.protocol == protocol


@SLOW_TO_DRAW
@given(protocols())
def test_every_protocol_fits_the_schema(protocol: Protocol) -> None:
    """The table of a sound protocol is valid by the JSON Schema."""
    jsonschema.Draft202012Validator(protocol_schema()).validate(protocol_table(protocol))


def test_what_the_format_supplies_is_not_written() -> None:
    """A table holds only what differs from the format's own defaults, whole numbers as such."""
    protocol = load_protocol(SOUND, "small.toml").protocol

    assert protocol is not None
    assert protocol_table(protocol) == tomllib.loads(SOUND)


def test_the_shipped_protocol_is_sound() -> None:
    """The protocol for complex repairs has no findings, survives the round trip and fits the schema."""
    text = (REPOSITORY / "protocols" / "complex-pvr.toml").read_text(encoding="utf-8")
    loaded = load_protocol(text, "complex-pvr.toml")

    assert loaded.findings == ()
    assert loaded.protocol is not None
    written = tomli_w.dumps(protocol_table(loaded.protocol))
    assert load_protocol(written, "written.toml").protocol == loaded.protocol
    jsonschema.Draft202012Validator(protocol_schema()).validate(tomllib.loads(text))


def test_no_two_steps_shown_together_share_a_key() -> None:
    """In the shipped file a key is one step's of those in sight, and no answer's of a decision beside."""
    text = (REPOSITORY / "protocols" / "complex-pvr.toml").read_text(encoding="utf-8")
    protocol = load_protocol(text, "complex-pvr.toml").protocol
    assert protocol is not None

    for stage in protocol.stages:
        together = [*stage.steps, *protocol.anytime]
        answers = [(c.key, c.id) for s in together if s.shape == "decision" for c in s.choices]
        keys = [step.key for step in together if step.key]
        assert len(set(keys)) == len(keys), stage.id
        assert not [answer for answer in answers if answer[0] in keys or answer[0].isdigit()], stage.id


def test_the_schema_file_is_current() -> None:
    """The file in shared/ is what the models say today; `make schema` writes it anew."""
    path = REPOSITORY / "shared" / "protocol.schema.json"

    assert json.loads(path.read_text(encoding="utf-8")) == protocol_schema()


def test_the_schema_is_one() -> None:
    """It is a schema of draft 2020-12, names no other network address, and knows no null."""
    schema = protocol_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    text = json.dumps({key: value for key, value in schema.items() if key != "$schema"})

    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "://" not in text
    assert '"null"' not in text and "$id" not in text


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('title = "Small repair"\n', ""),
        ('key = "v"', 'key = "vv"'),
        ('key = "v"', 'keys = "v"'),
        ("plausible = [10, 480]", "plausible = [10]"),
        ('shape = "span"', 'shape = "spam"'),
        ("amber_s = 120", "amber_s = 0"),
        ("counted = true", "counted = 1"),
        ("[sources]", '[sources]\n"S-1" = "x"'),
    ],
)
def test_the_schema_refuses_what_the_loading_refuses(old: str, new: str) -> None:
    """A slip in the shape of a file is seen by an editor with the schema as well as by the program."""
    assert _holds(tomllib.loads(SOUND))
    assert not _holds(tomllib.loads(changed((old, new))))
    assert load_protocol(changed((old, new)), "small.toml").protocol is None
