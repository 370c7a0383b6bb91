"""The pages of the desk and of the owner: what they say, what they refuse, how many queries they take."""

import csv
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
import weasyprint
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import SYSTEM
from contractor.plans.actions.agreements import agree, cancel
from contractor.plans.actions.invoices import record_payment
from contractor.plans.actions.letters import send_renewal_notices
from contractor.plans.models import Agreement, Invoice, Payment, PlanOffer, RenewalNotice
from contractor.plans.queries import PAGE, agreements_page
from contractor.plans.rules.terms import State, state_on
from contractor.properties.actions import hand_over, make_owner_link
from contractor.properties.models import Ownership, Person
from tests.factories import OwnershipFactory
from tests.plans.made import YES, YES_TO_BOTH, noon
from tests.warranties.verapdf import judge

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]


@pytest.fixture(autouse=True)
def monday_morning(monkeypatch: pytest.MonkeyPatch) -> None:
    """A day whose years of plans have 365 days, so that amounts by the day can be worked by hand."""
    monkeypatch.setattr(clock, "today", lambda: date(2026, 5, 4))
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 5, 4, 14, 0, tzinfo=UTC))


def today() -> date:
    return clock.today()


def plan_for(ownership: Ownership, offer: PlanOffer, *, days_ago: int = 100, renews: str = "asks") -> Agreement:
    on = today() - timedelta(days=days_ago)
    return agree(
        property_id=ownership.property_id,
        offer_id=offer.pk,
        from_on=on,
        renews=renews,
        consent=YES_TO_BOTH if renews == "automatic" else YES,
        by=SYSTEM,
        at=noon(on),
    )


def opened(ownership: Ownership) -> Client:
    browser = Client()
    token = make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=clock.now())
    assert browser.post(reverse("portal:link", args=[token])).status_code == 302
    return browser


@pytest.fixture
def plan(ownership: Ownership, offer: PlanOffer) -> Agreement:
    return plan_for(ownership, offer)


@pytest.fixture
def invoice(plan: Agreement) -> Invoice:
    return Invoice.objects.get(agreement=plan)


@pytest.fixture
def desk(nora: User, signed_in_as: SignIn) -> Client:
    return signed_in_as(nora)


@pytest.fixture
def managers_desk(ruth: User, signed_in_as: SignIn) -> Client:
    return signed_in_as(ruth)


def test_the_list_says_the_same_as_the_rule_for_every_state(offer: PlanOffer, nora: User) -> None:
    for days_ago in (-20, 0, 100, 306, 320, 364, 365, 500):
        one = plan_for(OwnershipFactory(), offer, days_ago=days_ago)
        other = plan_for(OwnershipFactory(), offer, days_ago=days_ago)
        if other.until_on > today():
            cancel(agreement_id=other.pk, way="office", because="", by=nora.actor, at=clock.now())
        assert one.pk != other.pk
    for state in State:
        by_rule = {
            one.pk
            for one in Agreement.objects.all()
            if state_on(one.year(is_renewed=hasattr(one, "next_year")), today()) is state
        }
        listed = agreements_page(show=state.value, on=today()).rows
        assert {row.agreement.pk for row in listed} == by_rule
        assert all(row.state is state for row in listed)


def test_pages_by_key_show_every_agreement_once_and_lead_back(offer: PlanOffer) -> None:
    made = [plan_for(OwnershipFactory(), offer, days_ago=n % 7).pk for n in range(PAGE + 3)]
    first = agreements_page(show="", on=today())
    second = agreements_page(show="", on=today(), after=first.after)
    assert (len(first.rows), len(second.rows), first.before, second.after) == (PAGE, 3, None, None)
    assert sorted(row.agreement.pk for row in (*first.rows, *second.rows)) == sorted(made)
    back = agreements_page(show="", on=today(), before=second.before)
    assert [row.agreement.pk for row in back.rows] == [row.agreement.pk for row in first.rows]


