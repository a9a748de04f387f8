"""Acuity as written and as logMAR, held against published conversions."""

import math
from types import MappingProxyType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.audit.statistics.acuity import (
    BACH,
    CONVENTIONS,
    HIGHER,
    LETTER,
    LINE,
    Convention,
    acuity_change,
    from_decimal,
    from_snellen,
    read_acuity,
    to_decimal,
    to_snellen,
)


@pytest.mark.parametrize(
    ("entry", "logmar"),
    # -log10 of the decimal acuity; michaelbach.de/sci/acuity.html, to four places recomputed.
    [
        ("20/20", 0.0000), ("20/25", 0.0969), ("20/40", 0.3010), ("20/80", 0.6021), ("20/100", 0.6990),
        ("20/200", 1.0000), ("6/60", 1.0000), ("20/400", 1.3010), ("6/120", 1.3010), ("3/60", 1.3010),
        ("20/800", 1.6021), ("20/60", 0.4771), ("20/30", 0.1761), ("6/6", 0.0000),
    ],
)  # fmt: skip
def test_snellen_to_logmar(entry, logmar):
    """A Snellen fraction, in feet or metres, is -log10 of itself."""
    assert read_acuity(entry).logmar == pytest.approx(logmar, abs=5e-5)


@pytest.mark.parametrize(
    ("decimal", "logmar"),
    # michaelbach.de/sci/acuity.html, equivalence table, in chart steps of 0.1.
    [(2.0, -0.3), (1.6, -0.2), (1.26, -0.1), (1.0, 0.0), (0.8, 0.1), (0.63, 0.2), (0.5, 0.3), (0.4, 0.4),
     (0.32, 0.5), (0.25, 0.6), (0.2, 0.7), (0.16, 0.8), (0.13, 0.9), (0.1, 1.0), (0.08, 1.1),
     (0.063, 1.2), (0.05, 1.3)],
)  # fmt: skip
def test_decimal_in_chart_steps(decimal, logmar):
    """Decimal acuity rounds to the chart step that the equivalence table prints."""
    assert round(from_decimal(decimal), 1) == logmar
    assert read_acuity(f"decimal {decimal}").logmar == from_decimal(decimal)


def test_lines_and_letters():
    """A line is 0.1 and a letter 0.02, so that five letters make a line."""
    # michaelbach.de/sci/acuity.html
    assert (LINE, LETTER) == (0.1, 0.02)
    assert read_acuity("6/9-2").logmar == pytest.approx(read_acuity("6/9").logmar + 0.04)
    assert read_acuity("6/9 +1").logmar == pytest.approx(read_acuity("6/9").logmar - 0.02)


@pytest.mark.parametrize(
    ("entry", "word", "bach", "higher"),
    # michaelbach.de/sci/acuity.html for the first table; the second is common practice, no source.
    [("CF", "CF", 1.9, 2.1), ("HM", "HM", 2.3, 2.4), ("PL", "PL", 2.7, 2.7), ("NPL", "NPL", 3.0, 3.0),
     ("LP", "PL", 2.7, 2.7), ("NLP", "NPL", 3.0, 3.0), ("cf 30 cm", "CF", 1.9, 2.1)],
)  # fmt: skip
def test_off_chart_words_by_two_conventions(entry, word, bach, higher):
    """Fingers, hand movements and light have the values of the convention that is named."""
    assert (read_acuity(entry, BACH).logmar, read_acuity(entry, BACH).off_chart) == (bach, word)
    assert read_acuity(entry, HIGHER).logmar == higher
    assert set(CONVENTIONS) == {BACH.name, HIGHER.name}


def test_a_department_may_write_its_own_table():
    """A table of the four words is a convention, and another table is turned away."""
    own = Convention("ours", "local", MappingProxyType({"CF": 2.0, "HM": 2.3, "PL": 2.7, "NPL": 3.0}))

    assert read_acuity("CF", own).logmar == 2.0
    with pytest.raises(ValueError, match="CF, HM, PL, NPL"):
        Convention("ours", "local", {"CF": 2.0})


@pytest.mark.parametrize("entry", ["", "0.3", "1.0", "6/0", "0/60", "decimal 0", "good", "6/6/6", "6/9-12"])
def test_what_cannot_be_read(entry):
    """A bare number, an impossible fraction or free words have no logMAR, and are kept as written."""
    assert (read_acuity(entry).entry, read_acuity(entry).logmar) == (entry, None)


@pytest.mark.parametrize(
    ("entry", "logmar"),
    [("logMAR 0.3", 0.3), ("0.3 logmar", 0.3), ("LogMAR -0.1", -0.1), ("0.5 decimal", 0.301030)],
)
def test_a_named_scale_is_read(entry, logmar):
    """A number with its scale beside it is read as that."""
    assert read_acuity(entry).logmar == pytest.approx(logmar, abs=1e-6)


@given(st.floats(-0.3, 3.0))
def test_conversions_go_there_and_back(logmar):
    """LogMAR to decimal or Snellen and back is the same logMAR."""
    assert from_decimal(to_decimal(logmar)) == pytest.approx(logmar, abs=1e-12)
    assert from_snellen(6, to_snellen(logmar)) == pytest.approx(logmar, abs=1e-12)


def test_snellen_size_of_logmar_one():
    """LogMAR 1 is 6/60 in metres and 20/200 in feet."""
    assert to_snellen(1) == pytest.approx(60)
    assert to_snellen(1, 20) == pytest.approx(200)


@pytest.mark.parametrize(
    "wrong", [lambda: from_decimal(0), lambda: from_snellen(0, 6), lambda: from_snellen(6, 0)]
)
def test_nothing_seen_is_no_number(wrong):
    """Acuity of 0 has no logMAR."""
    with pytest.raises(ValueError, match="above 0"):
        wrong()


def test_a_change_of_acuity():
    """Gains and losses of three lines are counted, with the eyes off the chart and the missing ones."""
    before = ["HM", "6/60", "logMAR 0.5", "6/12", "CF", "PL", None, "6/6"]
    after = ["6/60", "6/60", "logMAR 0.2", "6/24", "6/36", "NPL", "6/6", "0.5"]
    found = acuity_change(before, after)

    assert (found.n, found.missing, found.off_chart) == (6, 2, 3)
    assert found.convention is BACH
    assert found.gained == pytest.approx(3 / 6)
    assert found.lost == pytest.approx(2 / 6)
    assert found.reading == pytest.approx(1 / 6)
    assert found.median == pytest.approx((0 - 0.3) / 2)


def test_three_lines_on_a_chart_are_a_gain():
    """From 0.7 to 0.4 is a gain although it is a hair less than 0.3 in binary."""
    assert 0.7 - 0.4 < 0.3
    assert acuity_change(["logMAR 0.7"] * 5, ["logMAR 0.4"] * 5).gained == 1


def test_four_eyes_have_no_change():
    """Below five eyes there is n and no figure."""
    found = acuity_change(["6/60"] * 4, ["6/6"] * 4)

    assert (found.n, found.refused, found.median) == (4, "too few: 4 eyes, at least 5 needed", None)


def test_the_convention_moves_the_median():
    """The same eyes have another median by another table, which is why the table is printed."""
    eyes = ["HM"] * 5, ["CF"] * 5
    medians = [acuity_change(*eyes, table).median for table in (BACH, HIGHER)]

    assert medians == pytest.approx([-0.4, -0.3])
    assert math.isclose(medians[1] - medians[0], 0.1, abs_tol=1e-9)
