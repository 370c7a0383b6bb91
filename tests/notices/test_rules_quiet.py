"""When a telephone may ring: 47 CFR 64.1200(c)(1), where the person called is; the zones by the tz database."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
import zipcodes
from hypothesis import given
from hypothesis import strategies as st

from contractor.notices.rules.quiet import is_quiet, next_moment
from contractor.notices.rules.zones import ZONES, zones_of

# Positions of well-known towns (latitude, longitude), from memory, and the zone that their clocks show.
TOWNS = [
    ("PA", (40.95, -77.22), "America/New_York"),
    ("AZ", (33.45, -112.07), "America/Phoenix"),  # Phoenix: no summer time
    ("AZ", (35.68, -109.05), "America/Denver"),  # Window Rock, Navajo Nation: summer time
    ("IN", (39.77, -86.16), "America/Indiana/Indianapolis"),
    ("IN", (41.60, -87.34), "America/Chicago"),  # Gary
    ("KY", (38.25, -85.76), "America/Kentucky/Louisville"),
    ("TN", (35.15, -90.05), "America/Chicago"),  # Memphis
    ("FL", (30.42, -87.22), "America/Chicago"),  # Pensacola
    ("TX", (31.76, -106.49), "America/Denver"),  # El Paso
    ("ON", (43.65, -79.38), "America/Toronto"),
]


@pytest.mark.parametrize(("state", "position", "zone"), TOWNS)
def test_the_position_of_a_house_says_in_which_zone_it_stands(
    state: str, position: tuple[float, float], zone: str
) -> None:
    (found,) = zones_of(state, position, otherwise="America/New_York")
    for moment in (datetime(2026, 1, 15, 12, tzinfo=UTC), datetime(2026, 7, 15, 12, tzinfo=UTC)):
        assert moment.astimezone(found).utcoffset() == moment.astimezone(ZoneInfo(zone)).utcoffset()


def test_a_position_at_sea_says_nothing_so_the_state_does() -> None:
    assert zones_of("PA", (0.0, -30.0), otherwise="America/Chicago") == (ZoneInfo("America/New_York"),)


def test_a_state_that_is_no_code_of_ours_has_the_companys_zone() -> None:
    assert zones_of("Pennsylvania", None, otherwise="America/Chicago") == (ZoneInfo("America/Chicago"),)
    assert zones_of(" pa ", None, otherwise="America/Chicago") == (ZoneInfo("America/New_York"),)


def test_every_zip_code_lies_in_a_zone_that_its_state_is_given() -> None:
    """Held to the zone of each ZIP code in the package ``zipcodes``, in winter and in summer; a state with two zones
    shows both. What one county does against its state is left to the position."""
    moments = (datetime(2026, 1, 15, 12, tzinfo=UTC), datetime(2026, 7, 15, 12, tzinfo=UTC))

    def offsets(name: str) -> tuple[object, ...]:
        return tuple(moment.astimezone(ZoneInfo(name)).utcoffset() for moment in moments)

    wrong, all_of_them = 0, 0
    for row in zipcodes.list_all():  # type: ignore[no-untyped-call]
        if row["state"] in ZONES and "/" in row["timezone"]:  # a few rows name a town
            all_of_them += 1
            wrong += offsets(row["timezone"]) not in {offsets(name) for name in ZONES[row["state"]]}
    assert all_of_them > 30_000
    assert wrong / all_of_them < 0.002


# Where, when (UTC), and the moment at which it may go out (None: at once). Summer time 2026: March 8 to November 1.
CASES = [
    ("noon at home", ["America/New_York"], "2026-05-04T16:00", None),
    ("eight sharp", ["America/New_York"], "2026-05-04T12:00", None),
    ("a minute before eight", ["America/New_York"], "2026-05-04T11:59", "2026-05-04T12:00"),
    ("a minute before eight in the evening", ["America/New_York"], "2026-05-04T23:59", None),
    ("eight in the evening waits for the morning", ["America/New_York"], "2026-05-05T00:00", "2026-05-05T12:00"),
    ("ten in the east is seven in the west", ["America/Los_Angeles"], "2026-05-04T14:00", "2026-05-04T15:00"),
    ("Arizona in summer is an hour behind Denver", ["America/Phoenix"], "2026-07-04T14:30", "2026-07-04T15:00"),
    ("Denver at the same moment", ["America/Denver"], "2026-07-04T14:30", None),
    ("Arizona in winter is level with Denver", ["America/Phoenix"], "2026-01-04T15:30", None),
    ("the night the clocks go forward", ["America/New_York"], "2026-03-08T06:30", "2026-03-08T12:00"),
    ("the night the clocks go back", ["America/New_York"], "2026-11-01T05:30", "2026-11-01T13:00"),
    ("Indiana keeps summer time", ["America/Indiana/Indianapolis"], "2026-07-04T11:30", "2026-07-04T12:00"),
    ("one of two zones: day in both", ["America/Indiana/Indianapolis", "America/Chicago"], "2026-07-04T12:30",
     "2026-07-04T13:00"),
    ("one of two zones: evening in either", ["America/New_York", "America/Chicago"], "2026-07-05T00:30",
     "2026-07-05T13:00"),
]  # fmt: skip


@pytest.mark.parametrize(("zones", "at", "expected"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_a_text_waits_for_the_day_where_its_reader_lives(zones: list[str], at: str, expected: str | None) -> None:
    moment = datetime.fromisoformat(at).replace(tzinfo=UTC)
    wanted = moment if expected is None else datetime.fromisoformat(expected).replace(tzinfo=UTC)
    assert next_moment(moment, [ZoneInfo(zone) for zone in zones]) == wanted


FIRST, LAST = (datetime.fromisoformat(day) for day in ("2026-01-01", "2027-12-31"))


@given(
    at=st.datetimes(min_value=FIRST, max_value=LAST, timezones=st.just(UTC)),
    zones=st.sampled_from([[ZoneInfo(name) for name in names] for names in ZONES.values()]),
)
def test_the_moment_is_never_earlier_never_in_the_night_nor_a_day_off(at: datetime, zones: list[ZoneInfo]) -> None:
    moment = next_moment(at, zones)
    assert moment >= at
    assert not is_quiet(moment, zones)
    assert (moment - at).total_seconds() <= 24 * 3600
