"""Each chart read back off the paper: what one measures along its axes are the numbers that it was made from."""

from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from contractor.engineering.pit import PumpCycle, pump_cycle
from contractor.engineering.pump_curves import DischargeLine, PumpCurve
from contractor.estimates.band import Range, large_band, small_band
from contractor.estimates.battery_chart import (
    CapacityStory,
    Lasting,
    Measured,
    capacity_chart,
    fall,
    hours_in_words,
    reserve_chart,
)
from contractor.estimates.charts import Chart
from contractor.estimates.pit_chart import Levels, duration, pit_chart, sentence
from contractor.estimates.pump_chart import Drawn as State
from contractor.estimates.pump_chart import pump_chart, state
from contractor.estimates.season_chart import season_chart
from tests.estimates.drawn import Drawn, distance

CURVE = PumpCurve((0.0, 0.0012618, 0.002103, 0.0027344, 0.0031545), (6.858, 5.9436, 4.572, 3.048, 1.524))
LINE = DischargeLine(2.7432, 0.0404, 9.144, 5.62)
NEW_DASH, WORN_DASH = "", "7 5"
GALLONS_A_MINUTE = 15850.32314  # in a cubic metre a second, as NIST SP 811 gives 6.309020e-5 for one
FEET = 0.3048
TODAY = date(2026, 11, 25)


def whole(chart: Chart, *, width: float = 400) -> Drawn:
    """Parses a chart and checks what holds for every one of them."""
    drawn = Drawn.of(chart.svg)
    left, top, right, bottom = (float(number) for number in drawn.root.attrib["viewBox"].split())
    assert (left, top, right) == (0, 0, width)
    for x, y in drawn.places():
        assert left - 0.01 <= x <= right + 0.01, chart.title
        assert top - 0.01 <= y <= bottom + 0.01, chart.title
    assert drawn.said("title") == chart.title
    assert drawn.said("desc") == chart.description
    assert "style" not in chart.svg
    assert chart.rows
    assert {len(row) for row in chart.rows} == {len(chart.head)}
    return drawn


def pump(*, now: State | None = None, system: str = "US") -> Chart:
    return pump_chart(state("new", CURVE, LINE), now, system=system, prefix="p", title="Primary pump in its line")


# ---- pump ----


def test_the_working_point_lies_on_the_pump_curve_and_on_the_line() -> None:
    now = state("now", CURVE.at_wear(0.8), LINE)
    drawn = whole(pump(now=now))
    (then_at,) = drawn.discs("sheet")
    (now_at,) = drawn.discs("ink")
    pumps = {
        dash: next(line for line in drawn.lines(stroke="ink", dash=dash) if len(line) > 50)
        for dash in (NEW_DASH, WORN_DASH)
    }
    (water,) = drawn.lines(stroke="water-line")
    for place, dash, other in ((then_at, NEW_DASH, WORN_DASH), (now_at, WORN_DASH, NEW_DASH)):
        assert distance(place, pumps[dash]) < 0.05
        assert distance(place, water) < 0.05
        assert distance(place, pumps[other]) > 3


def test_flow_and_head_read_off_the_axes_are_those_computed() -> None:
    for system, flow_unit, head_unit, ends in (
        ("US", 1 / GALLONS_A_MINUTE, FEET, (("0", "40"), ("0", "20"))),
        ("metric", 1 / 60000, 1.0, (("0", "100"), ("0", "6"))),
    ):
        chart = pump(system=system)
        drawn = whole(chart)
        (place,) = drawn.discs("ink")
        point = state("new", CURVE, LINE).point
        assert drawn.across(*ends[0]).value(place[0]) * flow_unit == pytest.approx(point.flow_m3_s, rel=2e-3)
        assert drawn.up(*ends[1]).value(place[1]) * head_unit == pytest.approx(point.head_m, rel=2e-3)


