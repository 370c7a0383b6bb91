"""Findings that were not put right ask for a repair visit, once each, and let go of it when they are."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from django.db.models import QuerySet

from contractor.accounts.models import User
from contractor.checkups.actions.evidence import close_finding
from contractor.checkups.actions.repairs import ask_for_all_repairs, ask_for_repairs
from contractor.checkups.models import Finding
from contractor.core.audit import Actor
from contractor.systems.models import Component, System
from contractor.visits.models import Request
from tests.estimates.factories import checkup_on
from tests.factories import CatalogueModelFactory, ComponentFactory
from tests.visits.factories import RequestFactory


@pytest.fixture
def pump(system: System) -> Component:
    made: Component = ComponentFactory(
        system=system, part_kind="primary_pump", model=CatalogueModelFactory(maker="Northfold", name="P 50")
    )
    return made


@pytest.fixture
def found(system: System, pump: Component, theo: User, on: date, at: datetime) -> Callable[..., Finding]:
    """A finding of a finished check-up of today."""
    checkup = checkup_on(system, on, theo)

    def make(severity: str = "bad", **changed: object) -> Finding:
        values = {"what": "The pump hums.", "raised_at": at, "raised_by": theo, "component": pump, **changed}
        return Finding.objects.create(checkup=checkup, severity=severity, **values)

    return make


def asked() -> QuerySet[Request]:
    """What findings ask for; the check-up itself was asked for as well."""
    return Request.objects.filter(occasion__startswith="finding:").order_by("pk")


def ask(system: System, on: date, at: datetime) -> int:
    return ask_for_repairs(system_ids=[system.pk], on=on, at=at)


def test_a_finding_asks_for_a_repair_with_its_part_once(
    found: Callable[..., Finding], system: System, on: date, at: datetime
) -> None:
    finding = found()
    assert [ask(system, on, at), ask(system, on, at)] == [1, 1]
    request = asked().get()
    assert (request.occasion, request.kind, request.skills) == (f"finding:{finding.pk}", "repair", ["pumps"])
    assert request.carry == "primary pump (Northfold P 50)"
    assert request.reason == "Found on May 4, 2026: The pump hums."
    assert (request.earliest_on, request.latest_on) == (on, on + timedelta(days=42))


@pytest.mark.parametrize("severity", ["bad", "urgent"])
def test_bad_and_urgent_ask(
    found: Callable[..., Finding], system: System, on: date, at: datetime, severity: str
) -> None:
    found(severity)
    assert ask(system, on, at) == 1


def test_what_is_only_to_be_watched_and_what_was_put_right_ask_for_nothing(
    found: Callable[..., Finding], system: System, on: date, at: datetime
) -> None:
    found("watch")
    found("bad", done_at=at, done_note="Cleaned")
    assert ask(system, on, at) == 0
    assert not asked().exists()


def test_a_check_up_that_is_not_finished_asks_for_nothing_yet(
    found: Callable[..., Finding], system: System, on: date, at: datetime
) -> None:
    checkup = found().checkup
    checkup.finished_at = None
    checkup.save()
    assert ask(system, on, at) == 0


def test_two_findings_of_a_house_share_a_trip(
    found: Callable[..., Finding], system: System, on: date, at: datetime
) -> None:
    found()
    found("urgent", what="The float sticks.", component=None)
    ask(system, on, at)
    first, second = asked()
    assert second.goes_with == first


def test_a_finding_goes_along_with_the_next_check_up_only_when_the_days_meet(
    found: Callable[..., Finding], system: System, on: date, at: datetime
) -> None:
    RequestFactory(system=system, target_on=on + timedelta(days=365))
    found()
    ask(system, on, at)
    assert asked().get().goes_with is None


def test_put_right_means_taken_back(
    found: Callable[..., Finding], system: System, office: Actor, on: date, at: datetime
) -> None:
    finding = found()
    ask(system, on, at)
    close_finding(finding_id=finding.pk, note="Cleaned the switch", by=office, at=at)
    ask(system, on, at)
    assert asked().get().withdrawn_because == "No longer needed: what was found has been put right."


def test_at_night_every_house_is_looked_at_and_nothing_is_asked_twice(
    found: Callable[..., Finding], system: System, office: Actor, on: date, at: datetime
) -> None:
    finding = found()
    assert [ask_for_all_repairs(on=on, at=at), ask_for_all_repairs(on=on, at=at)] == [1, 1]
    Finding.objects.filter(pk=finding.pk).update(done_at=at)
    assert ask_for_all_repairs(on=on, at=at) == 0
    assert not asked().filter(withdrawn_at__isnull=True).exists()


def test_closing_a_finding_lets_the_visit_go_by_itself(
    found: Callable[..., Finding],
    system: System,
    office: Actor,
    on: date,
    at: datetime,
    django_capture_on_commit_callbacks: Callable[..., object],
) -> None:
    finding = found()
    ask(system, on, at)
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
        close_finding(finding_id=finding.pk, note="Cleaned", by=office, at=at)
    assert not asked().filter(withdrawn_at__isnull=True).exists()
