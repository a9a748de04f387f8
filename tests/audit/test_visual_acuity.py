"""Acuity as written and as logMAR, held against published conversions."""

import math
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.audit.conventions import BadConvention, convention_from, convention_of, shipped
from tracker.audit.statistics.acuity import acuity_change
from tracker.core.acuity import (
    LETTER,
    Convention,
    from_decimal,
    from_letters,
    from_snellen,
    read_acuity,
)
from tracker.journal.archive import Archive

SHIPPED = (files("tracker.audit") / "acuity.toml").read_text("utf-8")
BACH = shipped()
FREIBURG, HIGHER = (
    convention_from(SHIPPED.replace('use = "Bach"', f'use = "{name}"').encode())
    for name in ("Freiburg", "2.1 / 2.4 / 2.7 / 3.0")
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
    assert pytest.approx(0.1) == 5 * LETTER
    assert read_acuity("6/9-2").logmar == pytest.approx(read_acuity("6/9").logmar + 0.04)
    assert read_acuity("6/9 +1").logmar == pytest.approx(read_acuity("6/9").logmar - 0.02)


@pytest.mark.parametrize(
    ("entry", "word", "bach", "freiburg", "higher"),
    # michaelbach.de/sci/acuity.html; CF and HM: Graefes Arch Clin Exp Ophthalmol 2009;247:137, abstract (means
    # 1.98 and 2.28); the third table is common practice, no source.
    [("CF", "CF", 1.9, 1.98, 2.1), ("HM", "HM", 2.3, 2.28, 2.4), ("PL", "PL", 2.7, 2.7, 2.7),
     ("NPL", "NPL", 3.0, 3.0, 3.0), ("LP", "PL", 2.7, 2.7, 2.7), ("NLP", "NPL", 3.0, 3.0, 3.0),
     ("cf 30 cm", "CF", 1.9, 1.98, 2.1)],
)  # fmt: skip
def test_off_chart_words_by_three_conventions(entry, word, bach, freiburg, higher):
    """Fingers, hand movements and light have the values of the convention that is named."""
    read = read_acuity(entry)

    assert (read.off_chart, read.logmar) == (word, None)
    assert [table.logmar(read) for table in (BACH, FREIBURG, HIGHER)] == [bach, freiburg, higher]


def test_a_convention_is_a_table_of_the_four_words():
    """Another table is turned away."""
    with pytest.raises(ValueError, match="CF, HM, PL, NPL"):
        Convention("ours", "local", {"CF": 2.0})


def test_a_department_has_its_own_table_in_its_archive(tmp_path):
    """Without a file the shipped table is in use, with one the table that it names."""
    assert convention_of(tmp_path) == BACH
    own = SHIPPED.replace('use = "Bach"', 'use = "ours"')
    own += '[[tables]]\nname = "ours"\nsource = "local"\nCF = 2\nHM = 2.3\nPL = 2.7\nNPL = 3.0\n'
    (tmp_path / "acuity.toml").write_text(own)

    assert (convention_of(tmp_path).name, convention_of(tmp_path).table["CF"]) == ("ours", 2.0)
    assert Archive(tmp_path).entries() == ()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("use = ", "not readable as TOML"),
        ("", "no table of the name"),
        (SHIPPED.replace('use = "Bach"', 'use = "Back"'), "no table of the name"),
        (SHIPPED.replace("CF = 1.9\n", ""), "CF needs a logMAR"),
        (SHIPPED.replace("CF = 1.9\n", 'CF = "low"\n'), "CF needs a logMAR"),
        (SHIPPED.replace("CF = 1.9\n", "CF = nan\n"), "CF needs a logMAR"),
        (SHIPPED.replace("source =", "sauce ="), "needs a name and a source"),
        ("tables = 3", "no table of the name"),
    ],
)
def test_a_table_that_cannot_be_used_is_told_in_a_sentence(text, why):
    """What is wanting is said, and no figure rests on a guess."""
    with pytest.raises(BadConvention, match=why):
        convention_from(text.encode())


@pytest.mark.parametrize(
    ("entry", "snellen"),
    # Gregori, Retina 2010;30:1046 (abstract): letters = 85 + 50 log (Snellen fraction), to the nearest letter.
    [("ETDRS 85", "20/20"), ("70 letters", "20/40"), ("ETDRS 35", "20/200"), ("etdrs 61 letters", "20/60")],
)
def test_letters_of_an_etdrs_score(entry, snellen):
    """A letter score is the logMAR of its Snellen equivalent to half a letter."""
    assert read_acuity(entry).logmar == pytest.approx(read_acuity(snellen).logmar, abs=LETTER / 2)
    assert from_letters(85) == 0


@pytest.mark.parametrize(
    "entry",
    [
        "",
        "0.3",
        "1.0",
        "6/0",
        "0/60",
        "decimal 0",
        "good",
        "6/6/6",
        "6/9-12",
        "logMAR 9",
        "ETDRS 120",
        "1/6000000",
    ],
)
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
def test_decimal_and_snellen_agree(logmar):
    """The same acuity as a decimal and as a fraction is the same logMAR."""
    decimal = math.pow(10.0, -logmar)

    assert from_decimal(decimal) == pytest.approx(logmar, abs=1e-12)
    assert from_snellen(6, 6 / decimal) == pytest.approx(logmar, abs=1e-12)


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
    found = acuity_change(before, after, BACH)

    assert (found.n, found.missing, found.off_chart) == (6, 2, 3)
    assert found.convention is BACH
    assert found.gained == pytest.approx(3 / 6)
    assert found.lost == pytest.approx(2 / 6)
    assert found.reading == pytest.approx(1 / 6)
    assert found.median == pytest.approx((0 - 0.3) / 2)


def test_three_lines_on_a_chart_are_a_gain():
    """From 0.7 to 0.4 is a gain although it is a hair less than 0.3 in binary."""
    assert 0.7 - 0.4 < 0.3
    assert acuity_change(["logMAR 0.7"] * 5, ["logMAR 0.4"] * 5, BACH).gained == 1


def test_pairs_may_be_counted():
    """Five eyes with one pair of entries and two with another are those seven eyes."""
    counted = acuity_change(["HM", "6/60"], ["6/60", "odd"], BACH, counts=[5, 2])

    assert counted == acuity_change(["HM"] * 5 + ["6/60"] * 2, ["6/60"] * 5 + ["odd"] * 2, BACH)


def test_four_eyes_have_no_change():
    """Below five eyes there is n and no figure."""
    found = acuity_change(["6/60"] * 4, ["6/6"] * 4, BACH)

    assert (found.n, found.refused, found.median) == (4, "too few: 4 eyes, at least 5 needed", None)


def test_the_convention_moves_the_median():
    """The same eyes have another median by another table, which is why the table is printed."""
    eyes = ["HM"] * 5, ["CF"] * 5
    medians = [acuity_change(*eyes, table).median for table in (BACH, HIGHER)]

    assert medians == pytest.approx([-0.4, -0.3])
    assert math.isclose(medians[1] - medians[0], 0.1, abs_tol=1e-9)