@pytest.mark.parametrize("show", ["", "active", "unpaid"])
def test_the_list_takes_as_many_queries_for_two_as_for_twelve(
    desk: Client, offer: PlanOffer, django_assert_num_queries: Any, show: str
) -> None:
    for count in (2, 10):
        for _ in range(count):
            plan_for(OwnershipFactory(), offer)
        with django_assert_num_queries(9):
            answer = desk.get(reverse("plans:agreements"), {"show": show})
        assert answer.status_code == 200


def test_an_agreement_says_how_it_stands_what_is_owed_and_that_no_warranty_hangs_on_it(
    desk: Client, plan: Agreement
) -> None:
    page = desk.get(reverse("plans:agreement", args=[plan.pk])).content.decode()
    assert "A service contract, not a warranty." in page
    assert "$386.90" in page
    assert "0 of 1 visit made" in page


def test_the_desk_agrees_a_plan_and_a_refusal_keeps_what_was_typed(
    desk: Client, ownership: Ownership, offer: PlanOffer
) -> None:
    address = reverse("plans:agree", args=[ownership.property_id])
    typed = {"offer": offer.pk, "from_on": today().isoformat(), "through_on": "", "renews": "automatic"}
    refused = desk.post(address, {**typed, "consent": "on"})
    assert "Renewing by itself needs the owner’s own yes" in refused.content.decode()
    assert f'value="{today().isoformat()}"' in refused.content.decode()
    turned = desk.post(address, {**typed, "through_on": "2020-01-01", "renews": "no", "consent": "on"})
    assert "The last day lies before the first" in turned.content.decode()
    done = desk.post(address, {**typed, "consent": "on", "consent_renewal": "on"})
    assert done.status_code == 302
    again = desk.post(address, {**typed, "renews": "no", "consent": "on"})
    assert "This house has a care plan already" in again.content.decode()
    assert Agreement.objects.get().renews == "automatic"


def test_money_is_recorded_taken_back_and_never_more_than_is_owed(desk: Client, invoice: Invoice) -> None:
    address = reverse("plans:pay", args=[invoice.pk])
    typed = {"amount": "400.00", "way": "cash", "on": today().isoformat(), "reference": ""}
    assert "Only $386.90 is owed" in desk.post(address, typed).content.decode()
    assert desk.post(address, {**typed, "amount": "100.00"}).status_code == 302
    payment = Payment.objects.get()
    back = reverse("plans:correct_payment", args=[payment.pk])
    assert desk.post(back, {"because": "Another house"}).status_code == 302
    assert "has its counter-entry already" in desk.post(back, {"because": "Again"}).content.decode()
    assert sum(Payment.objects.values_list("amount", flat=True)) == 0


def test_a_cancellation_names_the_refund_first_and_twice_is_refused(desk: Client, plan: Agreement) -> None:
    address = reverse("plans:cancel", args=[plan.pk])
    # 265 of 365 days of $386.90 are $280.90, worked by hand.
    assert "$280.90 comes off the invoice" in desk.get(address).content.decode()
    assert desk.post(address, {"when": "now", "because": ""}).status_code == 302
    assert "Once is enough" in desk.post(address, {"when": "now", "because": ""}).content.decode()


def test_the_invoice_is_one_tagged_page_that_says_it_is_no_warranty(
    desk: Client, invoice: Invoice, nora: User
) -> None:
    record_payment(
        invoice_id=invoice.pk, amount=Decimal("100.00"), way="check", on=today(), by_user=nora, at=clock.now()
    )
    answer = desk.get(reverse("plans:invoice", args=[invoice.pk]))
    reader = PdfReader(BytesIO(answer.content))
    text = " ".join(reader.pages[0].extract_text().split())
    assert len(reader.pages) == 1
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert f"Invoice {invoice.number}" in reader.metadata["/Title"]
    for words in ("$365.00", "$21.90", "$386.90", "$286.90", "A service contract, not a warranty", "How to cancel"):
        assert words in text


