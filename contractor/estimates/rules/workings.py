"""The numbers behind the estimates of one system, for sentences, steps and charts; base units, as in ``facts.py``."""

from dataclasses import dataclass
from datetime import date

from contractor.engineering.pump_curves import DischargeLine, PumpCurve
from contractor.estimates.rules.assumed import FullLine, FullPit
from contractor.estimates.rules.facts import Given, PumpFacts, SystemFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpWorking:
    """One pump in its line, when new and now; None where no curve or no line can be reckoned with.

    ``curve`` as declared (or ``curve_is_assumed``), at ``speed_ratio`` of the speed it was measured at: below 1 for a
    standby pump on a battery. ``flow_ratio`` is the flow measured last ÷ the new flow at the same head, 1 without any
    (``now_is_measured``); ``new_…`` and ``now_…`` are where curve and line meet. ``ratios`` by day are what its wear is
    judged by: to the new flow at the same head where the line was measured (``ratios_are_to_curve``), else to its own
    first flow measured.
    """

    component_id: int
    curve: PumpCurve | None = None
    curve_is_assumed: bool = False
    speed_ratio: float = 1.0
    ratios: tuple[tuple[date, float], ...] = ()
    ratios_are_to_curve: bool = True
    flow_ratio: float = 1.0
    new_flow_m3_s: float | None = None
    new_head_m: float | None = None
    now_flow_m3_s: float | None = None
    now_head_m: float | None = None
    now_is_measured: bool = False
    cautions: tuple[str, ...] = ()

    @property
    def curve_new(self) -> PumpCurve | None:
        """The curve at the supply it gets, when new: for charts."""
        return None if self.curve is None else self.curve.at_speed(self.speed_ratio)

    @property
    def curve_now(self) -> PumpCurve | None:
        """The curve at the supply it gets, as worn: for charts."""
        new = self.curve_new
        return None if new is None else new.at_wear(self.flow_ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inflow:
    """How much water comes in: the mean of a year, the wettest month's, and the design inflow of a storm in it.

    ``how`` says in a sentence how the mean was found, ``formula`` and ``with_numbers`` in figures (m³/s).
    ``months_m3_s`` January to December.
    """

    mean_m3_s: Given[float]
    months_m3_s: tuple[float, ...]
    wettest_m3_s: float
    design_m3_s: Given[float]
    how: str
    formula: str = ""
    with_numbers: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """The pit's cycle at one inflow; seconds are infinite where the pump never starts or never stops."""

    inflow_m3_s: float
    fill_s: float
    run_s: float
    starts_per_hour: float
    duty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class YearOfPumping:
    """Running hours and starts of the primary pump in a year of its inflow, the months by their weights."""

    run_hours: float
    starts: float
    winter_duty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserve:
    """How long the batteries keep up with the design inflow.

    ``capacity_ah`` is the rating, ``health`` the part of it that is there; ``duty`` the part of the time the standby
    pump runs; ``hours`` may be infinite.
    """

    capacity_ah: float
    rate_h: float
    health: Given[float]
    current_a: Given[float]
    temperature_c: Given[float]
    peukert: float
    loaded_v: Given[float]
    duty: float
    full_load_hours: float
    hours: float
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Workings:
    """Everything worked out of one system on the day ``on``.

    ``line_trouble`` says why the line's values can't be used, empty when they can, and ``pit_trouble`` likewise.
    ``weights`` are the parts of a year's inflow by month (None without normals). ``cycle_mean``, ``cycle_wettest`` and
    ``cycle_design`` are the primary pump's cycles at the three inflows.
    """

    facts: SystemFacts
    on: date
    line: FullLine
    pit: FullPit
    line_trouble: str
    storage_m3: float | None
    pit_trouble: str
    weights: tuple[float, ...] | None
    inflow: Inflow
    pumps: tuple[PumpWorking, ...]
    cycle_mean: Cycle | None
    cycle_wettest: Cycle | None
    cycle_design: Cycle | None
    year: YearOfPumping | None
    velocity_m_s: float | None
    reserve: Reserve | None
    reserve_trouble: str

    @property
    def discharge(self) -> DischargeLine | None:
        """The line as the hydraulics take it, for charts; None when its values can't be used."""
        return None if self.line_trouble else self.line.as_discharge()

    def of(self, pump: PumpFacts | None) -> PumpWorking | None:
        """The working of one pump; None for none."""
        if pump is None:
            return None
        return next((working for working in self.pumps if working.component_id == pump.component_id), None)