def test_the_table_beside_the_pump_holds_the_makers_points_and_the_working_points() -> None:
    now = state("now", CURVE.at_wear(0.8), LINE)
    chart = pump(now=now)
    assert chart.head == ("Flow, gal/min", "Pump new, ft", "Pump now, ft", "Line, ft")
    assert len(chart.rows) == len(CURVE.flows_m3_s) + 2
    rows = {row[0]: row[1:] for row in chart.rows}
    assert rows["20"] == ("19.5", rows["20"][1], rows["20"][2])  # 20 gal/min at 19.5 ft, as declared
    works = [row for row in chart.rows if "works here, new" in row[0]]
    assert works[0][1] == works[0][3], "At the working point pump and line agree."
    assert chart.rows[-1][2] == "—", "A worn pump has no point at the new pump's last flow."


def test_two_states_differ_in_stroke_and_in_word_not_in_colour_alone() -> None:
    wide = state("what if", CURVE, DischargeLine(2.7432, 0.052, 9.144, 5.62))
    drawn = whole(pump(now=wide))
    dashes = {
        element.get("stroke-dasharray", "")
        for element in drawn.root.iter()
        if "water-line" in element.get("class", "") and element.tag.endswith("path")
    }
    assert len(dashes) == 2
    assert {"line, new", "line, what if", "pump"} <= set(drawn.texts())
    worn = whole(pump(now=state("now", CURVE.at_wear(0.8), LINE)))
    assert {"pump, new", "pump, now", "discharge line"} <= set(worn.texts())


def test_a_pump_that_cannot_lift_is_drawn_and_said() -> None:
    high = DischargeLine(7.5, 0.0404, 9.144, 5.62)
    chart = pump_chart(state("new", CURVE, high), None, system="US", prefix="p", title="Pump")
    assert "cannot lift the water" in chart.description
    assert any("cannot lift" in text for text in whole(chart).texts())


@given(
    lift=st.floats(0.5, 8.0),
    bore=st.floats(0.025, 0.08),
    length=st.floats(1, 60),
    wear=st.floats(0.3, 1.0),
    system=st.sampled_from(["US", "metric"]),
)
def test_whatever_the_line_nothing_leaves_the_paper_and_the_points_stay_on_their_curves(
    lift: float, bore: float, length: float, wear: float, system: str
) -> None:
    line = DischargeLine(lift, bore, length, 5.0)
    now = state("now", CURVE.at_wear(wear), line)
    drawn = whole(pump_chart(state("new", CURVE, line), now, system=system, prefix="p", title="Pump"))
    (water,) = drawn.lines(stroke="water-line")
    for place in (*drawn.discs("sheet"), *drawn.discs("ink")):
        assert distance(place, water) < 0.3


# ---- battery ----

IN_ON = date(2021, 5, 1)
THREE = (
    Measured(on=date(2024, 5, 2), part=0.95),
    Measured(on=date(2025, 5, 2), part=0.91),
    Measured(on=date(2026, 5, 2), part=0.86),
)


def story(measured: tuple[Measured, ...] = THREE, replace_by: date = date(2027, 9, 1)) -> CapacityStory:
    return CapacityStory(
        installed_on=IN_ON,
        today=TODAY,
        replace_by=replace_by,
        measured=measured,
        trend=fall(IN_ON, measured, date(2028, 1, 1)),
        rated_ah=75.0,
    )


def year_of(on: date) -> float:
    return on.year + (on - date(on.year, 1, 1)).days / (365.25)


def test_measured_capacities_stand_at_their_day_and_percentage() -> None:
    drawn = whole(capacity_chart(story(), prefix="b", title="Capacity over the years"))
    years, percents = drawn.across("2021", "2028"), drawn.up("60", "100")
    places = sorted(drawn.discs("ink"))
    assert [years.value(x) for x, _ in places] == pytest.approx([year_of(one.on) for one in THREE], abs=0.01)
    assert [percents.value(y) for _, y in places] == pytest.approx([95, 91, 86], abs=0.1)
    (diamond,) = drawn.diamonds()
    assert years.value(diamond[0]) == pytest.approx(year_of(date(2027, 9, 1)), abs=0.01)
    (worn_out,) = drawn.lines(stroke="ink", dash="8 3 2 3")
    assert [percents.value(y) for _, y in worn_out] == pytest.approx([80, 80], abs=0.1)
    assert {"80%: worn out", "trend", "today", "replace by", "measured 86%"} <= set(drawn.texts())


