"""Calendar files held to RFC 5545 and RFC 5546, read back by a second library.

Each case names the section it holds.
"""

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
import vobject

from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.systems.models import System
from contractor.visits.actions.appointments import cancel_appointment, confirm_appointment, move_appointment
from contractor.visits.invitations import CANCEL, PUBLISH, REQUEST, feed, invitation
from contractor.visits.models import Appointment
from tests.visits.factories import AppointmentFactory, RequestFactory

DAY = date(2026, 5, 12)


@pytest.fixture
def appointment(system: System, theo: User) -> Appointment:
    made: Appointment = AppointmentFactory(
        request=RequestFactory(system=system), technician=theo, on=DAY, arrive_from=time(8), arrive_until=time(10)
    )
    return made


def written(appointment: Appointment, company: Company, at: datetime, method: str = REQUEST) -> str:
    return invitation(appointment, company=company, reader_email="iris@example.com", method=method, at=at)


def unfolded(text: str) -> dict[str, str]:
    lines = text.replace("\r\n ", "").split("\r\n")
    return {re.split("[;:]", line, maxsplit=1)[0]: line for line in lines if line}


# (section, what it says, how it is seen in the unfolded lines)
RULES = [
    ("RFC 5545 3.4", "begins and ends with the calendar", lambda text, lines: text.startswith("BEGIN:VCALENDAR\r\n")
     and text.endswith("END:VCALENDAR\r\n")),
    ("RFC 5545 3.1", "no line is longer than 75 octets", lambda text, lines: all(
        len(line.encode()) <= 75 for line in text.split("\r\n"))),
    ("RFC 5545 3.1", "lines end with CRLF and nothing else", lambda text, lines: "\n" not in text.replace("\r\n", "")),
    ("RFC 5545 3.6", "PRODID and VERSION are there", lambda text, lines: lines["VERSION"] == "VERSION:2.0"
     and "PRODID" in lines),
    ("RFC 5545 3.6.1", "UID and DTSTAMP are there once", lambda text, lines: text.count("\r\nUID:") == 1
     and text.count("\r\nDTSTAMP:") == 1),
    ("RFC 5545 3.8.7.2", "DTSTAMP is in UTC", lambda text, lines: lines["DTSTAMP"] == "DTSTAMP:20260504T140000Z"),
    ("RFC 5545 3.3.5", "times are in UTC: 8 AM EDT is 12 Z", lambda text, lines: lines["DTSTART"]
     == "DTSTART:20260512T120000Z"),
    ("RFC 5545 3.8.2.2", "the end is after the beginning: 10 AM EDT and 55 minutes", lambda text, lines:
     lines["DTEND"] == "DTEND:20260512T145500Z"),
    ("RFC 5545 3.3.11", "commas in a text are escaped", lambda text, lines: lines["LOCATION"]
     == r"LOCATION:12 Millrace Lane\, Larkmere\, PA 17099"),
    ("RFC 5545 3.3.11", "line breaks in a text are escaped", lambda text, lines: r"\n" in lines["DESCRIPTION"]),
    ("RFC 5545 3.8.7.4", "SEQUENCE begins at 0", lambda text, lines: lines["SEQUENCE"] == "SEQUENCE:0"),
    ("RFC 5545 3.8.1.11", "what the owner hasn't confirmed is tentative", lambda text, lines: lines["STATUS"]
     == "STATUS:TENTATIVE"),
    ("RFC 5546 3.2.2", "a REQUEST names ORGANIZER and ATTENDEE", lambda text, lines: lines["ORGANIZER"].endswith(
        ":mailto:office@example.com") and lines["ATTENDEE"].endswith(":mailto:iris@example.com")),
    ("RFC 5546 3.2.2", "the method stands in the body", lambda text, lines: lines["METHOD"] == "METHOD:REQUEST"),
]  # fmt: skip


@pytest.mark.parametrize(("section", "what", "holds"), RULES, ids=[f"{rule[0]}: {rule[1]}" for rule in RULES])
def test_an_invitation_keeps_the_rule(
    appointment: Appointment, company: Company, at: datetime, section: str, what: str, holds: Any
) -> None:
    text = written(appointment, company, at)
    assert holds(text, unfolded(text)), text


def test_a_second_library_reads_what_was_written(appointment: Appointment, company: Company, at: datetime) -> None:
    event = vobject.readOne(written(appointment, company, at)).vevent
    assert event.uid.value == str(appointment.calendar_uid)
    assert event.dtstart.value == datetime(2026, 5, 12, 12, tzinfo=UTC)
    assert event.location.value == "12 Millrace Lane, Larkmere, PA 17099"
    assert event.summary.value == "Harrow Creek Dry Basements: yearly check-up"
    assert "About 55 minutes" in event.description.value