def test_both_papers_keep_every_rule_of_the_standard_for_accessible_documents(
    desk: Client, plan: Agreement, invoice: Invoice, nora: User, tmp_path: Path
) -> None:
    """ISO 14289-1 (PDF/UA-1), judged by the veraPDF rules; a plain page is the negative control."""
    cancel(agreement_id=plan.pk, way="office", because="", by=nora.actor, at=clock.now())
    papers = {"invoice": invoice, "note": Invoice.objects.get(credits=invoice)}
    asked = []
    for name, paper in papers.items():
        (tmp_path / name).write_bytes(desk.get(reverse("plans:invoice", args=[paper.pk])).content)
        asked.append(("PDFUA-1", tmp_path / name))
    (tmp_path / "plain").write_bytes(weasyprint.HTML(string="<p>No tags").write_pdf())
    told = judge(*asked, ("PDFUA-1", tmp_path / "plain"))
    assert [(complies, broken) for complies, broken in told[:2]] == [(True, set()), (True, set())]
    assert not told[2][0]


def test_a_credit_note_names_its_invoice(desk: Client, plan: Agreement, invoice: Invoice, nora: User) -> None:
    cancel(agreement_id=plan.pk, way="office", because="", by=nora.actor, at=clock.now())
    note = Invoice.objects.get(credits=invoice)
    answer = desk.get(reverse("plans:invoice", args=[note.pk]))
    text = PdfReader(BytesIO(answer.content)).pages[0].extract_text()
    assert "Credit note" in text
    assert invoice.number in text
    assert desk.get(reverse("plans:pay", args=[note.pk])).status_code == 404


def test_the_revenue_page_and_its_rows_add_up(managers_desk: Client, plan: Agreement) -> None:
    asked = {"from_on": plan.from_on.isoformat(), "until_on": today().isoformat()}
    page = managers_desk.get(reverse("plans:revenue"), asked).content.decode()
    # 101 days, both ends included, of $365.00 over 365 days.
    assert "$101.00" in page
    assert "$264.00" in page
    rows = list(csv.DictReader(StringIO(managers_desk.get(reverse("plans:revenue_table"), asked).content.decode())))
    assert [(row["billed"], row["recognised"], row["closing"]) for row in rows] == [("365.00", "101.00", "264.00")]
    turned = managers_desk.get(reverse("plans:revenue"), {"from_on": "2026-02-01", "until_on": "2026-01-01"})
    assert "Turn them round" in turned.content.decode()


def test_the_manager_drafts_publishes_and_is_told_what_lacks(managers_desk: Client, company: object) -> None:
    typed = {
        "title": "Yearly warranty",
        "edition": "e1",
        "price": "-5",
        "tax_percent": "6",
        "visits_a_year": "1",
        "minor_parts_up_to": "0",
        "included": "A visit",
        "full_refund_days": "3",
        "cancellation": "",
        "disclosures": "",
    }
    address = reverse("plans:draft_offer")
    assert "may not be titled" in managers_desk.post(address, typed).content.decode()
    assert "price has to be more" in managers_desk.post(address, {**typed, "title": "Yearly care"}).content.decode()
    made = managers_desk.post(address, {**typed, "title": "Yearly care", "price": "99.00"})
    offer = PlanOffer.objects.get()
    assert made["Location"] == reverse("plans:offer", args=[offer.pk])
    assert "how it is cancelled" in managers_desk.post(made["Location"]).content.decode()
    better = {**typed, "title": "Yearly care", "price": "99.00", "full_refund_days": "30"}
    managers_desk.post(
        reverse("plans:change_offer", args=[offer.pk]),
        {**better, "cancellation": "By a call.", "disclosures": "No pumps."},
    )
    assert managers_desk.post(made["Location"]).status_code == 302
    offer.refresh_from_db()
    assert offer.is_open


def test_a_renewal_rule_is_changed_and_a_bad_one_refused(managers_desk: Client, company: object) -> None:
    address = reverse("plans:renewal_rule", args=["NY"])
    refused = managers_desk.post(address, {"first_days": "10", "last_days": "20", "source": "x"})
    assert "the larger number first" in refused.content.decode()
    assert managers_desk.post(address, {"first_days": "20", "last_days": "10", "source": "x"}).status_code == 302
    assert managers_desk.get(reverse("plans:renewal_rule", args=["ZZ"])).status_code == 404


