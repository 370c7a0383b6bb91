"""Units at the edge, against the conversion factors of NIST Special Publication 811 (2008), appendix B."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.core.units import (
    BASE_PINT_NAMES,
    DISPLAY_UNITS,
    QUANTITY_WORDS,
    SYSTEMS,
    UNITS,
    UnreadableMeasurement,
    display_unit,
    factor_and_offset,
    from_si,
    parse,
    shown,
    to_si,
)

# NIST SP 811, appendix B.8 and B.9 (from memory): factors printed in bold there are exact.
EXACT = [
    ("in", 0.0254),
    ("ft", 0.3048),
    ("ft2", 0.09290304),
    ("min", 60.0),
    ("h", 3600.0),
    ("L", 0.001),
    ("mm", 0.001),
    ("kPa", 1000.0),
    ("in/ft", 1 / 12),
    ("%", 0.01),
]
SEVEN_DIGITS = [
    ("gal", 3.785412e-03),
    ("gal/min", 6.309020e-05),
    ("psi", 6.894757e03),
    ("L/min", 1.666667e-05),
]


@pytest.mark.parametrize(("unit", "factor"), EXACT)
def test_exact_factors_are_exact(unit: str, factor: float) -> None:
    assert factor_and_offset(unit) == (factor, 0.0)


@pytest.mark.parametrize(("unit", "factor"), SEVEN_DIGITS)
def test_other_factors_agree_with_nist_to_the_seven_digits_printed(unit: str, factor: float) -> None:
    assert to_si(1.0, unit) == pytest.approx(factor, rel=5e-7)


def test_a_us_gallon_is_231_cubic_inches() -> None:
    # NIST Handbook 44, appendix C: 1 gallon = 231 cubic inches, exactly.
    assert to_si(1.0, "gal") == pytest.approx(231 * 0.0254**3, rel=1e-15)
    assert to_si(60.0, "gal/h") == pytest.approx(to_si(1.0, "gal/min"), rel=1e-15)


# Fixed points of both scales: NIST SP 811, appendix B.9, t/°C = (t/°F − 32)/1.8.
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (77, 25), (50, 10), (0, -17.7777778)]
)
def test_temperatures_carry_their_offset(fahrenheit: float, celsius: float) -> None:
    assert to_si(fahrenheit, "degF") == pytest.approx(celsius, abs=1e-7)
    assert from_si(celsius, "degF") == pytest.approx(fahrenheit, abs=1e-6)


@pytest.mark.parametrize("unit", sorted(UNITS))
@given(value=st.floats(min_value=-1e6, max_value=1e6))
def test_there_and_back_gives_the_same_number(unit: str, value: float) -> None:
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-9)


def test_the_tablet_can_convert_with_factor_and_offset_alone() -> None:
    for unit in UNITS:
        factor, offset = factor_and_offset(unit)
        assert 12.5 * factor + offset == to_si(12.5, unit)


READ = [
    # text, asked unit, value, unit, base value
    ("12.6", "V", 12.6, "V", 12.6),
    ("12,6", "V", 12.6, "V", 12.6),
    (" 12.6 V ", "V", 12.6, "V", 12.6),
    ("12.6volts", "V", 12.6, "V", 12.6),
    (".5", "in", 0.5, "in", 0.0127),
    ("5 1/2 in", "in", 5.5, "in", 0.1397),
    ("5-1/2", "in", 5.5, "in", 0.1397),
    ("5½", "in", 5.5, "in", 0.1397),
    ("½", "in", 0.5, "in", 0.0127),
    ("3/8", "in", 0.375, "in", 0.009525),
    ("5' 6\"", "in", 66.0, "in", 1.6764),
    ("5 ft 6 1/2 in", "ft", 66.5, "in", 1.6891),
    ("32 cm", "in", 32.0, "cm", 0.32),
    ("2 m 3 cm", "in", 203.0, "cm", 2.03),
    ("3 gpm", "gal/h", 3.0, "gal/min", 1.892705892e-4),
    ("1:30", "s", 90.0, "s", 90.0),
    ("1:30", "min", 1.5, "min", 90.0),
    ("2 min 30 s", "s", 150.0, "s", 150.0),
    ("-5", "degF", -5.0, "degF", -20.5555555556),
    ("−5", "degC", -5.0, "degC", -5.0),
    ("40 °F", "degC", 40.0, "degF", 4.4444444444),
    ("-12.4", "V", -12.4, "V", -12.4),
    ("-1/8", "in/ft", -0.125, "in/ft", -0.125 / 12),
    ("0,125", "in", 0.125, "in", 0.003175),
    ("1,234.5", "gal/h", 1234.5, "gal/h", 1234.5 * 3.785411784e-3 / 3600),
    ("114,256", "count", 114256.0, "count", 114256.0),
    ("1,234,567", "count", 1234567.0, "count", 1234567.0),
    ("3", "count", 3.0, "count", 3.0),
    ("65", "%", 65.0, "%", 0.65),
    ("65%", "%", 65.0, "%", 0.65),
    ("1.265", "SG", 1.265, "SG", 1.265),
    ("75 ah", "Ah", 75.0, "Ah", 75.0),
]


@pytest.mark.parametrize(("text", "asked", "value", "unit", "si"), READ)
def test_what_people_type_is_read(text: str, asked: str, value: float, unit: str, si: float) -> None:
    typed = parse(text, asked)
    assert typed.text == text
    assert typed.unit == unit
    assert typed.value == pytest.approx(value, rel=1e-12)
    assert typed.si == pytest.approx(si, rel=1e-9)


REFUSED = [
    ("", "V", "Nothing was typed: type a number in volts, such as 12.5 V."),
    ("   ", "count", "Nothing was typed: type a number, such as 12."),
    ("abc", "in", "“abc” cannot be read as a length: type a number in inches, such as 12.5 in."),
    ("nan", "V", "“nan” cannot be read as a voltage"),
    ("inf", "V", "“inf” cannot be read as a voltage"),
    ("1e5", "V", "“1e5” cannot be read as a voltage"),
    ("12 V", "in", "“V” stands for a voltage; here a length is asked for"),
    ("12 mV", "V", "“12 mV” cannot be read as a voltage"),
    ("1.2.3", "V", "“1.2.3” has more than one decimal point"),
    ("1,250", "gal/h", "“1,250” can be read two ways: type 1250 or 1.250."),
    ("1/0", "in", "“1/0” divides by zero"),
    ("-1", "in", "A length cannot be less than nothing"),
    ("-2", "s", "A time cannot be less than nothing"),
    ("2.5", "count", "“2.5” is not a whole number"),
    ("-460", "degF", "No temperature is as low as “-460”"),
    ("5 in 6 ft", "in", "“5 in 6 ft” cannot be read as a length"),
    ("40 °F 3 °C", "degF", "“40 °F 3 °C” cannot be read as a temperature"),
    ("12.6 12.7", "V", "“12.6 12.7” cannot be read as a voltage"),
    ("9" * 41, "V", "This is too long for a voltage"),
]


@pytest.mark.parametrize(("text", "asked", "start"), REFUSED)
def test_what_cannot_be_read_is_refused_with_a_sentence(text: str, asked: str, start: str) -> None:
    with pytest.raises(UnreadableMeasurement) as refused:
        parse(text, asked)
    assert str(refused.value).startswith(start)
    assert str(refused.value).endswith(".")


SHOWN = [
    (12.6, "V", "12.6 V"),
    (12.45, "V", "12.45 V"),
    (12.0, "V", "12 V"),
    (4.4444444, "degF", "40 °F"),
    (-17.7777, "degF", "0 °F"),
    (0.0015875, "in", "0.06 in"),
    (0.4572, "in", "18 in"),
    (0.4572, "mm", "457.2 mm"),
    (0.00273391, "gal/h", "2600 gal/h"),
    (8.34e-5, "gal/min", "1.3 gal/min"),
    (1e-7, "gal/min", "0.002 gal/min"),
    (0.0, "gal/min", "0 gal/min"),
    (114256.0, "count", "114,256"),
    (1.25, "SG", "1.250"),
    (0.65, "%", "65%"),
    (-0.0104166667, "in/ft", "-0.125 in/ft"),
    (90.0, "min", "1.5 min"),
]


@pytest.mark.parametrize(("value_si", "unit", "words"), SHOWN)
def test_values_are_shown_as_exactly_as_a_gauge_gives_them(value_si: float, unit: str, words: str) -> None:
    assert shown(value_si, unit) == words


@pytest.mark.parametrize(("value_si", "unit", "words"), [case for case in SHOWN if case[0] != 0.0])
def test_what_is_shown_can_be_typed_again(value_si: float, unit: str, words: str) -> None:
    assert shown(parse(words, unit).si, unit) == words


def test_close_values_can_be_set_apart_by_more_digits() -> None:
    assert shown(12.449, "V") == "12.45 V"
    assert shown(12.449, "V", more_digits=1) == "12.449 V"


def test_every_quantity_has_a_base_a_word_and_a_unit_to_read_in_for_both_systems() -> None:
    assert set(BASE_PINT_NAMES) == set(QUANTITY_WORDS) == set(DISPLAY_UNITS)
    for quantity in BASE_PINT_NAMES:
        for system in SYSTEMS:
            assert UNITS[display_unit(quantity, system)].quantity == quantity


def test_units_of_us_companies_are_not_metric_and_the_other_way_round() -> None:
    assert (display_unit("length", "US"), display_unit("length", "metric")) == ("in", "mm")
    assert (display_unit("temperature", "US"), display_unit("temperature", "metric")) == ("degF", "degC")
    assert (display_unit("flow", "US"), display_unit("flow", "metric")) == ("gal/min", "L/min")


def test_no_two_units_of_a_quantity_answer_to_the_same_name() -> None:
    taken: dict[tuple[str, str], str] = {}
    for unit in UNITS.values():
        for name in {name.casefold() for name in (unit.code, unit.symbol, unit.word, *unit.also) if name}:
            assert taken.setdefault((unit.quantity, name), unit.code) == unit.code
