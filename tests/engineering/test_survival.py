"""Survival statistics against published fits and against other libraries."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines.datasets import load_leukemia, load_multicenter_aids_cohort_study, load_waltons
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight

from contractor.engineering.errors import BadInput
from contractor.engineering.survival import WeibullFit, expected_failures, kaplan_meier, weibull

# NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten units still running at 500 h.
NIST_FAILURES = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
NIST = ([0] * 20, NIST_FAILURES + [500] * 10, [1] * 10 + [0] * 10)


def test_the_weibull_fit_of_nist_is_reproduced() -> None:
    """Printed (read): shape 1.7208, scale 606.5280, AIC 154.27, mean 540.737, standard deviation 323.806.

    The page prints the log likelihood without its minus sign, and its formula of the deviation lacks one; both numbers
    are right.
    """
    fit = weibull(*NIST)
    assert fit.shape == pytest.approx(1.7208, abs=2e-4)
    assert fit.scale == pytest.approx(606.5280, abs=0.05)
    assert fit.log_likelihood == pytest.approx(-75.135, abs=1e-3)
    assert 2 * 2 - 2 * fit.log_likelihood == pytest.approx(154.27, abs=5e-3)
    law = stats.weibull_min(fit.shape, scale=fit.scale)
    assert law.mean() == pytest.approx(540.737, rel=2e-4)
    assert law.std() == pytest.approx(323.806, rel=3e-4)
    assert fit.median == pytest.approx(law.median())
    assert (fit.failures, fit.units) == (10, 20)
    assert fit.shape_interval is not None
    assert fit.shape_interval[0] < fit.shape < fit.shape_interval[1]
    assert fit.scale_interval[0] < fit.scale < fit.scale_interval[1]


def test_the_weibull_fit_agrees_with_scipys_censored_fit() -> None:
    ages, failed = np.array(NIST[1], dtype=float), np.array(NIST[2], dtype=bool)
    data = stats.CensoredData(uncensored=ages[failed], right=ages[~failed])
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    fit = weibull(*NIST)
    assert (fit.shape, fit.scale) == (pytest.approx(shape, rel=1e-3), pytest.approx(scale, rel=1e-3))


def test_the_weibull_fit_of_a_published_data_set_is_at_its_own_optimum() -> None:
    """Ten shock absorbers failed and 21 removed, km (data from memory). A library's documentation prints scale 134 243
    and shape 1.15586; the likelihood's real maximum lies at 134 651.04 and 1.1544267 (computed), 0.3 % away.
    """
    failed = [5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900]
    removed = [3961, 4007, 4734, 6054, 7298, 10190, 23060, 27160, 28690, 37100, 40060]
    removed += [45670, 53000, 67000, 69630, 77350, 78470, 91680, 105700, 106300, 150400]
    ages, events = np.array(failed + removed, dtype=float), np.array([1] * 10 + [0] * 21, dtype=float)
    fit = weibull(0, ages, events)
    assert (fit.shape, fit.scale) == (pytest.approx(1.1544267, rel=1e-5), pytest.approx(134_651.04, rel=1e-4))
    assert fit.log_likelihood == pytest.approx(-128.97383, abs=1e-5)
    printed = _log_likelihood(np.zeros(31), ages, events, 1.15586, 134_243.0)
    assert printed < fit.log_likelihood
    assert fit.scale / 134_243 > 1.002


def test_the_log_likelihood_is_negative_although_a_page_prints_it_without_its_sign() -> None:
    """NIST's page as stored prints 75.135; and √(Γ(1 + 2/β) + Γ(1 + 1/β)²)·η, with a plus, would give 951."""
    fit = weibull(*NIST)
    assert fit.log_likelihood < 0
    second, first = math.gamma(1 + 2 / fit.shape), math.gamma(1 + 1 / fit.shape)
    assert fit.scale * math.sqrt(second - first**2) == pytest.approx(323.806, rel=3e-4)
    assert fit.scale * math.sqrt(second + first**2) > 800


def test_the_weibull_fit_of_a_library_data_set_is_reproduced() -> None:
    """163 fruit flies of `lifelines`: shape 3.45051, scale 55.73310, log likelihood −672.0622 (computed)."""
    flies = load_waltons()
    fit = weibull(0, flies["T"].to_numpy(), flies["E"].to_numpy())
    assert fit.shape == pytest.approx(3.45051, rel=1e-3)
    assert fit.scale == pytest.approx(55.73310, rel=1e-3)
    assert fit.log_likelihood == pytest.approx(-672.0622, abs=1e-2)
    assert fit.cautions == ()


