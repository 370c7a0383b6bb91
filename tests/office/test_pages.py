"""Today, the houses, the due list, the set-up: what they show, to whom, at how many queries."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from contractor.accounts.models import User
from contractor.core.audit import SYSTEM
from contractor.notices.models import Notice
from contractor.office.queries import PAGE, due_counts, due_page, houses_page, todays_desk
from contractor.plans.actions.agreements import agree
from contractor.plans.actions.invoices import record_payment
from contractor.properties.models import Ownership, Person
from contractor.systems.models import System
from contractor.warranties.models import Warranty
from tests.factories import ComponentFactory, OwnershipFactory, PropertyFactory, SystemFactory
from tests.office import factories as made
from tests.plans.made import YES, new_offer, noon

ON = date(2026, 5, 4)
DESK_PAGES = ("office:today", "office:houses", "office:due", "office:search")


@pytest.mark.parametrize("name", DESK_PAGES)
def test_the_desk_is_open_to_office_and_manager_and_to_nobody_else(
    name: str, nora: User, ruth: User, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    address = reverse(name)
    assert signed_in_as(nora).get(address).status_code == 200
    assert signed_in_as(ruth).get(address).status_code == 200
    assert signed_in_as(theo).get(address).status_code == 403
    stranger = Client().get(address)
    assert (stranger.status_code, stranger["Location"]) == (302, f"{reverse('accounts:sign_in')}?next={address}")


def test_the_set_up_is_the_managers(nora: User, ruth: User, theo: User, signed_in_as: Callable[[User], Client]) -> None:
    address = reverse("office:setup")
    assert signed_in_as(ruth).get(address).status_code == 200
    assert [signed_in_as(user).get(address).status_code for user in (nora, theo)] == [403, 403]


@pytest.mark.parametrize("name", DESK_PAGES)
def test_the_desk_is_read_not_written(name: str, nora: User, signed_in_as: Callable[[User], Client]) -> None:
    assert signed_in_as(nora).post(reverse(name)).status_code == 405


def test_an_empty_desk_says_what_will_be_there(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    client = signed_in_as(nora)
    assert "No claim waits" in client.get(reverse("office:today")).content.decode()
    assert "No houses yet" in client.get(reverse("office:houses")).content.decode()
    assert "Nothing is due" in client.get(reverse("office:due")).content.decode()


def test_today_gathers_everything_that_waits(
    system: System, ownership: Ownership, buyer: Person, theo: User, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    warranty = made.issued_warranty(system, ownership)
    made.stored_standing(warranty, cover="in_force", care="in_grace")
    checkup = made.finished_checkup(made.wanted_visit(system, target_on=ON), theo, ON)
    made.finding(checkup, severity="urgent", what="Pump hums and does not turn")
    made.finding(checkup, severity="watch", what="Only to be watched")
    claim = made.reported_claim(warranty, on=ON)
    transfer = made.asked_transfer(warranty, ownership, buyer, closing_on=ON)
    made.outside_record(system, done_on=ON)
    made.outside_record(system, done_on=ON, accepted=True)
    made.notice(ownership.person, system, occasion="a", state="failed")
    made.notice(ownership.person, system, occasion="b", state="queued", channel="letter")
    battery = ComponentFactory(system=system, part_kind="battery")
    made.estimate(battery, replace_by=ON + timedelta(days=90))
    gone = ComponentFactory(system=system, part_kind="battery", out_on=ON)
    made.estimate(gone, replace_by=ON)
    made.wanted_visit(system, target_on=ON, kind="repair")
    desk = todays_desk(on=ON)
    assert (desk.due, desk.in_grace, desk.gap, desk.not_given) == (0, 1, 0, 1)
    assert (desk.claims.rows, desk.transfers.rows) == ([claim], [transfer])
    assert [row.what for row in desk.findings.rows] == ["Pump hums and does not turn"]
    assert [row.component for row in desk.replacements.rows] == [battery]
    assert (desk.outside_records.total, desk.failed_notices.total, desk.letters) == (1, 1, 1)
    assert [(row.name, row.stops, row.done) for row in desk.rounds] == [("Theo Marsh", 1, 1)]
    text = signed_in_as(nora).get(reverse("office:today")).content.decode()
    for name, key in (("warranties:claim", claim.pk), ("warranties:transfer", transfer.pk)):
        assert reverse(name, args=[key]) in text


def test_today_shows_the_invoices_that_are_due_and_not_paid(
    ownership: Ownership, ruth: User, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    begun = ON - timedelta(days=100)
    agreement = agree(
        property_id=ownership.property_id,
        offer_id=new_offer(ruth, noon(begun)).pk,
        from_on=begun,
        renews="asks",
        consent=YES,
        by=SYSTEM,
        at=noon(begun),
    )
    invoice = agreement.invoices.get()
    assert todays_desk(on=invoice.due_on - timedelta(days=1)).overdue.total == 0
    assert list(todays_desk(on=ON).overdue.rows) == [invoice]
    text = signed_in_as(nora).get(reverse("office:today")).content.decode()
    assert f"12 Millrace Lane, {invoice.number}" in text
    assert reverse("plans:agreement", args=[agreement.pk]) in text
    record_payment(invoice_id=invoice.pk, amount=invoice.total, way="check", on=ON, by_user=nora, at=noon(ON))
    assert todays_desk(on=ON).overdue.total == 0


def test_a_date_more_than_ninety_days_off_does_not_press(system: System) -> None:
    made.estimate(ComponentFactory(system=system, part_kind="battery"), replace_by=ON + timedelta(days=91))
    assert todays_desk(on=ON).replacements.total == 0


def test_a_voided_warranty_is_not_counted(system: System, ownership: Ownership) -> None:
    warranty = made.issued_warranty(system, ownership)
    made.stored_standing(warranty, cover="void", care="gap")
    warranty.voided_on, warranty.voided_clause, warranty.voided_because = ON, "7", "x"
    warranty.save()
    assert todays_desk(on=ON).gap == 0


def many_houses(count: int) -> list[System]:
    systems = []
    for number in range(count):
        house = PropertyFactory(street=f"{number:03d} Kiln Street", city="Stony Ford" if number % 2 else "Larkmere")
        owner = OwnershipFactory(property=house)
        system = SystemFactory(property=house)
        warranty = made.issued_warranty(system, owner, number=f"W{number:09d}")
        made.stored_standing(warranty, cover="in_force", care="gap" if number % 5 == 0 else "current")
        systems.append(system)
    return systems


def test_the_register_pages_by_key_forwards_and_back_without_losing_a_house(company: object) -> None:
    for number in reversed(range(2 * PAGE + 7)):  # the order of the rows is not the order of the streets
        PropertyFactory(street=f"{number} Kiln Street")
    pages = [houses_page()]
    while pages[-1].after is not None and len(pages) < 5:
        pages.append(houses_page(after=pages[-1].after))
    seen = [house.street for page in pages for house in page.rows]
    assert [len(page.rows) for page in pages] == [PAGE, PAGE, 7]
    assert seen == [f"{number} Kiln Street" for number in range(2 * PAGE + 7)]
    assert pages[0].before is None
    second = houses_page(before=pages[2].before)
    assert [house.pk for house in second.rows] == [house.pk for house in pages[1].rows]
    first = houses_page(before=second.before)
    assert [house.pk for house in first.rows] == [house.pk for house in pages[0].rows]
    assert first.before is None
    assert first.after == pages[0].after


def test_houses_with_the_same_street_are_paged_by_unit_and_row(company: object) -> None:
    for number in range(PAGE + 3):
        PropertyFactory(street="1 Kiln Street", unit="", address_key=f"k{number}")
    first = houses_page()
    rest = houses_page(after=first.after)
    assert len({house.pk for house in (*first.rows, *rest.rows)}) == PAGE + 3


def test_a_key_that_is_gone_shows_the_first_page(company: object) -> None:
    many_houses(2)
    assert len(houses_page(after=999_999).rows) == 2


def test_the_register_is_narrowed_by_town_and_standing(company: object) -> None:
    many_houses(10)
    bare = PropertyFactory(street="9 Bare Street", city="Stony Ford")
    assert houses_page(town="Stony Ford").total == 6
    assert [house.street[:3] for house in houses_page(standing="care:gap").rows] == ["000", "005"]
    assert [house.street[:3] for house in houses_page(town="Larkmere", standing="care:gap").rows] == ["000"]
    assert list(houses_page(standing="none").rows) == [bare]
    voided = Warranty.objects.get(number="W000000000")
    voided.voided_on, voided.voided_clause, voided.voided_because = ON, "7", "x"
    voided.save()
    assert [house.street[:3] for house in houses_page(standing="care:gap").rows] == ["005"]
    assert [house.street[:3] for house in houses_page(standing="none").rows] == ["9 B", "000"]


def due_systems(count: int) -> None:
    for number, system in enumerate(many_houses(count)):
        made.wanted_visit(system, target_on=ON + timedelta(days=number))


def test_the_lists_take_as_many_queries_for_fifty_rows_as_for_one(
    nora: User, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    client = signed_in_as(nora)
    addresses = [reverse("office:today"), reverse("office:houses"), f"{reverse('office:due')}?show=all"]

    def counts() -> list[int]:
        found = []
        for address in addresses:
            with CaptureQueriesContext(connection) as queries:
                assert client.get(address).status_code == 200
            found.append(len(queries))
        return found

    system = many_houses(1)[0]
    made.finished_checkup(made.wanted_visit(system, target_on=date(2025, 5, 1)), theo, date(2025, 5, 1))
    made.appointment(made.wanted_visit(system, target_on=ON), theo, ON)
    made.estimate(ComponentFactory(system=system, part_kind="battery"), replace_by=ON)
    few = counts()
    for number in range(1, 60):
        house = PropertyFactory(street=f"{number} Foundry Row")
        system = SystemFactory(property=house)
        warranty = made.issued_warranty(system, OwnershipFactory(property=house), number=f"W1{number:08d}")
        made.reported_claim(warranty, on=ON)
        made.estimate(ComponentFactory(system=system, part_kind="battery"), replace_by=ON)
        made.finding(made.finished_checkup(made.wanted_visit(system, target_on=ON, occasion=f"o{number}"), theo, ON))
        made.appointment(made.wanted_visit(system, target_on=ON, kind="repair"), theo, ON)
    assert counts() == few
    assert max(few) <= 26  # the desk: one a panel


@pytest.mark.parametrize(
    ("show", "days_from_target"),
    [("now", [0, 1, -59, 60, 61]), ("grace", [1, 60, 61]), ("later", [-61]), ("all", [-61, -59, 0, 1, 60, 61])],
)
def test_the_due_list_shows_what_can_be_done_now_what_is_in_grace_and_what_comes_later(
    system: System, show: str, days_from_target: list[int]
) -> None:
    for days in (-61, -59, 0, 1, 60, 61):
        made.wanted_visit(system, target_on=ON - timedelta(days=days), occasion=str(days))
    rows = due_page(on=ON, show=show).rows
    assert sorted(int(row.visit.occasion) for row in rows) == sorted(days_from_target)
    assert due_counts(on=ON)[show] == len(days_from_target)
    whens = {int(row.visit.occasion): row.when for row in due_page(on=ON, show="all").rows}
    assert whens == {-61: "later", -59: "now", 0: "now", 1: "grace", 60: "grace", 61: "past"}


def test_the_earliest_last_day_stands_first(system: System) -> None:
    for days in (5, -20, 3):
        made.wanted_visit(system, target_on=ON + timedelta(days=days), occasion=str(days))
    assert [row.visit.occasion for row in due_page(on=ON, show="all").rows] == ["-20", "3", "5"]


def test_visits_that_are_done_or_taken_back_are_not_due(system: System, theo: User, at: object) -> None:
    made.finished_checkup(made.wanted_visit(system, target_on=ON, occasion="done"), theo, ON)
    withdrawn = made.wanted_visit(system, target_on=ON, occasion="withdrawn")
    withdrawn.withdrawn_at = made.moment(ON)
    withdrawn.save()
    assert due_page(on=ON, show="all").total == 0
    assert due_counts(on=ON)["all"] == 0


def test_a_due_row_says_who_goes_when_the_last_check_up_was_and_how_care_stands(
    system: System, ownership: Ownership, theo: User
) -> None:
    warranty = made.issued_warranty(system, ownership)
    made.stored_standing(warranty, cover="in_force", care="due")
    for year in (2024, 2025):
        on = date(year, 5, 1)
        made.finished_checkup(made.wanted_visit(system, target_on=on), theo, on)
    given = made.appointment(made.wanted_visit(system, target_on=ON), theo, ON)
    waiting = made.wanted_visit(system, target_on=ON, kind="repair")
    first, second = due_page(on=ON, show="now").rows
    assert (first.appointment, first.owner, first.care) == (given, ownership, "due")
    assert first.last_checkup_on == date(2025, 5, 1)
    assert (second.visit, second.appointment) == (waiting, None)
    only = due_page(on=ON, show="now", only_without_appointment=True)
    assert [row.visit for row in only.rows] == [waiting]
    assert [row.visit for row in due_page(on=ON, show="now", kind="repair").rows] == [waiting]


def test_an_appointment_that_was_called_off_leaves_the_visit_waiting(system: System, theo: User) -> None:
    visit = made.wanted_visit(system, target_on=ON)
    made.appointment(visit, theo, ON, state="cancelled")
    (row,) = due_page(on=ON, show="now", only_without_appointment=True).rows
    assert (row.visit, row.appointment) == (visit, None)


def test_the_due_list_is_narrowed_by_town_and_pages_by_key(company: object) -> None:
    due_systems(PAGE + 4)
    assert due_page(on=ON, show="all", town="Stony Ford").total == (PAGE + 4) // 2
    first = due_page(on=ON, show="all")
    rest = due_page(on=ON, show="all", after=first.after)
    assert (len(first.rows), len(rest.rows), rest.after) == (PAGE, 4, None)
    back = due_page(on=ON, show="all", before=rest.before)
    assert [row.visit for row in back.rows] == [row.visit for row in first.rows]


def test_filters_that_cannot_be_read_count_as_not_given(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    client = signed_in_as(nora)
    many_houses(1)
    for query in ("standing=x", "after=x", "after=-1", "before=0", "town=Nowhere"):
        assert client.get(f"{reverse('office:houses')}?{query}").status_code == 200
    for query in ("show=x", "kind=x", "after=x", "waiting=x"):
        assert client.get(f"{reverse('office:due')}?{query}").status_code == 200


def test_the_next_page_keeps_what_the_list_is_narrowed_by(nora: User, signed_in_as: Callable[[User], Client]) -> None:
    many_houses(2 * PAGE + 4)
    text = signed_in_as(nora).get(f"{reverse('office:houses')}?town=Larkmere").content.decode()
    assert "?town=Larkmere&amp;after=" in text


def test_the_owners_link_goes_out_once_for_one_press_of_the_button(
    ownership: Ownership, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    client = signed_in_as(nora)
    address = reverse("office:send_link", args=[ownership.property_id])
    once = "6f1f4a52-2c64-4a43-9f3e-0a6a6c1f0b11"
    for _ in range(2):
        answer = client.post(address, {"once": once})
        assert answer["Location"] == reverse("office:house", args=[ownership.property_id])
    assert Notice.objects.count() == 1
    assert Notice.objects.get().address == "iris@example.com"
    client.post(address)
    assert Notice.objects.count() == 2


def test_a_link_to_nobody_or_to_no_address_is_refused_in_words(
    ownership: Ownership, nora: User, signed_in_as: Callable[[User], Client]
) -> None:
    client = signed_in_as(nora)
    Person.objects.update(email="")
    answer = client.post(reverse("office:send_link", args=[ownership.property_id]))
    assert (answer.status_code, "no e-mail address" in answer.content.decode()) == (409, True)
    nobodys = PropertyFactory()
    answer = client.post(reverse("office:send_link", args=[nobodys.pk]))
    assert (answer.status_code, "Record the owner first" in answer.content.decode()) == (409, True)
    assert client.post(reverse("office:send_link", args=[999_999])).status_code == 404
    assert client.get(reverse("office:send_link", args=[nobodys.pk])).status_code == 405
