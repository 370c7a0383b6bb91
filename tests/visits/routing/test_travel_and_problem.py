"""Driving times reckoned without a network, and what a problem refuses at once."""

from datetime import timedelta

import numpy as np
import pytest

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.problem import Break, Job, PlanePoint, Position, Problem, Technician, Weights
from contractor.visits.routing.travel import EARTH_RADIUS_KM, ByDistance, great_circle_km
from tests.visits.routing.cast import HOME, MONDAY, CityBlocks, job, problem, shift, window

KM_A_DEGREE = EARTH_RADIUS_KM * np.pi / 180  # along a meridian


def north(road_km, circuity=1.3):
    return Position(40 + road_km / circuity / KM_A_DEGREE, -83)


def test_a_quarter_of_the_equator_and_the_way_to_the_pole_are_equal():
    apart = great_circle_km(np.array([[0.0, 0.0], [0.0, 90.0], [90.0, 0.0]]))
    assert apart[0, 1] == pytest.approx(EARTH_RADIUS_KM * np.pi / 2)
    assert apart[0, 2] == pytest.approx(apart[0, 1])


@pytest.mark.parametrize(
    ("road_km", "minutes"),
    [(0, 0), (1.5, 3 + 2), (3, 6 + 2), (15, 6 + 14.4 + 2), (95, 6 + 14.4 + 60 + 2)],
    ids=["the same house", "a street", "end of the near speed", "end of the middle speed", "far"],
)
def test_speeds_rise_with_the_distance_and_parking_is_added(road_km, minutes):
    # By hand: 30 km/h for 3 km, 50 km/h up to 15 km, 80 km/h beyond, two minutes to park.
    found = ByDistance().seconds([Position(40, -83), north(road_km)])
    assert found[0, 1] == pytest.approx(minutes * 60, abs=1)
    assert found[0, 1] == found[1, 0]


@pytest.mark.parametrize(
    "wrong",
    [
        {"circuity": 0.9},
        {"circuity": 4},
        {"near_km_h": 0},
        {"parking_minutes": -1},
        {"near_km": 20},
    ],
)
def test_speeds_and_factors_that_cannot_be_are_refused(wrong):
    with pytest.raises(NotAPlan):
        ByDistance(**wrong)


def test_points_of_a_plane_have_no_roads():
    with pytest.raises(NotAPlan):
        ByDistance().seconds([PlanePoint(0, 0)])


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: Position(91, 0), "not on the earth"),
        (lambda: job("v", target_on=MONDAY, latest_on=MONDAY - timedelta(days=1)), "out of order"),
        (lambda: job("v", priority=3), "priority 3"),
        (lambda: job("v", minutes=-1), "below nothing"),
        (lambda: job("v", windows=(window(10, 9),)), "closes before it opens"),
        (lambda: shift(start=9, end=9), "ends before it begins"),
        (lambda: shift(rest=Break(minutes=30, earliest=9, latest=8)), "Correct the break"),
        (lambda: shift(room=-1), "room below nothing"),
        (lambda: Weights(driving=-1), "below nothing"),
        (lambda: Weights(prizes=(1, 2)), "three priorities"),
        (lambda: problem(job("v"), job("v")), "visit v is given twice"),
        (lambda: problem(shifts=(shift(), shift())), "theo on 2031-03-03 is given twice"),
        (
            lambda: Problem(jobs=(), technicians=(Technician(id="ana"),), shifts=(shift(),), travel=CityBlocks()),
            "not among the technicians",
        ),
    ],
)
def test_a_contradiction_is_refused_with_a_sentence(wrong, words):
    with pytest.raises(NotAPlan, match=words):
        wrong()


def test_what_is_merely_missing_is_accepted():
    assert Job(id="v", position=None, minutes=0).may_be_on(MONDAY)
    assert HOME.x == 0