def test_left_truncation_agrees_with_a_likelihood_maximised_by_hand_and_ignoring_it_overstates_life() -> None:
    """78 men, 27 events, entry W (`lifelines` data). The exponential rate is 27/Σ(T − W) = .179189 (closed form)."""
    men = load_multicenter_aids_cohort_study()
    entry, left, event = (men[name].to_numpy(dtype=float) for name in ("W", "T", "D"))
    assert event.sum() / (left - entry).sum() == pytest.approx(0.179189, abs=1e-6)
    fit = weibull(entry, left, event)
    best = max(
        (_log_likelihood(entry, left, event, shape, scale), shape, scale)
        for shape in np.linspace(fit.shape * 0.98, fit.shape * 1.02, 21)
        for scale in np.linspace(fit.scale * 0.98, fit.scale * 1.02, 21)
    )
    assert fit.log_likelihood == pytest.approx(best[0], abs=1e-4)
    assert fit.log_likelihood == pytest.approx(_log_likelihood(entry, left, event, fit.shape, fit.scale))
    assert weibull(0, left, event).median > fit.median
    exponential = weibull(
        entry[:0:-1], left[:0:-1], np.r_[np.ones(4), np.zeros(76)][: entry.size - 1], reference_shape=1.0
    )
    assert 1 / exponential.scale == pytest.approx(4 / (left[1:] - entry[1:]).sum())


def _log_likelihood(entry: np.ndarray, left: np.ndarray, event: np.ndarray, shape: float, scale: float) -> float:
    failed = event == 1
    density = stats.weibull_min(shape, scale=scale)
    terms = np.where(failed, density.logpdf(left), density.logsf(left)) - density.logsf(entry)
    return float(terms.sum())


def test_kaplan_meier_of_nist_steps_down_by_a_twentieth() -> None:
    """S(54) = .95 … S(386) = .50: every failure is one of twenty (NIST e-Handbook 8.4.1.3)."""
    curve = kaplan_meier(*NIST)
    at = dict(zip(curve.age.tolist(), curve.survival.tolist(), strict=True))
    for position, age in enumerate(NIST_FAILURES, start=1):
        assert at[age] == pytest.approx(1 - position / 20)
    assert curve.median == 386
    assert (curve.failures, curve.cautions) == (10, ())


def test_kaplan_meier_agrees_with_the_textbook_trial() -> None:
    """Freireich's 6-MP trial: S(6) = .857, S(10) = .753, S(23) = .448, median 23; placebo 8 (from memory)."""
    trial = load_leukemia()
    treated = trial[trial["Rx"] == 0]
    curve = kaplan_meier(0, treated["t"].to_numpy(), treated["status"].to_numpy())
    at = dict(zip(curve.age.tolist(), curve.survival.tolist(), strict=True))
    assert [at[6], at[10], at[23]] == pytest.approx([0.857, 0.753, 0.448], abs=6e-4)
    assert curve.median == 23
    placebo = trial[trial["Rx"] == 1]
    assert kaplan_meier(0, placebo["t"].to_numpy(), placebo["status"].to_numpy()).median == 8


def test_kaplan_meier_with_left_truncation_agrees_with_statsmodels() -> None:
    men = load_multicenter_aids_cohort_study()
    entry, left, event = (men[name].to_numpy(dtype=float) for name in ("W", "T", "D"))
    curve = kaplan_meier(entry, left, event)
    reference = SurvfuncRight(left, event, entry=entry)
    ours = curve.survival[np.searchsorted(curve.age, reference.surv_times)]
    assert ours == pytest.approx(reference.surv_prob, abs=1e-9)
    assert (curve.low <= curve.survival + 1e-12).all()
    assert (curve.high >= curve.survival - 1e-12).all()


def test_a_preventive_replacement_is_not_a_failure() -> None:
    """The same ages, half of them replaced in time: the parts live longer than if all had failed."""
    ages = [3, 4, 5, 6, 7, 8, 9, 10, 11, 12]
    all_failed = weibull(0, ages, [True] * 10)
    half_replaced = weibull(0, ages, [True, False] * 5)
    assert half_replaced.median > all_failed.median
    assert half_replaced.cautions == ("Few failures: the intervals are wide.",)


@pytest.mark.parametrize(("failures", "words"), [(1, "Only one unit has failed"), (3, "Only 3 units have failed")])
def test_with_fewer_than_five_failures_only_the_scale_is_fitted(failures: int, words: str) -> None:
    ages, failed = [2.0, 4.0, 6.0, 8.0, 10.0], [True] * failures + [False] * (5 - failures)
    fit = weibull(0, ages, failed, reference_shape=2.0)
    assert fit.shape == 2.0
    assert fit.shape_interval is None
    assert fit.scale == pytest.approx(math.sqrt(sum(age**2 for age in ages) / failures))  # η = (Σt^β/r)^(1/β)
    assert fit.scale_interval[0] < fit.scale < fit.scale_interval[1]
    assert words in fit.cautions[0]


