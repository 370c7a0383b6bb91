"""Three facts of the trade that everything here is built upon. All three: common practice, no source."""

import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from contractor.engineering.pit import pump_cycle, storage_m3
from contractor.engineering.pump_curves import DischargeLine, PumpCurve, operating_point
from contractor.systems.errors import StandbyBelowPrimary
from contractor.systems.rules import check_as_built

ROOT = Path(__file__).resolve().parents[2]
MODELS: list[dict[str, Any]] = json.loads((ROOT / "fixtures/catalogue/models.json").read_text(encoding="utf-8"))[
    "models"
]
INCH = 0.0254
FOOT = 0.3048
GALLON_PER_HOUR = 231 * INCH**3 / 3600


def of(part_kind: str) -> list[dict[str, Any]]:
    return [model["data"] for model in MODELS if model["part_kind"] == part_kind]


def test_a_cast_iron_mains_primary_moves_about_2600_gallons_an_hour() -> None:
    """Common practice, no source. At ten feet of head, as such pumps are compared; one of the catalogue's does."""
    flows = []
    for data in of("primary_pump"):
        if data["material"] == "cast iron":
            flow, head = np.array(data["curve"]).T
            # A wide line without length or fittings asks for the lift and nothing else.
            point = operating_point(PumpCurve(flow, head), DischargeLine(10 * FOOT, 0.5, 0.0, 0.0))
            flows.append(point.flow_m3_s / GALLON_PER_HOUR)
    assert min(abs(flow - 2600) for flow in flows) < 26


def test_a_primary_of_2600_gallons_an_hour_keeps_a_usual_pit_down() -> None:
    """Common practice, no source. 43 gpm empty eight inches of an 18 in pit (8.8 gal) in some 12 seconds."""
    cycle = pump_cycle(0.0, 2600 * GALLON_PER_HOUR, storage_m3(18 * INCH, 13 * INCH, 5 * INCH))
    assert cycle.run_s == pytest.approx(8.813 / 2600 * 3600, rel=1e-3)


@pytest.mark.parametrize(("standby_on_in", "is_refused"), [(14.0, False), (13.0, True), (12.0, True)])
def test_the_standby_starts_when_the_water_is_past_the_level_of_the_primary(
    standby_on_in: float, is_refused: bool
) -> None:
    """Common practice, no source. A standby at or below the primary's level would run first and flatten its battery."""
    levels = {"pump_on_m": 13 * INCH, "pump_off_m": 5 * INCH, "standby_on_m": standby_on_in * INCH}
    days = {"on": date(2026, 5, 1), "today": date(2026, 5, 1), "installed_on": date(2020, 5, 1)}
    if not is_refused:
        check_as_built(levels, **days)
        return
    with pytest.raises(StandbyBelowPrimary, match="past the level at which the primary pump should have started"):
        check_as_built(levels, **days)


def test_the_standbys_alarm_asks_the_owner_to_restore_the_mains() -> None:
    """Common practice, no source. The owner's page says it where the alarm is spoken of."""
    page = (ROOT / "templates/portal/house.html").read_text(encoding="utf-8")
    assert re.search(r"standby pump.s alarm sounds, the mains may be out: restore them", page)


def test_a_wall_liner_is_about_a_sixteenth_of_an_inch_thick() -> None:
    """Common practice, no source. Others in the catalogue are thicker drainage boards."""
    assert any(data["thickness_m"] == pytest.approx(INCH / 16, rel=0.01) for data in of("liner"))
