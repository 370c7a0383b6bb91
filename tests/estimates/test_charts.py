"""Axes, scales and ink: what every chart of the estimates rests on."""

import doctest
import math
from itertools import pairwise
from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.estimates import charts, pit_chart
from contractor.estimates.charts import Axis, Frame, Writing, axis, step_of, stroke, svg
from tests.estimates.drawn import Drawn, points

ordinary = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False).map(lambda value: round(value, 4))
positive = st.floats(min_value=1e-4, max_value=1e6, allow_nan=False)


@given(span=positive, most=st.integers(min_value=1, max_value=12))
def test_a_step_is_round_and_cuts_the_span_into_no_more_pieces_than_asked(span: float, most: int) -> None:
    step = step_of(span, most)
    leading = step / 10 ** math.floor(math.log10(step) + 1e-12)
    assert min(abs(leading - one) for one in (1, 2, 2.5, 5, 10)) < 1e-6
    assert span / step <= most * (1 + 1e-6)
    assert span / step > most / 2.6, "A finer step would do as well."


@pytest.mark.parametrize(
    ("span", "most", "step"), [(60, 5, 20), (25, 5, 5), (7.3, 5, 2), (1, 4, 0.25), (12.4, 4, 5), (0.02, 4, 0.005)]
)
def test_steps_are_those_a_draughtsman_takes(span: float, most: int, step: float) -> None:
    assert step_of(span, most) == pytest.approx(step)


@pytest.mark.parametrize(("span", "most"), [(0.0, 5), (-1.0, 5), (math.inf, 5), (math.nan, 5), (1.0, 0)])
def test_no_span_has_no_step(span: float, most: int) -> None:
    with pytest.raises(ValueError, match="must be greater than zero"):
        step_of(span, most)


@given(values=st.lists(ordinary, min_size=1, max_size=8), most=st.integers(min_value=1, max_value=9))
def test_an_axis_covers_its_values_and_ends_on_ticks(values: list[float], most: int) -> None:
    made = axis(values, "Head", most=most, low=None)
    room = 1e-6 * max(1.0, *(abs(value) for value in values))
    assert made.low <= min(values) + room
    assert made.high >= max(values) - room
    assert (made.ticks[0], made.ticks[-1]) == (made.low, made.high)
    assert len(made.ticks) == len(made.words) <= most + 2
    steps = [later - earlier for earlier, later in pairwise(made.ticks)]
    assert max(steps) == pytest.approx(min(steps))


@given(values=st.lists(positive, min_size=1, max_size=8))
def test_what_is_written_at_a_tick_is_where_the_tick_stands(values: list[float]) -> None:
    made = axis(values, "Flow")
    assert made.low == 0
    for tick, word in zip(made.ticks, made.words, strict=True):
        assert float(word.replace(",", "")) == pytest.approx(tick, abs=1e-9 + made.high * 1e-6)


@given(one=ordinary, other=ordinary)
def test_a_scale_keeps_order_and_never_leaves_the_axis(one: float, other: float) -> None:
    made = Axis(low=-1000, high=1000, ticks=(), words=())
    low, high = sorted((one, other))
    assert 0 <= made.part(low) <= made.part(high) <= 1
    if -1000 <= one <= 1000:
        assert made.part(one) == pytest.approx((one + 1000) / 2000)


FRAME = Frame(x=axis([10.0], "Flow"), y=axis([10.0], "Head"))
anywhere = st.floats(min_value=-100, max_value=100, allow_nan=False)


@given(places=st.lists(st.tuples(anywhere, anywhere), min_size=2, max_size=12))
def test_no_line_leaves_the_frame_wherever_its_values_lie(places: list[tuple[float, float]]) -> None:
    for piece in FRAME.line([x for x, _ in places], [y for _, y in places]):
        for x, y in piece:
            assert FRAME.left - 1e-6 <= x <= FRAME.right + 1e-6
            assert FRAME.top - 1e-6 <= y <= FRAME.bottom + 1e-6
    for x, y in places:
        across, up = FRAME.at(x, y)
        assert FRAME.left <= across <= FRAME.right
        assert FRAME.top <= up <= FRAME.bottom


def test_a_line_that_leaves_the_frame_is_cut_at_its_edge_and_not_bent() -> None:
    """From (0, 0) to (20, 20) on axes up to 10: it ends in the corner; one that comes back is in two pieces."""
    assert FRAME.line([0, 20], [0, 20]) == [[FRAME.at(0, 0), FRAME.at(10, 10)]]
    there_and_back = FRAME.line([0, 5, 10], [5, 15, 5])
    assert [len(piece) for piece in there_and_back] == [2, 2]
    assert there_and_back[0][-1] == pytest.approx(FRAME.at(2.5, 10))
    assert there_and_back[1][0] == pytest.approx(FRAME.at(7.5, 10))
    assert FRAME.line([11, 12], [1, 2]) == []


@given(places=st.lists(st.tuples(anywhere, anywhere), min_size=2, max_size=6))
def test_a_line_is_drawn_where_it_was_computed(places: list[tuple[float, float]]) -> None:
    pieces = FRAME.line([x for x, _ in places], [y for _, y in places])
    drawn = points(stroke(pieces).partition('d="')[2].partition('"')[0])
    assert drawn == [pytest.approx(place, abs=0.006) for piece in pieces for place in piece]


@given(places=st.lists(st.tuples(st.floats(60, 370), st.floats(30, 220)), min_size=1, max_size=4, unique=True))
def test_words_stay_within_their_bounds(places: list[tuple[float, float]]) -> None:
    writing = Writing(bounds=(52, 0, 396, 236))
    for place in places:
        writing.write(["now: 34.4 gal/min"], [place])
    root = Drawn.of(svg(writing.svg(), title="t", description="d", prefix="p", height=284)).root
    texts = list(root.iter("{http://www.w3.org/2000/svg}text"))
    assert len(texts) == len(places)
    for text in texts:
        assert 0 < float(text.attrib["y"]) < 240
        assert 52 <= float(text.attrib["x"]) <= 396


def test_words_keep_off_a_line_and_off_each_other_where_there_is_room() -> None:
    writing = Writing(bounds=(52, 0, 396, 236))
    writing.avoid([[(52, 100), (396, 100)]])
    writing.write(["pump"], [(200, 100)])
    writing.write(["line"], [(200, 100)])
    first, second = Drawn.of(svg(writing.svg(), title="t", description="d", prefix="p", height=284)).texts().values()
    assert first != second
    for _, baseline in (first, second):
        assert not (baseline - 12 < 100 < baseline + 2)


def test_a_chart_says_what_it_shows_and_carries_no_style() -> None:
    made = svg("", title='Pump <new> & "old"', description="It moves 34 gal/min.", prefix='a"b', height=284)
    drawn = Drawn.of(made)
    assert (drawn.said("title"), drawn.said("desc")) == ('Pump <new> & "old"', "It moves 34 gal/min.")
    assert drawn.root.attrib["aria-labelledby"] == 'a"b-title a"b-description'
    assert "style" not in made


@pytest.mark.parametrize("module", [charts, pit_chart])
def test_the_examples_in_the_docstrings_are_true(module: ModuleType) -> None:
    ran = doctest.testmod(module)
    assert ran.attempted > 0
    assert ran.failed == 0
