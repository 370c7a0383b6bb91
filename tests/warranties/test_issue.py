"""Issuing a warranty, declaring it void, waiving days of care."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.properties.models import Ownership
from contractor.systems.models import System
from contractor.warranties.actions import issuing
from contractor.warranties.actions import terms as terms_actions
from contractor.warranties.errors import (
    AlreadyVoid,
    DayAhead,
    IssuedBeforeInstalled,
    ManagersOnly,
    NobodyOwns,
    NotPublished,
    ReasonNeeded,
    VoidBeforeIssue,
    WaiverBackwards,
    WarrantyThere,
)
from contractor.warranties.models import StoredStanding, TermsEdition, Warranty
from contractor.warranties.numbers import read_number
from contractor.warranties.queries import promise_standings
from tests.factories import SystemFactory
from tests.warranties.factories import furnish, terms_data

pytestmark = pytest.mark.django_db
INSTALLED = date(2020, 5, 14)


def issue(system: System, terms: TermsEdition, office: Actor, at: datetime, issued_on: date = INSTALLED) -> Warranty:
    return issuing.issue_warranty(system_id=system.pk, terms_id=terms.pk, issued_on=issued_on, by=office, at=at)


def test_a_warranty_belongs_to_the_owner_on_its_issue_day_and_is_in_force(
    system: System, ownership: Ownership, terms: TermsEdition, office: Actor, at: datetime
) -> None:
    furnish(system)
    warranty = issue(system, terms, office, at)
    assert warranty.issued_to == ownership
    assert warranty.number.startswith("W")
    assert read_number(warranty.number[1:]).number == warranty.number[1:]
    summed_up = StoredStanding.objects.get(warranty=warranty, part_kind="")
    assert (summed_up.cover, summed_up.care) == ("in_force", "gap")
    assert audit.breaks(f"property:{system.property_id}") == []


def test_the_owner_of_a_new_warranty_is_told_and_of_an_old_one_is_not(
    system: System, terms: TermsEdition, office: Actor, at: datetime
) -> None:
    issue(system, terms, office, at)
    assert not Notice.objects.exists()
    new = SystemFactory(property=system.property, name="Garage", installed_on=date(2026, 4, 20))
    warranty = issue(new, terms, office, at, date(2026, 5, 1))
    notice = Notice.objects.get()
    assert notice.template == "warranty_issued"
    assert notice.person.name == "Iris Holloway"
    assert f"W-{warranty.number[1:5]}-{warranty.number[5:9]}-{warranty.number[9:]}" in notice.text


def test_what_cannot_be_issued_is_refused(system: System, terms: TermsEdition, office: Actor, at: datetime) -> None:
    draft = terms_actions.draft_terms(data=terms_data(edition="next"), by=office, at=at)
    unowned = SystemFactory(installed_on=INSTALLED)
    cases = [
        (system, draft, INSTALLED, NotPublished),
        (system, terms, date(2020, 5, 13), IssuedBeforeInstalled),
        (system, terms, date(2026, 5, 5), DayAhead),
        (unowned, terms, INSTALLED, NobodyOwns),
    ]
    for which, edition, issued_on, refusal in cases:
        with pytest.raises(refusal):
            issue(which, edition, office, at, issued_on)
    assert not Warranty.objects.exists()


def test_a_system_has_one_valid_warranty(warranty: Warranty, terms: TermsEdition, office: Actor, at: datetime) -> None:
    with pytest.raises(WarrantyThere):
        issue(warranty.system, terms, office, at)


def test_a_void_warranty_makes_room_for_a_new_one(
    warranty: Warranty, terms: TermsEdition, ruth: User, office: Actor, at: datetime
) -> None:
    issuing.void_warranty(
        warranty_id=warranty.pk,
        voided_on=date(2026, 5, 1),
        clause="Misuse",
        because="The channel was torn out by the owner.",
        by_user=ruth,
        at=at,
    )
    assert issue(warranty.system, terms, office, at, date(2026, 5, 2)).pk != warranty.pk


def test_voiding_ends_every_promise_from_its_day_with_clause_and_reason(
    warranty: Warranty, ruth: User, at: datetime
) -> None:
    issuing.void_warranty(
        warranty_id=warranty.pk,
        voided_on=date(2026, 5, 1),
        clause="Misuse",
        because="The channel was torn out by the owner.",
        by_user=ruth,
        at=at,
    )
    warranty.refresh_from_db()
    before = promise_standings(warranty=warranty, on=date(2026, 4, 30))
    after = promise_standings(warranty=warranty, on=date(2026, 5, 1))
    assert {one.standing.cover.value for one in before} == {"in_force", "ended", "not_started"}
    assert {one.standing.cover.value for one in after} == {"void"}
    assert "Misuse: The channel was torn out by the owner" in after[0].standing.reasons[0]
    assert warranty.voided_by == ruth


def test_voiding_is_a_managers_decision_with_a_reason(warranty: Warranty, ruth: User, nora: User, at: datetime) -> None:
    def void(by_user: User, because: str = "Torn out.", voided_on: date = date(2026, 5, 1)) -> None:
        issuing.void_warranty(
            warranty_id=warranty.pk, voided_on=voided_on, clause="Misuse", because=because, by_user=by_user, at=at
        )

    with pytest.raises(ManagersOnly):
        void(nora)
    with pytest.raises(ReasonNeeded):
        void(ruth, because="  ")
    with pytest.raises(VoidBeforeIssue):
        void(ruth, voided_on=date(2020, 5, 13))
    with pytest.raises(DayAhead):
        void(ruth, voided_on=date(2026, 5, 5))
    void(ruth)
    with pytest.raises(AlreadyVoid):
        void(ruth)


def test_waived_days_take_a_gap_away(cared_for: Warranty, ruth: User, at: datetime) -> None:
    # Due May 14, 2026 with 30 days of grace: the gap would begin on June 14.
    day = date(2026, 7, 1)
    assert promise_standings(warranty=cared_for, on=day)[0].standing.care == "gap"
    issuing.waive_care(
        warranty_id=cared_for.pk,
        from_on=date(2026, 6, 1),
        until_on=date(2026, 8, 1),
        because="The road was washed out.",
        by_user=ruth,
        at=at,
    )
    waived = promise_standings(warranty=cared_for, on=day)[0].standing
    assert waived.care == "current"
    assert any("The road was washed out" in reason for reason in waived.reasons)


def test_waiving_is_a_managers_decision_with_days_in_it(
    cared_for: Warranty, ruth: User, nora: User, at: datetime
) -> None:
    def waive(by_user: User, until_on: date = date(2026, 8, 1), because: str = "Flooded road.") -> None:
        issuing.waive_care(
            warranty_id=cared_for.pk,
            from_on=date(2026, 6, 1),
            until_on=until_on,
            because=because,
            by_user=by_user,
            at=at,
        )

    with pytest.raises(ManagersOnly):
        waive(nora)
    with pytest.raises(WaiverBackwards):
        waive(ruth, until_on=date(2026, 6, 1))
    with pytest.raises(ReasonNeeded):
        waive(ruth, because="")
    assert not cared_for.waivers.exists()