def test_the_owner_reads_what_is_in_it_and_cancels_in_as_many_steps_as_it_took_to_agree(
    ownership: Ownership, offer: PlanOffer
) -> None:
    browser = opened(ownership)
    assert reverse("portal:plan_agree") in browser.get(reverse("portal:house")).content.decode()
    typed = {"offer": offer.pk, "renews": "asks"}
    no = browser.post(reverse("portal:plan_agree"), typed)
    assert "agreed to in so many words" in no.content.decode()
    assert browser.post(reverse("portal:plan_agree"), {**typed, "consent": "on"}).status_code == 302
    plan = Agreement.objects.get()
    assert (plan.person_id, plan.agreed_way) == (ownership.person_id, "page")
    page = browser.get(reverse("portal:house")).content.decode()
    cancel_address = reverse("portal:plan_cancel", args=[plan.pk])
    assert cancel_address in page
    assert "It does not renew unless you say yes" in page
    assert "$386.90 comes off the invoice" in browser.get(cancel_address).content.decode()
    assert browser.post(cancel_address, {"when": "now", "because": ""}).status_code == 302
    assert "cancelled" in browser.get(reverse("portal:house")).content.decode()
    assert browser.post(cancel_address, {"when": "now", "because": ""}).status_code == 200


def test_the_owner_stops_the_renewal_and_keeps_the_year(ownership: Ownership, offer: PlanOffer) -> None:
    plan = plan_for(ownership, offer, renews="automatic")
    browser = opened(ownership)
    address = reverse("portal:plan_cancel", args=[plan.pk])
    assert browser.post(address, {"when": "end", "because": ""}).status_code == 302
    plan.refresh_from_db()
    assert (plan.renews, plan.cancelled_on) == ("no", None)


def test_the_owner_renews_after_the_notice(ownership: Ownership, offer: PlanOffer) -> None:
    plan = plan_for(ownership, offer, days_ago=365 - 40)
    browser = opened(ownership)
    address = reverse("portal:plan_renew", args=[plan.pk])
    assert "nothing to renew" in browser.get(address).content.decode()
    send_renewal_notices(on=today(), at=clock.now())
    assert RenewalNotice.objects.exists()
    assert "together $386.90" in browser.get(address).content.decode()
    assert browser.post(address, {"consent": "on"}).status_code == 302
    assert Agreement.objects.get(follows=plan).from_on == plan.until_on


def test_a_buyer_sees_nothing_of_the_sellers_plan_but_may_take_over_the_rest(
    plan: Agreement, invoice: Invoice, ownership: Ownership, buyer: Person, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        theirs = hand_over(
            property_id=plan.property_id, person_id=buyer.pk, on=today(), by=SYSTEM, at=clock.now()
        )
    browser = opened(theirs)
    page = browser.get(reverse("portal:house")).content.decode()
    assert invoice.number not in page
    assert browser.get(reverse("portal:plan_invoice", args=[invoice.pk])).status_code == 404
    assert browser.get(reverse("portal:plan_cancel", args=[plan.pk])).status_code == 404
    choice = browser.get(reverse("portal:plan_agree")).content.decode()
    assert "nothing passes to you by itself" in choice
    assert browser.post(reverse("portal:plan_agree"), {"what": "take_over"}).status_code == 200
    taken = browser.post(reverse("portal:plan_agree"), {"what": "take_over", "rest-consent": "on"})
    assert taken.status_code == 302
    assert Agreement.objects.get(takes_over=plan).person == buyer


def test_the_house_file_lists_the_plans(desk: Client, plan: Agreement) -> None:
    page = desk.get(reverse("office:house", args=[plan.property_id])).content.decode()
    assert reverse("plans:agreement", args=[plan.pk]) in page
