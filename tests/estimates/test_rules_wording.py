"""Figures and sentences in the company's units."""

import doctest

import pytest

from contractor.estimates.rules import found, wording
from contractor.estimates.rules.wording import Wording, hours, number

US, METRIC = Wording("US"), Wording("metric")
# 1 ft = 0.3048 m, 1 in = 25.4 mm exactly; 32 °F = 0 °C, 77 °F = 25 °C; 1 US gal = 3.785412 L.
SENTENCES = (
    ("a basement at 20 °C is", "a basement at 68 °F is"),
    ("outside −4 to 52 °C, for", "outside 25 to 126 °F, for"),
    ("assumed for 25 °C (77 °F).", "assumed for 77 °F."),
    ("It lies 0.3 m deep; frost to 0.9 m.", "It lies 1 ft deep; frost to 3 ft."),
    ("below 0.6 m/s (2 ft/s)", "below 0.6 m/s (2 ft/s)"),
    ("A 12 V battery", "A 12 V battery"),
)


@pytest.mark.parametrize(("text", "said"), SENTENCES)
def test_a_sentence_of_the_core_is_said_in_the_companys_units(text: str, said: str) -> None:
    assert US.sentence(text) == said
    assert METRIC.sentence(text) == text


def test_figures_are_said_in_the_units_of_the_trade() -> None:
    assert (US.flow(0.0012618), METRIC.flow(0.0012618)) == ("20 gal/min", "75.7 L/min")
    assert (US.size(0.040386), METRIC.size(0.040386)) == ("1.59 in", "40.4 mm")
    assert (US.run(2.7432), METRIC.run(2.7432)) == ("9 ft", "2.74 m")
    assert (US.temperature(25.0), METRIC.temperature(25.0)) == ("77 °F", "25 °C")
    assert (US.speed(0.9144), METRIC.speed(0.9144)) == ("3.0 ft/s", "0.91 m/s")
    assert (US.value(5000.0, "h"), US.value(1.5, "h"), US.value(3.0, "")) == ("5,000 h", "1.5 h", "3")


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.0, "0"),
        (1.0, "1"),
        (0.00012345678, "0.0001235"),
        (123456.0, "123500"),
        (-0.05, "-0.05"),
        (1e-9, "0.000000001"),
    ],
)
def test_a_bare_number_has_four_digits_and_no_powers_of_ten(value: float, said: str) -> None:
    assert number(value) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.01, "5 minutes"),
        (0.5, "30 minutes"),
        (1.2, "1 hour"),
        (12.4, "12 hours"),
        (71.4, "71 hours"),
        (72.0, "three days or more"),
    ],
)
def test_hours_are_no_more_exact_than_they_are_known(value: float, said: str) -> None:
    assert hours(value) == said


@pytest.mark.parametrize("module", [wording, found])
def test_the_examples_in_docstrings_hold(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]
