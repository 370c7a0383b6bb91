"""The map of rounds: what it shows, and that nothing falls off its sheet."""

import re
from math import cos, radians

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.visits.board.arrangement import Arrangement
from contractor.visits.board.fingerprints import book_of, changed_since, sha256_of
from contractor.visits.board.loads import Part, load_of, parts_of
from contractor.visits.board.sketch import HEIGHT, WIDTH, Label, Spot, Trail, dash_of, shape_of, sketch
from contractor.visits.routing.problem import Told
from tests.visits.routing.cast import MONDAY, TUESDAY, job, problem, shift

DEGREES = st.tuples(st.floats(40, 41, allow_nan=False), st.floats(-78, -77, allow_nan=False))


def spot(place: tuple[float, float], number: str = "1", **more: object) -> Spot:
    return Spot(**{"latitude": place[0], "longitude": place[1], "number": number, "name": "1 Quarry Lane", **more})


def trail(*places: tuple[float, float], style: int = 0, start: tuple[float, float] | None = None) -> Trail:
    stops = tuple(spot(place, str(number)) for number, place in enumerate(places, start=1))
    return Trail(style=style, name="Theo Marsh", start=start, stops=stops, end=start)


@given(st.lists(DEGREES, min_size=1, max_size=8))
def test_no_house_falls_off_the_sheet(places: list[tuple[float, float]]) -> None:
    svg = sketch([trail(*places, start=places[0])], [], [])
    points = [(float(x), float(y)) for x, y in re.findall(r'map-number" x="([\d.-]+)" y="([\d.-]+)"', svg)]
    assert len(points) == len(places)
    assert all(0 < x < WIDTH and 0 < y < HEIGHT for x, y in points)


def test_the_scale_bar_is_as_long_as_the_ground_it_stands_for() -> None:
    # A degree of latitude is 69 miles (the mile as a minute of arc is 1.15 statute miles: general knowledge).
    south, north = (40.0, -77.5), (40.5, -77.5)
    svg = sketch([trail(south, north)], [], [])
    (_, low), (_, high) = re.findall(r'map-number" x="([\d.]+)" y="([\d.]+)"', svg)
    pixels_per_mile = (float(low) - float(high)) / (0.5 * 69.05)
    length, miles = re.findall(r'H([\d.]+)M.*?map-town" x="[\d.]+" y="[\d.]+">([\d.]+) mi', svg)[0]
    assert float(length) - 12 == pytest.approx(float(miles) * pixels_per_mile, rel=0.02)


def test_east_and_north_have_the_same_scale() -> None:
    middle = 40.25
    svg = sketch([trail((40.0, -77.5), (40.5, -77.5), (40.25, -77.0))], [], [])
    points = [(float(x), float(y)) for x, y in re.findall(r'map-number" x="([\d.]+)" y="([\d.]+)"', svg)]
    tall, wide = points[0][1] - points[1][1], points[2][0] - points[0][0]
    assert wide / tall == pytest.approx(cos(radians(middle)), rel=0.02)


def test_twelve_technicians_look_different_without_colour() -> None:
    assert len({(shape_of(style), dash_of(style)) for style in range(12)}) == 12


def test_rough_positions_waiting_visits_and_odd_names_are_drawn_as_such() -> None:
    odd = spot((40.1, -77.4), name="<b>1 & 2</b>", is_rough=True)
    svg = sketch([], [odd], [Label(latitude=40.1, longitude=-77.4, name="Odell's <Ferry>")])
    assert "&lt;b&gt;1 &amp; 2&lt;/b&gt;, not planned" in svg
    assert (svg.count("map-rough"), svg.count("map-waiting")) == (1, 1)
    assert "Odell&#x27;s &lt;Ferry&gt;" in svg
    assert sketch([], [], []) == ""


def test_a_fingerprint_follows_the_facts_and_not_the_urgency() -> None:
    one = problem(job("a", told=Told(technician="theo", day=MONDAY)), job("b"))
    pressing = problem(job("a", told=Told(technician="theo", day=MONDAY), priority=2), job("b"))
    moved = problem(job("a", told=Told(technician="theo", day=TUESDAY)), job("b"))
    assert sha256_of(book_of(one)) == sha256_of(book_of(pressing))
    assert sha256_of(book_of(one)) != sha256_of(book_of(moved))
    empty = Arrangement(orders={})
    assert changed_since(book_of(one), one, empty) == []
    assert changed_since(book_of(one), moved, empty) == ["a"]
    assert changed_since(book_of(one), problem(job("b", minutes=90)), empty) == []
    arranged = Arrangement(orders={("theo", MONDAY): ("a", "b")})
    shorter = problem(job("b", minutes=90), shifts=(shift(end=12),))
    assert changed_since(book_of(one), shorter, arranged) == ["a", "b", "day:theo:2031-03-03"]


@pytest.mark.parametrize(
    ("carry", "parts"),
    [
        ("", ()),
        ("Check valve", ("Check valve",)),
        ("battery, group 31;  two  floats.\nlid\n", ("Battery, group 31", "Two floats", "Lid")),
        (" ; ;\n", ()),
    ],
)
def test_a_note_of_what_to_bring_is_read_part_by_part(carry: str, parts: tuple[str, ...]) -> None:
    assert parts_of(carry) == parts


def test_the_load_counts_the_same_part_once() -> None:
    assert load_of([(1, ("Lid", "Pump")), (2, ()), (3, ("LID", "Lid"))]) == (
        Part(name="Lid", times=3, stops=(1, 3)),
        Part(name="Pump", times=1, stops=(1,)),
    )
