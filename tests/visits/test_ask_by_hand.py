"""A visit asked for by hand: find the house, say what for, and never the same twice."""

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core import clock
from contractor.systems.models import System
from contractor.visits.models import Request, VisitKind
from tests.factories import OwnershipFactory, SystemFactory
from tests.visits.factories import RequestFactory

MONDAY = date(2026, 5, 4)
FORM = {
    "kind": "repair",
    "reason": "The alarm beeps.",
    "target_on": "2026-05-07",
    "earliest_on": "2026-05-04",
    "latest_on": "2026-05-18",
    "minutes": "50",
    "carry": "Battery; float switch",
    "skills": ["batteries", "pumps"],
}


@pytest.fixture(autouse=True)
def monday_morning(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "today", lambda: MONDAY)
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 5, 4, 14, 0, tzinfo=UTC))


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


@pytest.mark.parametrize("kind", VisitKind.values)
def test_a_visit_of_any_kind_is_asked_for_with_all_that_was_typed(desk: Client, system: System, kind: str) -> None:
    answer = desk.post(reverse("visits:ask", args=[system.pk]), {**FORM, "kind": kind})
    request = Request.objects.get()
    assert answer["Location"] == reverse("visits:give", args=[request.pk])
    assert (request.kind, request.minutes, request.carry) == (kind, 50, "Battery; float switch")
    assert request.skills == ["pumps", "batteries"]
    assert (request.earliest_on, request.latest_on) == (MONDAY, date(2026, 5, 18))


@pytest.mark.parametrize(
    ("kind", "changed", "is_refused"),
    [
        pytest.param("repair", {}, True, id="the same repair"),
        pytest.param("repair", {"reason": "  the ALARM  beeps."}, True, id="the same in other letters"),
        pytest.param("repair", {"reason": "The lid is cracked."}, False, id="another repair"),
        pytest.param("repair", {"kind": "claim"}, False, id="another kind"),
        pytest.param("transfer", {"reason": "Another word."}, True, id="of a whole walk one is enough"),
        pytest.param(
            "checkup",
            {"earliest_on": "2027-05-01", "target_on": "2027-05-07", "latest_on": "2027-05-18"},
            False,
            id="next year",
        ),
    ],
)
def test_the_same_twice_is_refused_with_a_way_to_the_one_that_stands(
    desk: Client, system: System, kind: str, changed: dict[str, str], is_refused: bool
) -> None:
    address = reverse("visits:ask", args=[system.pk])
    first = {**FORM, "kind": kind}
    desk.post(address, first)
    standing = Request.objects.get()
    answer = desk.post(address, {**first, **changed})
    assert Request.objects.count() == (1 if is_refused else 2)
    if is_refused:
        page = answer.content.decode()
        assert "The same visit is asked for already" in page
        assert reverse("visits:give", args=[standing.pk]) in page
        assert "Battery; float switch" in page  # nothing typed is lost


def test_one_that_was_taken_back_may_be_asked_for_again(desk: Client, system: System, at: datetime) -> None:
    RequestFactory(system=system, kind="repair", reason=FORM["reason"], withdrawn_at=at)
    desk.post(reverse("visits:ask", args=[system.pk]), FORM)
    assert Request.objects.wanting().count() == 1


def test_days_out_of_order_are_refused_beside_the_field(desk: Client, system: System) -> None:
    page = desk.post(reverse("visits:ask", args=[system.pk]), {**FORM, "latest_on": "2026-05-05"}).content.decode()
    assert "The three days must be in order" in page
    assert not Request.objects.exists()


@pytest.mark.parametrize(
    ("typed", "found"),
    [("12 mill", True), ("holloway", True), ("larkmere iris", True), ("no such house", False), ("", False)],
)
def test_the_house_is_found_by_street_town_and_owner(
    desk: Client, system: System, typed: str, found: bool
) -> None:
    page = desk.get(reverse("visits:ask_where"), {"house": typed}).content.decode()
    assert (reverse("visits:ask", args=[system.pk]) in page) is found
    assert ("No house found" in page) is (bool(typed) and not found)


def test_many_houses_take_the_same_queries(
    desk: Client, system: System, django_assert_num_queries: Callable[..., object]
) -> None:
    for _ in range(5):
        OwnershipFactory(property=SystemFactory().property)
    with django_assert_num_queries(5):  # type: ignore[attr-defined]
        desk.get(reverse("visits:ask_where"), {"house": "millrace"})
