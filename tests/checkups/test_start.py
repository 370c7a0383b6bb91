"""Beginning a check-up: whose it is, from which edition, and what stands in its way."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import start_checkup
from contractor.checkups.errors import NoChecklist, NotACheckUp, NotYourVisit, VisitNotOpen
from contractor.checkups.models import CheckUp
from contractor.core import audit
from contractor.systems.models import System
from tests.checkups import factories as made


def test_a_checkup_takes_the_newest_published_edition_and_keeps_it(
    system: System, theo: User, on: date, at: datetime
) -> None:
    made.published_checklist(at, edition=1)
    made.published_checklist(at, edition=2)
    begun = made.begun(system, theo, on, at)
    assert begun.checklist.edition == 2
    made.published_checklist(at, edition=3)
    again = start_checkup(appointment_id=begun.appointment_id, by_user=theo, on=on, at=at)
    assert (again.pk, again.checklist.edition) == (begun.pk, 2)
    assert CheckUp.objects.count() == 1


def test_without_a_published_edition_nothing_begins(system: System, theo: User, on: date, at: datetime) -> None:
    with pytest.raises(NoChecklist):
        made.begun(system, theo, on, at)


def test_another_technicians_visit_is_not_begun(system: System, theo: User, ana: User, on: date, at: datetime) -> None:
    made.published_checklist(at)
    appointment = made.appointment_for(system, theo, on)
    with pytest.raises(NotYourVisit):
        start_checkup(appointment_id=appointment.pk, by_user=ana, on=on, at=at)


@pytest.mark.parametrize("state", ["cancelled", "could_not", "done"])
def test_a_visit_that_is_over_is_not_begun(state: str, system: System, theo: User, on: date, at: datetime) -> None:
    made.published_checklist(at)
    appointment = made.appointment_for(system, theo, on)
    appointment.state = state
    appointment.save()
    with pytest.raises(VisitNotOpen):
        start_checkup(appointment_id=appointment.pk, by_user=theo, on=on, at=at)


@pytest.mark.parametrize("kind", ["repair", "claim"])
def test_a_repair_has_no_checklist(kind: str, system: System, theo: User, on: date, at: datetime) -> None:
    made.published_checklist(at)
    appointment = made.appointment_for(system, theo, on, kind=kind)
    with pytest.raises(NotACheckUp):
        start_checkup(appointment_id=appointment.pk, by_user=theo, on=on, at=at)


def test_the_beginning_stands_in_the_houses_trail(checkup: CheckUp) -> None:
    assert audit.breaks(f"property:{checkup.system.property_id}") == []
    assert audit.head(checkup.system.property_id) != audit.FIRST_HASH