def test_the_trend_is_that_of_theil_and_sen_in_scipy() -> None:
    days = [(one.on - IN_ON).days for one in THREE]
    slope, intercept, _, _ = stats.theilslopes([one.part for one in THREE], days)
    ends = fall(IN_ON, THREE, date(2028, 1, 1))
    assert ends is not None
    for end in ends:
        # Medians of days and parts, through which the line runs, are scipy's too.
        assert end.part == pytest.approx(intercept + slope * (end.on - IN_ON).days, abs=1e-6)
    assert (ends[0].on, ends[1].on) == (THREE[0].on, date(2028, 1, 1))


def test_one_measurement_makes_a_straight_fall_from_new_by_hand() -> None:
    """Half gone after 1000 days: empty after 2000."""
    once = (Measured(on=IN_ON + timedelta(days=1000), part=0.5),)
    ends = fall(IN_ON, once, IN_ON + timedelta(days=5000))
    assert ends == (Measured(on=IN_ON, part=1.0), Measured(on=IN_ON + timedelta(days=2000), part=pytest.approx(0.0)))


@pytest.mark.parametrize("parts", [(), (1.0,), (1.05,), (0.9, 0.92, 0.95)])
def test_what_does_not_fall_has_no_trend(parts: tuple[float, ...]) -> None:
    measured = [Measured(on=IN_ON + timedelta(days=365 * year), part=part) for year, part in enumerate(parts, 1)]
    assert fall(IN_ON, measured, TODAY) is None


def test_a_battery_nobody_measured_says_so_and_draws_no_point() -> None:
    chart = capacity_chart(story(measured=()), prefix="b", title="Capacity")
    assert whole(chart).discs("ink") == []
    assert "has not been measured" in chart.description
    assert chart.rows == (("September 1, 2027", "—", "replace by"),)


def test_the_table_beside_the_battery_says_percent_and_ampere_hours() -> None:
    rows = capacity_chart(story(), prefix="b", title="Capacity").rows
    assert ("May 2, 2026", "86%, 64 Ah", "measured") in rows
    assert [row[2] for row in rows].count("measured") == 3


@given(
    parts=st.lists(st.floats(0.05, 1.2), max_size=6),
    replace_in=st.integers(-900, 9000),
)
def test_whatever_was_measured_nothing_leaves_the_paper(parts: list[float], replace_in: int) -> None:
    measured = tuple(
        Measured(on=IN_ON + timedelta(days=300 * number), part=part) for number, part in enumerate(parts, 1)
    )
    whole(capacity_chart(story(measured, TODAY + timedelta(days=replace_in)), prefix="b", title="Capacity"))


def test_hours_are_as_long_as_their_bars() -> None:
    lines = [
        Lasting(word="Battery", hours=7.2, is_reserve=True),
        Lasting(word="Ordinary", hours=2.0),
        Lasting(word="Storm", hours=12.4),
    ]
    chart = reserve_chart(lines, prefix="r", title="Reserve", description="Seven hours.")
    drawn = whole(chart)
    hours = Drawn.across(drawn, "0", "15")
    # The words at both ends are set inwards: the bars begin where the scale does.
    bars = drawn.bars()
    assert [width / bars[2][2] for _, _, width, _ in bars] == pytest.approx([7.2 / 12.4, 2.0 / 12.4, 1.0], abs=0.002)
    assert hours.value(bars[2][0] + bars[2][2]) == pytest.approx(12.4, abs=0.05)
    assert chart.rows == (("Battery", "about 7 hours"), ("Ordinary", "about 2 hours"), ("Storm", "about 12 hours"))


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0.01, "about 5 minutes"),
        (0.5, "about 30 minutes"),
        (1.0, "about 1 hour"),
        (2.46, "about 2.5 hours"),
        (12.4, "about 12 hours"),
        (100.0, "about 4 days"),
        (float("inf"), "as long as it holds its charge"),
    ],
)
def test_hours_are_said_no_more_exactly_than_they_are_known(hours: float, words: str) -> None:
    assert hours_in_words(hours) == words


