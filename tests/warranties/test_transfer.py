"""Carrying a warranty over: what it needs, all or nothing, once, and what the seller sees afterwards."""

import io
import threading
from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from typing import Any

import pytest
from django.db import connection, connections
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over, make_owner_link, open_owner_link
from contractor.properties.models import Ownership, Person
from contractor.visits.models import Request
from contractor.warranties.actions import issuing, transfers
from contractor.warranties.actions.closing import change_closing
from contractor.warranties.certificates import certificate_pdf
from contractor.warranties.errors import (
    AlreadyVoid,
    BuyerIsOwner,
    ClosingAhead,
    ClosingTooEarly,
    DayAhead,
    LaterTransfer,
    ManagersOnly,
    NameNeeded,
    NotIssued,
    ReasonNeeded,
    RequirementsMissing,
    RequirementStands,
    RequirementUnknown,
    TransferOpen,
    TransferSettled,
)
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Certificate, TermsEdition, Transfer, Warranty
from contractor.warranties.queries import holder_of, promise_standings, transfer_lacks
from contractor.warranties.transfer_file import transfer_file
from tests.factories import PersonFactory, SystemFactory
from tests.warranties.factories import checkup_done, furnish, published_terms, terms_data

pytestmark = pytest.mark.django_db
CLOSING = date(2026, 5, 1)
TOLD = date(2026, 4, 20)


def ask(warranty: Warranty, buyer: Person, office: Actor, at: datetime, closing_on: date = CLOSING) -> Transfer:
    return transfers.ask_transfer(
        warranty_id=warranty.pk, buyer_id=buyer.pk, closing_on=closing_on, notified_on=TOLD, by=office, at=at
    )


def complete(transfer: Transfer, theo: User, office: Actor, at: datetime) -> None:
    """Everything that the terms ask for: a check-up within 90 days, the fee, the buyer's acceptance."""
    checkup_done(transfer.warranty.system, date(2026, 4, 25), theo, kind="transfer")
    pay_and_accept(transfer, office, at)


def pay_and_accept(transfer: Transfer, office: Actor, at: datetime) -> None:
    transfers.record_transfer_fee(transfer_id=transfer.pk, paid_on=CLOSING, by=office, at=at)
    transfers.accept_transfer(transfer_id=transfer.pk, accepted_on=CLOSING, name="Ben Okafor", by=office, at=at)


@pytest.fixture
def ready(cared_for: Warranty, buyer: Person, theo: User, office: Actor, at: datetime) -> Transfer:
    transfer = ask(cared_for, buyer, office, at)
    complete(transfer, theo, office, at)
    return transfer


def issue(transfer: Transfer, office: Actor, at: datetime, on: date) -> Certificate:
    return transfers.issue_transfer(transfer_id=transfer.pk, on=on, by=office, at=at)


def test_asking_says_what_is_missing_and_puts_the_check_up_on_the_list(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime
) -> None:
    transfer = ask(cared_for, buyer, office, at)
    assert [need.code for need in transfer_lacks(transfer)] == ["checkup", "fee", "accepted"]
    assert transfer.fee == 150
    visit = Request.objects.get(occasion=f"transfer:{transfer.pk}")
    assert visit.kind == "transfer"
    # 90 days after May 1 is July 30, 2026, a Thursday.
    assert visit.latest_on == date(2026, 7, 30)
    assert visit.earliest_on == date(2026, 5, 4)
    letter = Notice.objects.get(template="transfer_asked")
    assert letter.person.name == "Iris Holloway"
    assert "The transfer fee of $150.00 is to be paid." in letter.text


def test_nothing_is_asked_of_technicians_when_a_check_up_is_recent_enough(
    cared_for: Warranty, buyer: Person, theo: User, office: Actor, at: datetime
) -> None:
    checkup_done(cared_for.system, date(2026, 4, 1), theo)
    transfer = ask(cared_for, buyer, office, at)
    assert not Request.objects.filter(occasion=f"transfer:{transfer.pk}").exists()


