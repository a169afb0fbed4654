"""Units against outside references: scipy.constants, worked conversions of the trade, NIST SP 811."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from pipeline import schema
from pipeline.intake.mapping import numbers, words
from pipeline.intake.mapping.dose_rows import amount_unit


def converted(value: str, spelling: str, ours: str) -> Decimal:
    return numbers.convert(Decimal(value), words.unit_of(ours, spelling))


# 45 mmHg = 6.00 kPa, 35 mmHg = 4.67 kPa; 98 F = 36.67 C, 97.7 F = 36.5 C, 93.2 F = 34.0 C, 101.3 F = 38.5 C:
# relations of the trade, by 1 kPa = 7.50062 mmHg and (F - 32) / 1.8. 1 lb = 0.45359237 kg: NIST SP 811, B.8.
@pytest.mark.parametrize(
    ("value", "spelling", "ours", "want"),
    [
        ("6.00", "kPa", "mmHg", "45.0"), ("4.67", "kPa", "mmHg", "35.0"), ("98", "°F", "°C", "36.67"),
        ("97.7", "°F", "°C", "36.50"), ("93.2", "°F", "°C", "34.00"), ("101.3", "°F", "°C", "38.50"),
        ("1", "lb", "kg", "0.454"), ("10", "lb", "kg", "4.536"), ("4200", "g", "kg", "4.200"),
        ("800", "mL/min", "L/min", "0.8"), ("1", "L", "mL", "1000"), ("2", "%", "mg/mL", "20"),
        ("0.97", "1", "%", "97.00"), ("0.1", "mg/kg/min", "mg/kg/h", "6"), ("500", "ug", "mcg", "500"),
        ("2", "g", "mg", "2000"),
    ],
)  # fmt: skip
def test_worked_conversions(value, spelling, ours, want):
    assert converted(value, spelling, ours) == Decimal(want)


def test_factors_against_scipy():
    """scipy.constants (CODATA and NIST): pound, ounce, mm of mercury in Pa, Fahrenheit."""
    assert float(words.unit_of("kg", "lb").factor) == pytest.approx(constants.lb, rel=1e-12)
    assert float(words.unit_of("kg", "oz").factor) == pytest.approx(constants.oz, rel=1e-12)
    assert float(words.unit_of("mmHg", "kPa").factor) == pytest.approx(1000 / constants.mmHg, rel=1e-6)
    assert float(words.unit_of("mmHg", "mbar").factor) == pytest.approx(100 / constants.mmHg, rel=1e-6)
    assert float(words.unit_of("cmH2O", "mmHg").factor) == pytest.approx(constants.mmHg / (constants.g * 10), rel=1e-6)
    for fahrenheit in (32, 77, 98.6, 113):
        want = constants.convert_temperature(fahrenheit, "F", "C")
        assert float(converted(str(fahrenheit), "[degF]", "°C")) == pytest.approx(want, abs=0.005)


@pytest.mark.parametrize(
    ("exact", "places", "want"), [("0.25", 1, "0.3"), ("0.35", 1, "0.4"), ("-0.25", 1, "-0.3"), ("2.5", 0, "3")]
)
def test_halves_round_up(exact, places, want):
    """Half up, as kaufmännisches Runden (DIN 1333): binary floats and half-even would give 0.2 and 2."""
    assert numbers.half_up(Fraction(exact), places) == Decimal(want)


def test_values_in_our_unit_stay_as_given():
    assert converted("37.123456", "Cel", "°C") == Decimal("37.123456")


# UCUM is case sensitive (mg is not Mg); clinic spellings are listed, nothing is guessed.
@pytest.mark.parametrize(
    ("ours", "spelling"), [("kg", "stone"), ("kg", "gr."), ("mmHg", "psi"), ("°C", "K"), ("L/min", "gal/min")]
)
def test_unknown_spellings_are_no_units(ours, spelling):
    assert words.unit_of(ours, spelling) is None


@pytest.mark.parametrize("spelling", ["IU", "mEq", "Mg/kg", "mg/m2", "drops/min", "mmol"])
def test_units_that_are_no_doses(spelling):
    assert amount_unit(spelling) is None


def test_every_amount_unit_reaches_itself_and_has_a_source():
    for unit in schema.AMOUNT_UNITS:
        assert amount_unit(unit).ours == unit and amount_unit(unit).is_ours
    for row in words.cell_words.rows("words_units"):
        assert row["source"]


@given(st.decimals("0.05", "120", places=3))
def test_pounds_and_back(kilograms):
    pounds = (kilograms / Decimal("0.45359237")).quantize(Decimal("0.0001"))
    assert converted(str(pounds), "lb", "kg") == kilograms


@given(st.decimals("-999999", "999999", places=3), st.sampled_from([".", ","]), st.booleans())
def test_numbers_in_either_writing_come_back(value, decimal, grouped):
    text = format(value, ",.3f" if grouped else ".3f")
    if decimal == ",":
        text = text.translate(str.maketrans(",.", ".,"))
    assert numbers.parse(text, decimal).value == value


@pytest.mark.parametrize(
    ("cells", "want"),
    [
        (["4,5", "1,234"], ","), (["4.5", "1,234"], "."), (["1.234,5"], ","), (["1,234.5"], "."), (["1'200", "3"], "."),
        (["12", "7"], "."), (["1,234", "2,500"], None), (["0,123"], ","), (["1.234.567"], ","),
    ],
)  # fmt: skip
def test_decimal_sign_from_the_whole_column(cells, want):
    assert numbers.decimal_sign(cells).choice == want