def test_a_long_name_of_many_bytes_is_folded_between_its_characters(
    appointment: Appointment, company: Company, at: datetime
) -> None:
    company.name = "Füße & Söhne; trockene Keller, " * 6
    text = written(appointment, company, at)
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    assert company.name.strip() in vobject.readOne(text).vevent.summary.value


def test_a_visit_without_hours_takes_the_day_and_keeps_nobody_busy(
    appointment: Appointment, company: Company, at: datetime
) -> None:
    """RFC 5545 3.6.1 (a DATE ends with the day after) and 3.8.2.7 (TRANSP)."""
    appointment.arrive_from = appointment.arrive_until = None
    lines = unfolded(written(appointment, company, at))
    assert lines["DTSTART"] == "DTSTART;VALUE=DATE:20260512"
    assert lines["DTEND"] == "DTEND;VALUE=DATE:20260513"
    assert lines["TRANSP"] == "TRANSP:TRANSPARENT"


@pytest.mark.parametrize(("on", "utc"), [(date(2026, 3, 6), 13), (date(2026, 3, 9), 12), (date(2026, 11, 2), 13)])
def test_eight_in_the_morning_is_eight_before_and_after_the_clocks_change(
    appointment: Appointment, company: Company, at: datetime, on: date, utc: int
) -> None:
    appointment.on = on
    assert vobject.readOne(written(appointment, company, at)).vevent.dtstart.value.hour == utc


def test_every_change_of_time_or_state_raises_the_sequence_and_keeps_the_name(
    appointment: Appointment, office: Actor, company: Company, at: datetime
) -> None:
    """RFC 5546 2.1.4: raised by the organizer for DTSTART, DTEND, STATUS and at CANCEL; 3.2.5: CANCEL is CANCELLED."""
    uid, by = str(appointment.calendar_uid), {"appointment_id": appointment.pk, "by": office, "at": at}
    seen = [(0, "TENTATIVE")]

    def look() -> None:
        row = Appointment.objects.get(pk=appointment.pk)
        method = CANCEL if row.state == "cancelled" else REQUEST
        lines = unfolded(written(row, company, at + timedelta(hours=1), method))
        assert lines["UID"] == f"UID:{uid}"
        assert lines["DTSTAMP"] == "DTSTAMP:20260504T150000Z"
        assert lines["METHOD"] == f"METHOD:{method}"
        seen.append((int(lines["SEQUENCE"].partition(":")[2]), lines["STATUS"].partition(":")[2]))

    confirm_appointment(**by)
    look()
    confirm_appointment(**by)
    move_appointment(
        **by, technician_id=appointment.technician_id, on=DAY, arrive_from=time(9), arrive_until=time(11)
    )
    look()
    cancel_appointment(**by, because="Theo is ill.")
    look()
    assert seen == [(0, "TENTATIVE"), (1, "CONFIRMED"), (2, "TENTATIVE"), (3, "CANCELLED")]


def test_a_file_to_open_by_hand_names_no_attendee(appointment: Appointment, company: Company, at: datetime) -> None:
    """RFC 5546 3.2.1: a PUBLISH must not have an ATTENDEE."""
    lines = unfolded(written(appointment, company, at, PUBLISH))
    assert "ATTENDEE" not in lines
    assert lines["METHOD"] == "METHOD:PUBLISH"


def test_no_calendar_file_holds_a_name_a_number_or_what_only_the_technician_may_know(
    appointment: Appointment, company: Company, at: datetime
) -> None:
    house = appointment.request.system.property
    house.access_notes = "Key under the pot"
    own = feed([appointment], name="Visits", with_technician=False)
    for text in (written(appointment, company, at), own):
        for secret in ("Iris", "Holloway", "555-0142", "pot", "Theo"):
            assert secret not in text.replace("\r\n ", "")
    assert "iris@" not in own
    assert "(Theo Marsh)" in feed([appointment], name="Visits", with_technician=True).replace("\r\n ", "")


def test_the_same_visits_give_the_same_feed(appointment: Appointment) -> None:
    first = feed([appointment], name="Visits", with_technician=False)
    assert first == feed([appointment], name="Visits", with_technician=False)
    assert "METHOD" not in first
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT1H" in first
    assert vobject.readOne(first).vevent.sequence.value == "0"
