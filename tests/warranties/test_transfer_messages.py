"""Reminders and the messages at the end of a sale: once per occasion, to those who can do something or relied on it."""

from datetime import date, datetime, timedelta

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.notices.models import Notice
from contractor.properties.models import Person
from contractor.warranties import tasks
from contractor.warranties.actions import transfer_links, transfer_messages, transfers
from contractor.warranties.models import Transfer, Warranty
from contractor.warranties.transfer_words import steps_for
from tests.warranties.factories import checkup_done
from tests.warranties.test_transfer import ask, complete, issue, pay_and_accept

pytestmark = pytest.mark.django_db
CLOSING = date(2026, 6, 1)


@pytest.fixture
def sale(cared_for: Warranty, buyer: Person, office: Actor, at: datetime) -> Transfer:
    """Closing on Monday, June 1, 2026; a check-up, the fee and the buyer's word are missing."""
    return ask(cared_for, buyer, office, at, closing_on=CLOSING)


def remind(on: date) -> list[str]:
    """Who is reminded on a day, by their names."""
    known = set(Notice.objects.values_list("pk", flat=True))
    at = datetime.fromisoformat(f"{on}T14:00:00+00:00")
    transfer_messages.remind_of_transfers(on=on, at=at)
    return [notice.person.name for notice in Notice.objects.exclude(pk__in=known).order_by("person__name")]


BOTH = ["Ben Okafor", "Iris Holloway"]


def test_seller_and_buyer_are_reminded_once_two_weeks_before_the_closing(sale: Transfer) -> None:
    assert remind(date(2026, 5, 17)) == []
    assert remind(date(2026, 5, 18)) == BOTH
    assert remind(date(2026, 5, 18)) == []
    assert remind(date(2026, 5, 25)) == []
    # Ninety days after June 1 is August 30, 2026, a Sunday: the last day is Monday, August 31.
    assert remind(date(2026, 6, 2)) == ["Ben Okafor", "Iris Holloway"]
    assert remind(date(2026, 8, 23)) == []
    assert remind(date(2026, 8, 24)) == BOTH
    assert remind(date(2026, 8, 31)) == []


def test_only_who_can_do_something_is_reminded(sale: Transfer, theo: User, office: Actor, at: datetime) -> None:
    checkup_done(sale.warranty.system, date(2026, 5, 3), theo)
    transfers.record_transfer_fee(transfer_id=sale.pk, paid_on=date(2026, 5, 4), by=office, at=at)
    assert remind(date(2026, 5, 20)) == ["Ben Okafor"]
    told = Notice.objects.get(template="transfer_reminder")
    assert "Read the document and accept it" in told.text
    assert "Iris" not in told.text


def test_nobody_is_reminded_of_a_sale_that_is_ready_or_settled(
    sale: Transfer, theo: User, office: Actor, at: datetime
) -> None:
    checkup_done(sale.warranty.system, date(2026, 5, 3), theo)
    pay_and_accept(sale, office, at)
    assert remind(date(2026, 5, 20)) == []
    transfers.withdraw_transfer(transfer_id=sale.pk, because="Off.", by=office, at=at)
    assert remind(date(2026, 6, 20)) == []


def test_the_task_reminds(sale: Transfer, monkeypatch: pytest.MonkeyPatch) -> None:
    from contractor.core import clock

    monkeypatch.setattr(clock, "today", lambda: date(2026, 5, 20))
    monkeypatch.setattr(clock, "now", lambda: datetime.fromisoformat("2026-05-20T14:00:00+00:00"))
    tasks.remind_of_transfers()
    assert Notice.objects.filter(template="transfer_reminder").count() == 2


def test_a_buyer_without_an_address_is_not_written_to_at_the_sellers_house(
    cared_for: Warranty, buyer: Person, theo: User, office: Actor, on: date, at: datetime
) -> None:
    buyer.email = ""
    buyer.save()
    transfer = ask(cared_for, buyer, office, at)
    assert [notice.person.name for notice in Notice.objects.filter(template__startswith="transfer")] == [
        "Iris Holloway"
    ]
    complete(transfer, theo, office, at)
    issue(transfer, office, at, on)
    # From the closing on the buyer lives there.
    assert Notice.objects.get(template="transfer_issued_buyer").channel == Notice.Channel.LETTER