def test_the_interval_of_the_scale_is_the_chi_square_one_of_an_exponential_life() -> None:
    """Textbook: 2·T/χ² limits for r failures; with 3 failures in 30 years, 97.5 % points 14.449 (6) and 17.535 (8)."""
    fit = weibull(0, [10.0, 10.0, 10.0], [True] * 3, reference_shape=1.0)
    assert fit.scale_interval[0] == pytest.approx(60 / 17.535, rel=1e-3)
    assert fit.scale_interval[1] == pytest.approx(60 / 1.2373, rel=1e-3)


def test_without_any_failure_the_scale_is_a_low_estimate_and_says_so() -> None:
    fit = weibull([0, 2], [10, 12], [False, False], reference_shape=1.5)
    assert fit.scale == pytest.approx((10**1.5 + 12**1.5 - 2**1.5) ** (1 / 1.5))
    assert fit.scale_interval[1] == math.inf
    assert "No unit has failed yet" in fit.cautions[0]
    assert "may well last longer" in fit.cautions[1]
    curve = kaplan_meier([0, 2], [10, 12], [False, False])
    assert curve.median == math.inf
    assert "No unit has failed yet" in curve.cautions[0]


def test_few_units_at_risk_are_cautioned() -> None:
    assert "fewer than five" in kaplan_meier(0, [1, 2, 3, 4, 5, 6], [True] * 6).cautions[0]
    assert kaplan_meier(0, [1, 2, 3, 4, 5, 6], [True, True] + [False] * 4).cautions == ()  # five at risk at age 2


@given(st.data())
@settings(max_examples=30, deadline=None)
def test_the_fit_does_not_depend_on_the_unit_of_age(data: st.DataObject) -> None:
    ages = np.array(data.draw(st.lists(st.floats(0.5, 20), min_size=12, max_size=30, unique=True)))
    unit = data.draw(st.sampled_from([12.0, 365.25]))
    failed = np.arange(ages.size) % 2 == 0
    years, other = weibull(0, ages, failed), weibull(0, ages * unit, failed)
    assert other.shape == pytest.approx(years.shape, rel=1e-6)
    assert other.scale == pytest.approx(years.scale * unit, rel=1e-6)


def test_expected_failures_add_up_the_chances_of_the_units() -> None:
    """Computed from NIST's fit: 0.23227 for a unit of 500 h in the next 100 h, 0.17366 at 300 h."""
    fit = weibull(*NIST)
    assert expected_failures([500, 300], fit, 100) == pytest.approx(0.23227 + 0.17366, abs=2e-4)
    assert expected_failures([], fit, 100) == 0


@given(ages=st.lists(st.floats(0, 20), min_size=1, max_size=20), horizon=st.floats(0, 10), more=st.floats(0, 10))
@settings(max_examples=60)
def test_expected_failures_grow_with_the_horizon_and_never_exceed_the_units(
    ages: list[float], horizon: float, more: float
) -> None:
    fit = WeibullFit(
        shape=2.0,
        scale=10.0,
        shape_interval=None,
        scale_interval=(8.0, 12.0),
        failures=4,
        units=10,
        log_likelihood=0.0,
    )
    sooner, later = expected_failures(ages, fit, horizon), expected_failures(ages, fit, horizon + more)
    assert 0 <= sooner <= later + 1e-12
    assert later <= len(ages)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: weibull(0, [], []), "exit must be a list with an age for each unit, but is []."),
        (lambda: weibull(0, 5.0, True), "exit must be a list with an age for each unit, but is 5.0."),
        (lambda: weibull(0, [1, 2, 3], [True, False]), "exit must be as many as entry and failed, but is 3."),
        (lambda: weibull([0, 3], [1, 2], [1, 1]), "entry must be less than the same unit's exit, but is 3.0."),
        (lambda: weibull(0, [1, -2], [1, 1]), "exit must be greater than zero, but is -2.0."),
        (lambda: kaplan_meier(0, [1, 2], [1, 2]), "failed must be true or false, or 1 or 0, but is 2.0."),
        (lambda: kaplan_meier(0, [1, 2], [1, None]), "failed must be an ordinary number, but is nan."),
        (
            lambda: weibull(0, [1, 2], [1, 1], reference_shape=0),
            "reference_shape must be greater than zero, but is 0.0.",
        ),
    ],
)
def test_bad_input_is_refused_in_one_sentence_that_names_it(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as refusal:
        call()
    assert str(refusal.value) == sentence
