"""Weibull fits of the company's own parts."""

from datetime import date, timedelta

import pytest

from contractor.estimates.rules.lives import Life, life_fits

START = date(2000, 1, 1)
# NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten still running at 500 hours; β = 1.7208, η = 606.5280.
NIST = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]


def life(days: float, *, failed: bool, model_id: int | None = 1, kind: str = "primary_pump", seen: int = 0) -> Life:
    return Life(
        part_kind=kind,
        model_id=model_id,
        in_on=START,
        seen_from=START + timedelta(days=seen),
        until=START + timedelta(days=days),
        failed=failed,
    )


def test_the_fit_is_that_of_the_handbook() -> None:
    lives = [life(10 * hours, failed=True) for hours in NIST] + [life(5000, failed=False) for _ in range(10)]
    kind, model = life_fits(lives)
    assert (kind.part_kind, kind.model_id, model.model_id) == ("primary_pump", None, 1)
    assert kind.shape == model.shape == pytest.approx(1.7208, abs=1e-3)
    assert kind.scale_years == pytest.approx(6065.28 / 365.25, rel=1e-3)
    assert (kind.failures, kind.units) == (10, 20)
    assert kind.shape_low < kind.shape < kind.shape_high
    assert kind.scale_low_years < kind.scale_years < kind.scale_high_years


def test_five_failures_are_needed() -> None:
    lives = [life(1000 + 100 * number, failed=True) for number in range(4)] + [life(3000, failed=False)] * 30
    assert life_fits(lives) == []
    assert len(life_fits([*lives, life(900, failed=True)])) == 2


def test_models_are_told_apart_and_parts_without_a_model_count_for_their_kind() -> None:
    lives = [life(900 + 90 * number, failed=True, model_id=1) for number in range(5)]
    lives += [life(2000 + 90 * number, failed=True, model_id=2) for number in range(4)]
    lives += [life(1500, failed=False, model_id=None), life(800, failed=True, model_id=None, kind="battery")]
    kind, model = life_fits(lives)
    assert (kind.failures, kind.units) == (9, 10)
    assert (model.model_id, model.failures, model.units) == (1, 5, 5)


def test_a_preventive_replacement_is_no_failure() -> None:
    failures = [life(900 + 90 * number, failed=True) for number in range(6)]
    few, many = (life_fits([*failures, *[life(2000, failed=False)] * count])[0] for count in (2, 20))
    assert many.scale_years > few.scale_years
    assert (many.failures, many.units) == (6, 26)


def test_parts_that_were_old_when_they_came_under_our_eyes_don_t_make_lives_look_longer() -> None:
    lives = [life(2000 + 150 * number, failed=True, seen=1800) for number in range(12)]
    ignored = [life(2000 + 150 * number, failed=True) for number in range(12)]
    assert life_fits(lives)[0].scale_years < life_fits(ignored)[0].scale_years


def test_a_part_gone_before_it_came_under_our_eyes_tells_nothing() -> None:
    lives = [life(900 + 90 * number, failed=True) for number in range(5)]
    gone = [life(500, failed=True, seen=700), life(700, failed=False, seen=700)]
    assert life_fits([*lives, *gone]) == life_fits(lives)


def test_a_part_that_failed_on_its_first_day_counts() -> None:
    lives = [life(900 + 90 * number, failed=True) for number in range(4)]
    assert life_fits([*lives, life(0, failed=True)])[0].failures == 5