# ---- pit ----

LEVELS = Levels(off_m=0.127, on_m=0.33, standby_on_m=0.43, rim_m=0.6096)
# 2 gal/min into 0.0333 m³ with a 40 gal/min pump: fills 265 s, runs 14 s (worked in MIL-HDBK-1005/9A's equations).
CYCLE = pump_cycle(0.000126, 0.00252, 0.0334)


def test_the_level_climbs_and_falls_in_the_times_of_the_cycle() -> None:
    drawn = whole(pit_chart(LEVELS, CYCLE, system="metric", prefix="c", title="One cycle"))
    minutes, millimetres = drawn.across("0", "4"), drawn.up("0", "600")
    course = next(line for line in drawn.lines(stroke="water-line") if len(line) == 4)
    assert [minutes.value(x) * 60 for x, _ in course][:3] == pytest.approx([0, 265.1, 279.0], abs=1.5)
    assert [millimetres.value(y) for _, y in course][:3] == pytest.approx([127, 330, 127], abs=2)
    texts = set(drawn.texts())
    assert {
        "fills 4 min 25 s",
        "runs 14 s",
        "pump on 330 mm",
        "pump off 127 mm",
        "standby and alarm on 430 mm",
    } <= texts


def test_an_alarm_with_a_float_of_its_own_has_its_own_level() -> None:
    levels = Levels(off_m=0.127, on_m=0.33, standby_on_m=0.43, alarm_m=0.5)
    chart = pit_chart(levels, CYCLE, system="metric", prefix="c", title="One cycle")
    assert {"standby on 430 mm", "alarm 500 mm"} <= set(whole(chart).texts())
    assert ("Alarm", "500 mm") in chart.rows


def test_levels_differ_in_stroke_and_in_word() -> None:
    drawn = whole(pit_chart(LEVELS, CYCLE, system="US", prefix="c", title="One cycle"))
    flat = [
        element.get("stroke-dasharray", "") for element in drawn.root.iter() if element.get("stroke-width") == "1.1"
    ]
    assert len(flat) == 4
    assert len(set(flat)) == 3, "Off and on are the pump's own; standby and rim look different."


@pytest.mark.parametrize(
    ("inflow", "words"),
    [
        (0.0, "does not start"),
        (0.003, "runs without stopping"),
        (0.000126, "fills in 4 min 25 s and the pump runs 14 s, 13 starts an hour"),
        (0.000001, "starts a day"),
    ],
)
def test_every_kind_of_cycle_is_drawn_and_said(inflow: float, words: str) -> None:
    cycle = pump_cycle(inflow, 0.00252, 0.0334)
    assert words in sentence(cycle)
    whole(pit_chart(LEVELS, cycle, system="US", prefix="c", title="One cycle"))


@given(inflow=st.just(0.0) | st.floats(1e-8, 0.005), pump_flow=st.floats(0.0003, 0.006), storage=st.floats(0.003, 0.2))
def test_whatever_the_cycle_nothing_leaves_the_paper(inflow: float, pump_flow: float, storage: float) -> None:
    cycle: PumpCycle = pump_cycle(inflow, pump_flow, storage)
    whole(pit_chart(LEVELS, cycle, system="US", prefix="c", title="One cycle"))


def test_a_time_is_said_as_one_says_it() -> None:
    assert [duration(seconds) for seconds in (59.6, 60, 3599.7, 3600, 86399, float("inf"))] == [
        "1 min",
        "1 min",
        "1 h",
        "1 h",
        "24 h",
        "without end",
    ]


# ---- season ----

WEIGHTS = (0.10, 0.12, 0.20, 0.16, 0.08, 0.04, 0.03, 0.03, 0.04, 0.06, 0.07, 0.07)