def test_issuing_carries_everything_over_at_once(
    ready: Transfer, ownership: Ownership, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    certificate = issue(ready, office, at, on)
    ready.refresh_from_db()
    ownership.refresh_from_db()
    assert ready.state == "issued"
    assert ownership.until_on == CLOSING
    assert ready.buyer_ownership is not None
    assert (ready.buyer_ownership.person, ready.buyer_ownership.from_on) == (buyer, CLOSING)
    assert holder_of(ready.warranty) == ready.buyer_ownership
    assert certificate.issued_to == ready.buyer_ownership
    assert certificate.facts["owner"]["name"] == "Ben Okafor"
    assert certificate.facts["previous_owner"] == "I. H."
    told = Notice.objects.filter(template__startswith="transfer_issued").order_by("template")
    assert [(notice.template, notice.person.name) for notice in told] == [
        ("transfer_issued_buyer", "Ben Okafor"),
        ("transfer_issued_seller", "Iris Holloway"),
    ]
    assert "Iris" not in told[0].text
    assert "Ben" not in told[1].text
    assert audit.breaks(f"property:{ownership.property_id}") == []


def test_a_lifelong_promise_runs_for_the_months_that_the_issued_terms_give_a_later_owner(
    ready: Transfer, office: Actor, on: date, at: datetime
) -> None:
    issue(ready, office, at, on)
    channel = next(one for one in promise_standings(warranty=ready.warranty, on=on) if one.part_kind == "channel")
    assert channel.standing.through_on == date(2046, 5, 1)  # 240 months from the closing day


def test_the_certificate_counts_it_from_the_closing_and_everything_else_from_its_own_day(
    ready: Transfer, office: Actor, on: date, at: datetime
) -> None:
    lines = {line["kind"]: line for line in issue(ready, office, at, on).facts["promises"]}
    assert (lines["channel"]["from_on"], lines["channel"]["through_on"]) == ("2026-05-01", "2046-05-01")
    assert (lines["pit"]["from_on"], lines["pit"]["through_on"]) == ("2020-05-14", "2045-05-14")


def test_the_certificate_says_in_its_own_words_what_was_let_go(
    cared_for: Warranty, buyer: Person, ruth: User, office: Actor, on: date, at: datetime
) -> None:
    transfer = ask(cared_for, buyer, office, at)
    pay_and_accept(transfer, office, at)
    transfers.waive_requirement(transfer_id=transfer.pk, code="checkup", because="Empty.", by_user=ruth, at=at)
    facts = issue(transfer, office, at, on).facts
    reader = PdfReader(io.BytesIO(certificate_pdf(freeze(facts), facts)))
    page = " ".join(reader.pages[0].extract_text().split())
    assert "Let go by the company: the check-up for the sale." in page
    assert "Have a check-up done" not in page
    assert "Empty." not in page
    assert "a check-up passed within 90 days of it and a fee of $150.00." in page
    # A certificate that was frozen before these words were kept says it as it did.
    for need in facts["transfer"]["this"]["requirements"]:
        need.pop("let_go")
    older = PdfReader(io.BytesIO(certificate_pdf(freeze(facts), facts))).pages[0].extract_text()
    assert "Have a check-up done" in " ".join(older.split())


def test_the_sellers_link_stops_opening_the_house(
    ready: Transfer, ownership: Ownership, office: Actor, on: date, at: datetime
) -> None:
    token = make_owner_link(ownership_id=ownership.pk, by=office, at=at)
    assert open_owner_link(token=token, at=at) is not None
    issue(ready, office, at, on)
    assert open_owner_link(token=token, at=at) is None


def test_when_something_breaks_in_the_middle_nothing_has_changed(
    ready: Transfer, ownership: Ownership, office: Actor, on: date, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    def break_off(*args: Any, **words: Any) -> None:
        raise OSError("The disk is full.")

    entries = audit.AuditEntry.objects.count()
    notices = Notice.objects.count()
    monkeypatch.setattr(transfers, "tell_issued", break_off)
    with pytest.raises(OSError, match="disk"):
        issue(ready, office, at, on)
    ready.refresh_from_db()
    ownership.refresh_from_db()
    assert (ready.state, ready.buyer_ownership) == ("asked", None)
    assert ownership.until_on is None
    assert not Certificate.objects.exists()
    assert audit.AuditEntry.objects.count() == entries
    assert Notice.objects.count() == notices


def test_pressed_twice_there_is_one_certificate(ready: Transfer, office: Actor, on: date, at: datetime) -> None:
    first = issue(ready, office, at, on)
    assert issue(ready, office, at, on) == first
    assert Certificate.objects.count() == 1
    assert Notice.objects.filter(template__startswith="transfer_issued").count() == 2
    assert Ownership.objects.filter(person__name="Ben Okafor").count() == 1


def test_while_something_is_missing_it_is_not_issued_and_everything_missing_is_named(
    cared_for: Warranty, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    transfer = ask(cared_for, buyer, office, at)
    with pytest.raises(RequirementsMissing) as refused:
        issue(transfer, office, at, on)
    assert [need.code for need in refused.value.missing] == ["checkup", "fee", "accepted"]  # type: ignore[attr-defined]
    assert "Collect the transfer fee of $150.00" in str(refused.value)


def test_before_the_closing_day_the_seller_still_owns_the_house(
    cared_for: Warranty, buyer: Person, theo: User, office: Actor, on: date, at: datetime
) -> None:
    transfer = ask(cared_for, buyer, office, at, closing_on=date(2026, 5, 5))
    complete(transfer, theo, office, at)
    with pytest.raises(ClosingAhead):
        issue(transfer, office, at, on)
    assert issue(transfer, office, at, date(2026, 5, 5)).issued_on == date(2026, 5, 5)


def test_two_systems_of_one_house_pass_to_the_same_buyer_one_after_the_other(
    ready: Transfer,
    buyer: Person,
    ownership: Ownership,
    terms: TermsEdition,
    theo: User,
    office: Actor,
    on: date,
    at: datetime,
) -> None:
    garage = SystemFactory(property=ownership.property, name="Garage", installed_on=date(2022, 3, 1))
    furnish(garage)
    second = issuing.issue_warranty(
        system_id=garage.pk, terms_id=terms.pk, issued_on=date(2022, 3, 1), by=office, at=at
    )
    other = ask(second, buyer, office, at)
    complete(other, theo, office, at)
    issue(ready, office, at, on)
    issue(other, office, at, on)
    assert Ownership.objects.filter(property=ownership.property).count() == 2
    other.refresh_from_db()
    ready.refresh_from_db()
    assert other.buyer_ownership == ready.buyer_ownership


def test_a_house_already_handed_over_is_transferred_as_of_that_day(
    cared_for: Warranty, ownership: Ownership, buyer: Person, theo: User, office: Actor, on: date, at: datetime
) -> None:
    new = hand_over(property_id=ownership.property_id, person_id=buyer.pk, on=CLOSING, by=office, at=at)
    with pytest.raises(BuyerIsOwner):
        ask(cared_for, buyer, office, at, closing_on=date(2026, 5, 2))
    transfer = ask(cared_for, buyer, office, at)
    complete(transfer, theo, office, at)
    assert issue(transfer, office, at, on).issued_to == new


def test_a_house_sold_to_somebody_else_meanwhile_stops_the_transfer(
    ready: Transfer, ownership: Ownership, office: Actor, on: date, at: datetime
) -> None:
    somebody = PersonFactory(name="Somebody Else")
    hand_over(property_id=ownership.property_id, person_id=somebody.pk, on=CLOSING, by=office, at=at)
    with pytest.raises(RequirementsMissing, match="not the owner of record"):
        issue(ready, office, at, on)


def test_a_manager_lets_a_requirement_go_with_a_reason_that_is_kept(
    cared_for: Warranty, buyer: Person, ruth: User, nora: User, office: Actor, at: datetime
) -> None:
    transfer = ask(cared_for, buyer, office, at)

    def let_go(by_user: User, code: str, because: str = "Snowed in; checked in May.") -> None:
        transfers.waive_requirement(transfer_id=transfer.pk, code=code, because=because, by_user=by_user, at=at)

    with pytest.raises(ManagersOnly):
        let_go(nora, "checkup")
    with pytest.raises(ReasonNeeded):
        let_go(ruth, "checkup", because=" ")
    with pytest.raises(RequirementStands):
        let_go(ruth, "accepted")
    with pytest.raises(RequirementUnknown):
        let_go(ruth, "told_in_time")
    let_go(ruth, "checkup")
    transfer.refresh_from_db()
    assert [need.code for need in transfer_lacks(transfer)] == ["fee", "accepted"]
    assert transfer.waived["checkup"]["because"] == "Snowed in; checked in May."
    assert not Request.objects.wanting().filter(occasion=f"transfer:{transfer.pk}").exists()


def test_what_can_not_be_done_in_time_any_more_is_too_late_until_it_is_let_go(
    cared_for: Warranty, buyer: Person, ruth: User, office: Actor, at: datetime, on: date
) -> None:
    """The terms give thirty days after the closing to tell of the sale; this one was told of after sixty-three."""
    transfer = transfers.ask_transfer(
        warranty_id=cared_for.pk, buyer_id=buyer.pk, closing_on=date(2026, 3, 2), notified_on=on, by=office, at=at
    )
    states = {need.requirement.code: need.state for need in transfer_file(transfer, on=on).needs}
    assert (states["told_in_time"], states["checkup"], states["fee"]) == ("too late", "missing", "missing")
    transfers.waive_requirement(
        transfer_id=transfer.pk, code="told_in_time", because="The agent never wrote.", by_user=ruth, at=at
    )
    transfer.refresh_from_db()
    states = {need.requirement.code: need.state for need in transfer_file(transfer, on=on).needs}
    assert states["told_in_time"] == "let go"


def test_what_cannot_be_asked_is_refused(
    cared_for: Warranty, buyer: Person, ruth: User, office: Actor, at: datetime
) -> None:
    with pytest.raises(ClosingTooEarly):
        ask(cared_for, buyer, office, at, closing_on=date(2020, 5, 13))
    with pytest.raises(DayAhead):
        transfers.ask_transfer(
            warranty_id=cared_for.pk,
            buyer_id=buyer.pk,
            closing_on=CLOSING,
            notified_on=date(2026, 5, 5),
            by=office,
            at=at,
        )
    ask(cared_for, buyer, office, at)
    with pytest.raises(TransferOpen):
        ask(cared_for, buyer, office, at)
    issuing.void_warranty(
        warranty_id=cared_for.pk, voided_on=CLOSING, clause="Misuse", because="Torn out.", by_user=ruth, at=at
    )
    with pytest.raises(AlreadyVoid):
        ask(cared_for, buyer, office, at)


def test_fee_and_acceptance_are_noted_on_days_that_have_come_and_with_a_name(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime
) -> None:
    transfer = ask(cared_for, buyer, office, at)
    ahead = date(2026, 5, 5)
    with pytest.raises(DayAhead):
        transfers.record_transfer_fee(transfer_id=transfer.pk, paid_on=ahead, by=office, at=at)
    with pytest.raises(DayAhead):
        transfers.accept_transfer(transfer_id=transfer.pk, accepted_on=ahead, name="Ben", by=office, at=at)
    with pytest.raises(NameNeeded):
        transfers.accept_transfer(transfer_id=transfer.pk, accepted_on=CLOSING, name=" ", by=office, at=at)


def test_a_withdrawn_transfer_calls_its_visit_off_and_is_settled(
    cared_for: Warranty, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    transfer = ask(cared_for, buyer, office, at)
    transfers.withdraw_transfer(transfer_id=transfer.pk, because="The sale fell through.", by=office, at=at)
    assert not Request.objects.wanting().filter(occasion=f"transfer:{transfer.pk}").exists()
    with pytest.raises(TransferSettled):
        issue(transfer, office, at, on)
    with pytest.raises(TransferSettled):
        transfers.record_transfer_fee(transfer_id=transfer.pk, paid_on=CLOSING, by=office, at=at)


def test_a_revoked_transfer_takes_its_certificate_with_it_and_leaves_the_record(
    ready: Transfer, ruth: User, nora: User, office: Actor, on: date, at: datetime
) -> None:
    with pytest.raises(NotIssued):
        transfers.revoke_transfer(transfer_id=ready.pk, because="Wrong buyer.", by_user=ruth, at=at)
    certificate = issue(ready, office, at, on)
    with pytest.raises(ManagersOnly):
        transfers.revoke_transfer(transfer_id=ready.pk, because="Wrong buyer.", by_user=nora, at=at)
    with pytest.raises(ReasonNeeded):
        transfers.revoke_transfer(transfer_id=ready.pk, because="", by_user=ruth, at=at)
    transfers.revoke_transfer(transfer_id=ready.pk, because="Wrong buyer.", by_user=ruth, at=at)
    certificate.refresh_from_db()
    ready.refresh_from_db()
    assert (certificate.revoked_at, certificate.revoked_because) == (at, "Wrong buyer.")
    assert ready.state == "revoked"
    assert holder_of(ready.warranty).person.name == "Iris Holloway"
    channel = promise_standings(warranty=ready.warranty, on=on)[0]
    assert channel.standing.through_on is None


def test_the_latest_transfer_is_revoked_first(
    ready: Transfer, ruth: User, office: Actor, on: date, at: datetime
) -> None:
    issue(ready, office, at, on)
    next_buyer = PersonFactory(name="Cora Lund")
    again = ask(ready.warranty, next_buyer, office, at, closing_on=date(2026, 5, 3))
    pay_and_accept(again, office, at)
    issue(again, office, at, on)
    with pytest.raises(LaterTransfer):
        transfers.revoke_transfer(transfer_id=ready.pk, because="Wrong buyer.", by_user=ruth, at=at)


def test_a_later_edition_changes_nothing_for_a_warranty_that_was_issued(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime
) -> None:
    rule = terms_data()["transfer"]
    published_terms(edition="limited-2027-1", transfer={**rule, "fee": "900.00"})
    assert ask(cared_for, buyer, office, at).fee == 150


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one writer in at a time by itself")
@pytest.mark.django_db(transaction=True)
def test_two_people_pressing_at_once_get_one_certificate(
    ready: Transfer, office: Actor, on: date, at: datetime
) -> None:
    start_together = threading.Barrier(2)
    numbers: list[str] = []
    problems: list[Exception] = []

    def press() -> None:
        start_together.wait()
        try:
            numbers.append(issue(ready, office, at, on).number)
        except Exception as problem:
            problems.append(problem)
        finally:
            connections.close_all()

    people = [threading.Thread(target=press) for _ in range(2)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    assert problems == []
    assert len(set(numbers)) == 1
    assert Certificate.objects.count() == 1
    assert Ownership.objects.filter(person__name="Ben Okafor").count() == 1


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one writer in at a time by itself")
@pytest.mark.django_db(transaction=True)
def test_issuing_and_withdrawing_at_once_leave_one_of_the_two(
    ready: Transfer, office: Actor, on: date, at: datetime
) -> None:
    start_together = threading.Barrier(2)
    refused: list[Exception] = []

    def press(verb: Callable[[], object]) -> None:
        start_together.wait()
        try:
            verb()
        except TransferSettled as problem:
            refused.append(problem)
        finally:
            connections.close_all()

    withdraw = partial(transfers.withdraw_transfer, transfer_id=ready.pk, because="Off.", by=office, at=at)
    people = [threading.Thread(target=press, args=[verb]) for verb in (partial(issue, ready, office, at, on), withdraw)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    ready.refresh_from_db()
    assert len(refused) == 1
    assert Certificate.objects.count() == (1 if ready.state == Transfer.State.ISSUED else 0)
    assert not ready.links.filter(revoked_at__isnull=True).exists()


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one writer in at a time by itself")
@pytest.mark.django_db(transaction=True)
def test_two_who_open_a_transfer_at_once_get_one_and_a_sentence(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime
) -> None:
    refused = pressed_together(
        partial(ask, cared_for, buyer, office, at),
        partial(ask, cared_for, PersonFactory(name="Somebody Else"), office, at),
    )
    assert [type(one) for one in refused] == [TransferOpen]
    assert Transfer.objects.count() == 1


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one writer in at a time by itself")
@pytest.mark.django_db(transaction=True)
def test_issuing_and_moving_the_closing_at_once_never_moves_what_is_issued(
    ready: Transfer, office: Actor, on: date, at: datetime
) -> None:
    move = partial(change_closing, transfer_id=ready.pk, closing_on=date(2026, 5, 2), by=office, at=at)
    refused = pressed_together(partial(issue, ready, office, at, on), move)
    certificate = Certificate.objects.get()
    ready.refresh_from_db()
    assert certificate.facts["transfer"]["this"]["closing_on"] == ready.closing_on.isoformat()
    assert [type(one) for one in refused] in ([], [TransferSettled])


def pressed_together(*verbs: Callable[[], object]) -> list[Exception]:
    """Runs all at the same moment, each with its own connection; what was raised."""
    start_together = threading.Barrier(len(verbs))
    raised: list[Exception] = []

    def press(verb: Callable[[], object]) -> None:
        start_together.wait()
        try:
            verb()
        except Exception as problem:
            raised.append(problem)
        finally:
            connections.close_all()

    people = [threading.Thread(target=press, args=[verb]) for verb in verbs]
    for person in people:
        person.start()
    for person in people:
        person.join()
    return raised
