"""The charts of one system, drawn from what was worked out of it; none where something needed is unknown."""

from datetime import date

from contractor.engineering.pit import PumpCycle
from contractor.engineering.seasons import best_checkup_months
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
from contractor.estimates.pit_chart import Levels, pit_chart
from contractor.estimates.pump_chart import pump_chart, state
from contractor.estimates.rules.facts import BatteryFacts, PumpFacts
from contractor.estimates.rules.standing_by import outages_h
from contractor.estimates.rules.workings import Cycle, Reserve, Workings
from contractor.estimates.season_chart import season_chart


def chart_of_pump(workings: Workings, pump: PumpFacts, *, units: str) -> Chart | None:
    """The pump's curve in its line, new and as worn; only new while no flow was measured."""
    working, line = workings.of(pump), workings.discharge
    if working is None or line is None or working.curve_new is None or working.curve_now is None:
        return None
    then = state("new", working.curve_new, line)
    now = state("now", working.curve_now, line) if working.now_is_measured else None
    return pump_chart(
        then, now, system=units, prefix=f"pump-{pump.component_id}", title=f"{_named(pump.word)} in its line"
    )


def chart_of_battery(battery: BatteryFacts, *, replace_by: date, today: date) -> Chart:
    """The battery's capacity over the years, as far as it was measured."""
    rated = None if battery.capacity_ah is None else battery.capacity_ah.value
    measured = [] if rated is None else [Measured(on=one.on, part=one.value / rated) for one in battery.capacities]
    story = CapacityStory(
        installed_on=battery.installed_on,
        today=today,
        replace_by=replace_by,
        measured=measured,
        trend=fall(battery.installed_on, measured, max(today, replace_by)),
        rated_ah=rated,
    )
    return capacity_chart(story, prefix=f"battery-{battery.component_id}", title="Capacity over the years")


def chart_of_reserve(workings: Workings, *, prefix: str = "reserve") -> Chart | None:
    """The hours that the battery carries the storm's inflow, against ordinary power cuts and those of storms."""
    if workings.reserve is None:
        return None
    ordinary, storm = (cut.value for cut in outages_h(workings))
    word, hours = _lasting(workings.reserve)
    return reserve_chart(
        [
            Lasting(word=word, hours=hours, is_reserve=True),
            Lasting(word="Ordinary power cut", hours=ordinary),
            Lasting(word="Power cut in a storm", hours=storm),
        ],
        prefix=prefix,
        title="Reserve against power cuts",
        description=(
            f"{word}: {hours_in_words(hours)}. Power cuts last "
            f"{hours_in_words(ordinary)} ordinarily and {hours_in_words(storm)} in storms."
        ),
    )


def _lasting(reserve: Reserve) -> tuple[str, float]:
    """What the hours are of; a standby pump that can't keep up empties its battery without keeping the pit down."""
    if reserve.duty >= 1.0:
        return "Battery empty: the pump runs on, the pit overflows", reserve.full_load_hours
    return "The battery carries a storm’s inflow", reserve.hours


def chart_of_reserves(today: Workings, then: Workings, outage_h: float) -> Chart | None:
    """The reserve of today and of a what-if, against the power cut that should be carried."""
    if today.reserve is None and then.reserve is None:
        return None
    known = [("Today", today.reserve), ("Then", then.reserve)]
    reserves = [(word, 0.0 if one.duty >= 1.0 else one.hours) for word, one in known if one is not None]
    said = " ".join(
        f"{word} the battery carries the inflow of a storm {hours_in_words(hours)}." for word, hours in reserves
    )
    return reserve_chart(
        [
            *(Lasting(word=f"Battery, {word.lower()}", hours=hours, is_reserve=True) for word, hours in reserves),
            Lasting(word="Power cut to carry", hours=outage_h),
        ],
        prefix="what-if-reserve",
        title="Reserve against a power cut",
        description=f"{said} The power cut to carry lasts {hours_in_words(outage_h)}.",
    )


def chart_of_pit(workings: Workings, *, units: str, prefix: str = "pit") -> Chart | None:
    """One cycle of the pit in the wettest month."""
    cycle = workings.cycle_wettest
    if cycle is None:
        return None
    standby = workings.facts.pit.standby_on_m
    levels = Levels(
        off_m=workings.pit.off_m.value,
        on_m=workings.pit.on_m.value,
        standby_on_m=None if standby is None else standby.value,
        rim_m=workings.pit.depth_m.value,
    )
    return pit_chart(levels, as_cycle(cycle), system=units, prefix=prefix, title="One cycle in the wettest month")


def as_cycle(cycle: Cycle) -> PumpCycle:
    """The worked-out cycle as the engineering core speaks of one."""
    return PumpCycle(
        fill_s=cycle.fill_s,
        run_s=cycle.run_s,
        period_s=cycle.fill_s + cycle.run_s,
        starts_per_hour=cycle.starts_per_hour,
        duty=cycle.duty,
    )


def chart_of_year(workings: Workings, *, prefix: str = "season") -> Chart | None:
    """Water by month with the months that suit a check-up; none where the region's climate isn't known."""
    climate = workings.facts.climate
    if climate is None or workings.weights is None:
        return None
    season = best_checkup_months(workings.weights, climate.temperature_c)
    return season_chart(workings.weights, season.months, prefix=prefix, title="The year’s water by month")


def _named(word: str) -> str:
    return word[0].upper() + word[1:]