def test_a_buyer_with_a_postal_address_gets_a_letter_without_a_link(
    cared_for: Warranty, buyer: Person, office: Actor, at: datetime
) -> None:
    buyer.email, buyer.mail_address = "", "3 Quarry Street\nLarkmere, PA 17099"
    buyer.save()
    ask(cared_for, buyer, office, at)
    letter = Notice.objects.get(template="transfer_asked_buyer")
    assert letter.channel == Notice.Channel.LETTER
    assert "{personal-link" not in letter.text


def test_a_revoked_certificate_is_told_to_whoever_may_have_relied_on_it(
    cared_for: Warranty, buyer: Person, theo: User, ruth: User, office: Actor, on: date, at: datetime
) -> None:
    transfer = ask(cared_for, buyer, office, at)
    for name, email in (("Ada Lorimer", "ada@example.com"), ("Left Early", "left@example.com")):
        transfer_links.invite_agent(transfer_id=transfer.pk, name=name, email=email, by=office, at=at)
    transfer_links.revoke_transfer_links(
        transfer_id=transfer.pk, role="agent", email="left@example.com", by=office, at=at - timedelta(hours=1)
    )
    complete(transfer, theo, office, at)
    issue(transfer, office, at, on)
    transfers.revoke_transfer(
        transfer_id=transfer.pk, because="Wrong buyer: a cousin.", by_user=ruth, at=at + timedelta(days=1)
    )
    told = Notice.objects.filter(template="transfer_revoked").order_by("person__name")
    assert [notice.person.name for notice in told] == ["Ada Lorimer", "Ben Okafor", "Iris Holloway"]
    assert all("Please do not rely on it" in notice.text for notice in told)
    assert not any("cousin" in notice.text for notice in told)


def test_what_each_is_told_to_do_and_until_when(sale: Transfer, on: date) -> None:
    seller = {step.code: step for step in steps_for("seller", sale, on=on)}
    buyer = {step.code: step for step in steps_for("buyer", sale, on=on)}
    agent = {step.code: step for step in steps_for("agent", sale, on=on)}
    assert {code for code, step in seller.items() if step.is_yours} == {"checkup", "fee"}
    assert {code for code, step in buyer.items() if step.is_yours} == {"accepted", "fee"}
    assert not any(step.is_yours for step in agent.values())
    # Ninety days after June 1 is Sunday, August 30, 2026, so Monday, August 31.
    assert {steps["checkup"].by_on for steps in (seller, buyer, agent)} == {date(2026, 8, 31)}
    assert "August 31, 2026" in seller["checkup"].sentence
    # Thirty days after June 1 is Wednesday, July 1, 2026.
    assert "the last day is July 1, 2026" in seller["told_in_time"].sentence
    # 15 U.S.C. 2302(c): the check-up may be anybody's.
    assert "Another qualified company may do it as well" in seller["checkup"].sentence
    assert "another qualified company counts too" in agent["checkup"].sentence
    names = ("Iris", "Holloway", "Ben", "Okafor")
    assert not any(name in step.sentence for step in [*buyer.values(), *agent.values()] for name in names)


@pytest.mark.parametrize(
    ("code", "waived", "state"), [("fee", True, "not needed"), ("fee", False, "missing"), ("accepted", True, "missing")]
)
def test_what_was_let_go_is_said_without_its_reason(
    code: str, waived: bool, state: str, sale: Transfer, on: date
) -> None:
    sale.waived = {code: {"because": "A friend of the house."}} if waived else {}
    step = next(step for step in steps_for("agent", sale, on=on) if step.code == code)
    assert step.state == state
    assert "friend" not in step.sentence


def test_a_late_sale_says_that_it_is_looked_into(
    cared_for: Warranty, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    transfer = transfers.ask_transfer(
        warranty_id=cared_for.pk, buyer_id=buyer.pk, closing_on=date(2026, 3, 2), notified_on=on, by=office, at=at
    )
    late = next(step for step in steps_for("seller", transfer, on=on) if step.code == "told_in_time")
    # Thirty days after March 2 is April 1, 2026, a Wednesday.
    assert "the last day was April 1, 2026" in late.sentence
    assert "We look into it and call you." in late.sentence