def test_bars_are_as_high_as_their_month_is_wet_and_the_best_months_are_marked() -> None:
    chart = season_chart(WEIGHTS, (1, 10), prefix="y", title="The year's water")
    drawn = whole(chart)
    bars = drawn.bars()
    assert [height / bars[2][3] for _, _, _, height in bars] == pytest.approx(
        [weight / 0.20 for weight in WEIGHTS], abs=0.002
    )
    percents = drawn.up("0", "20")
    assert percents.value(bars[2][1]) == pytest.approx(20.0, abs=0.1)
    middles = [left + width / 2 for left, _, width, _ in bars]
    assert sorted(x for x, _ in drawn.diamonds()) == pytest.approx([middles[0], middles[9]], abs=0.1)
    assert chart.rows[0] == ("January", "10%", "suits best")
    assert chart.rows[1] == ("February", "12%", "")
    assert "Most water comes in March, 20%" in chart.description
    assert "January and October" in chart.description


# ---- band ----


def days(earliest: int, replace_by: int, latest: int) -> Range:
    earliest_on, replace_on, latest_on = (TODAY + timedelta(days=number) for number in (earliest, replace_by, latest))
    return Range(earliest=earliest_on, replace_by=replace_on, latest=latest_on, today=TODAY)


def test_in_a_list_all_bands_have_one_scale() -> None:
    """Today stands at the same place in each row; a date twice as far is twice as far along."""
    near, far = (Drawn.of(small_band(days(0, number, number + 200), prefix=f"b{number}")) for number in (600, 1200))
    today_near, today_far = (drawn.lines(stroke="ink", dash="2 2")[0][0][0] for drawn in (near, far))
    assert today_near == today_far
    ((near_x, _),), ((far_x, _),) = near.diamonds(), far.diamonds()
    assert (far_x - today_near) / (near_x - today_near) == pytest.approx(2.0, abs=0.01)


def test_the_range_reaches_from_the_earliest_to_the_latest_day() -> None:
    drawn = Drawn.of(large_band(days(-200, 300, 900), prefix="b"))
    years = drawn.across("2026", "2030")
    (block,) = drawn.lines(stroke="water-line")
    ends = sorted({round(x, 3) for x, _ in block})
    assert [years.value(x) for x in ends] == pytest.approx(
        [year_of(TODAY - timedelta(days=200)), year_of(TODAY + timedelta(days=900))], abs=0.01
    )
    assert "Replace by September 21, 2027" in drawn.said("desc")
    assert "Today is November 25, 2026" in drawn.said("desc")


def test_a_range_beyond_the_lists_scale_ends_in_the_head_of_an_arrow() -> None:
    inside = Drawn.of(small_band(days(0, 300, 900), prefix="a"))
    outside = Drawn.of(small_band(days(-900, 300, 9000), prefix="b"))
    heads = [[line for line in drawn.root.iter() if line.get("class") == "d-water-line"] for drawn in (inside, outside)]
    assert [len(head) for head in heads] == [0, 1]


@given(first=st.integers(-9000, 9000), second=st.integers(0, 9000), third=st.integers(0, 15000))
def test_whatever_the_days_both_bands_stay_on_the_paper_and_in_order(first: int, second: int, third: int) -> None:
    one = days(first, first + second, first + second + third)
    for svg, width in ((small_band(one, prefix="s"), 150), (large_band(one, prefix="l"), 400)):
        drawn = Drawn.of(svg)
        height = float(drawn.root.attrib["viewBox"].split()[-1])
        assert all(-0.01 <= x <= width + 0.01 for x, _ in drawn.places())
        assert all(0 <= y <= height for _, y in drawn.texts().values())
        ((diamond, _),) = drawn.diamonds()
        (block,) = [line for line in drawn.lines(stroke="water-line") if len(line) == 4]
        xs = sorted(x for x, _ in block)
        assert xs[0] - 0.01 <= diamond <= xs[-1] + 0.01


def test_samples_of_a_curve_are_dense_enough_to_look_smooth() -> None:
    drawn = whole(pump())
    curve = max(drawn.lines(stroke="ink", dash=""), key=len)
    turns = [np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0])) for a, b in pairwise(curve)]
    assert max(abs(later - earlier) for earlier, later in pairwise(turns)) < 8
