"""The pages of a company in Canada and of one in the United States: each names its own dollar, in each place.

Expected forms as on the papers: Unicode CLDR's sign of the Canadian dollar in English of the United States ("CA$") and
the short day of the locale en-CA (2026-05-04).
"""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Company, User
from contractor.core import clock
from contractor.core.audit import SYSTEM
from contractor.core.templatetags.country_style import amount_in_words, in_money, written_for
from contractor.plans.actions.agreements import agree
from contractor.plans.actions.invoices import record_payment
from contractor.plans.actions.offers import draft_offer
from contractor.properties.actions import make_owner_link
from contractor.properties.models import Ownership, Person
from contractor.systems.models import System
from contractor.warranties.actions import claim_costs, issuing
from contractor.warranties.actions import terms as terms_actions
from contractor.warranties.actions.transfers import ask_transfer
from contractor.warranties.models import Warranty
from contractor.warranties.rules.plain_data import terms_to_data
from tests.factories import SystemFactory
from tests.plans.made import VALUES, YES, new_offer
from tests.warranties.factories import checkup_done, furnish, published_terms, terms_data
from tests.warranties.test_claim_costs import decided_claim
from tests.warranties.test_rules_canada import canadian

SIGNS = {"US": "$", "CA": "CA$"}
PLAIN_DOLLAR = re.compile(r"(?<!CA)\$")
# A short day as the United States writes it; May is left out, because the long form has it too.
AMERICAN_SHORT_DAY = re.compile(r"\b(?:Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec) \d{1,2}, \d{4}")
PAID, DECIDED = date(2026, 5, 4), date(2026, 4, 28)

# Who opens which page, under which key, and what stands on it, with {} for the sign of the money.
PAGES: list[tuple[str, str, str, tuple[str, ...]]] = [
    ("office", "plans:offers", "", ("{}365.00",)),
    ("office", "plans:draft_offer", "", ("Price a year, before tax ({})", "Minor parts up to ({})")),
    ("office", "plans:offer", "offer_id", ("{}365.00",)),
    ("office", "plans:change_offer", "draft_id", ("Price a year, before tax ({})",)),
    ("office", "plans:agreements", "", ("{}286.90",)),
    ("office", "plans:agreement", "agreement_id", ("{}365.00", "{}386.90", "{}100.00")),
    ("office", "plans:agree", "other_id", ("one visit, {}365.00 a year",)),
    ("office", "plans:pay", "invoice_id", ("Amount ({})", "{}286.90")),
    ("office", "plans:correct_payment", "payment_id", ("{}100.00",)),
    ("office", "plans:revenue", "", ("{}",)),
    ("office", "warranties:terms_edition", "terms_id", ("{}120.00",)),
    ("office", "warranties:change_terms", "draft_terms_id", ("Our charge for it ({})", "Call-out fee ({})")),
    ("office", "warranties:transfer", "transfer_id", ("{}120.00",)),
    ("office", "warranties:review_transfer", "transfer_id", ("{}120.00",)),
    ("office", "warranties:claim", "claim_id", ("{}500.00", "{}144.00", "we pay {}500.00")),
    ("office", "warranties:book_cost", "claim_id", ("Amount, {}",)),
    ("office", "warranties:give_goodwill", "claim_id", ("Amount, {}",)),
    ("office", "warranties:costs", "", ("{}144.00",)),
    ("office", "warranties:liability", "", ("in {}", "{}")),
    ("office", "office:house", "house_id", ()),
    ("office", "office:today", "", ()),
    ("owner", "portal:house", "", ()),
    ("owner", "portal:claim", "claim_id", ("{}500.00",)),
    ("owner", "portal:plan_cancel", "agreement_id", ("{}",)),
    ("owner", "portal:transfer_seller", "transfer_id", ("{}120.00",)),
    ("other", "portal:plan_agree", "", ("{}365.00", "one visit, {}365.00 a year")),
]


@pytest.fixture(params=["US", "CA"])
def country(request: pytest.FixtureRequest, company: Company) -> str:
    if request.param == "CA":
        company.country, company.state, company.postcode = Company.Country.CANADA, "ON", "K7L 0A0"
        company.save()
    return str(request.param)


@pytest.fixture
def warranty(country: str, system: System, theo: User, nora: User, at: datetime) -> Warranty:
    """On the terms of the country, with a fee for a change of owner and one for a call."""
    if country == "CA":
        terms = canadian()
        assert terms.transfer is not None
        terms = replace(
            terms,
            transfer=replace(terms.transfer, fee=Decimal("120.00")),
            promises=tuple(replace(one, callout_fee=Decimal("60.00")) for one in terms.promises),
        )
        edition = published_terms(**terms_to_data(terms))
    else:
        data = terms_data()
        promises = [{**one, "callout_fee": "60.00"} for one in data["promises"]]
        edition = published_terms(transfer={**data["transfer"], "fee": "120.00"}, promises=promises)
    furnish(system)
    checkup_done(system, date(2026, 4, 25), theo)
    return issuing.issue_warranty(
        system_id=system.pk, terms_id=edition.pk, issued_on=date(2020, 5, 14), by=nora.actor, at=at
    )


@pytest.fixture
def keys(
    warranty: Warranty,
    ownership: Ownership,
    buyer: Person,
    neighbour: Ownership,
    nora: User,
    ruth: User,
    on: date,
    at: datetime,
    monkeypatch: pytest.MonkeyPatch,
) -> dict[str, int]:
    """A year of money at one house, and the keys under which its pages are found."""
    monkeypatch.setattr(clock, "today", lambda: on)
    monkeypatch.setattr(clock, "now", lambda: at)
    offer = new_offer(ruth, at)
    house_id = ownership.property_id
    plan = agree(property_id=house_id, offer_id=offer.pk, from_on=on, renews="asks", consent=YES, by=ruth.actor, at=at)
    invoice = plan.invoices.get()
    paid = {"amount": Decimal("100.00"), "way": "cash", "on": PAID}
    payment = record_payment(invoice_id=invoice.pk, by_user=ruth, at=at, **paid)
    claim = decided_claim(warranty, nora, at, company="500.00")
    cost = {"kind": "labor", "amount": Decimal("144.00"), "on": DECIDED, "note": "3 hours"}
    claim_costs.book_cost(claim_id=claim.pk, by_user=nora, at=at, **cost)
    claim_costs.give_goodwill(
        claim_id=claim.pk, amount=Decimal("70.00"), because="A customer for long", by_user=ruth, at=at
    )
    copied = {**warranty.terms.data, "edition": "next", "warrantor": None}
    sold = {"closing_on": date(2026, 5, 1), "notified_on": date(2026, 4, 20)}
    return {
        "house_id": house_id,
        "other_id": neighbour.property_id,
        "offer_id": offer.pk,
        "draft_id": draft_offer(values={**VALUES, "edition": "next"}, by=SYSTEM, at=at).pk,
        "agreement_id": plan.pk,
        "invoice_id": invoice.pk,
        "payment_id": payment.pk,
        "claim_id": claim.pk,
        "terms_id": warranty.terms_id,
        "draft_terms_id": terms_actions.draft_terms(data=copied, by=SYSTEM, at=at).pk,
        "transfer_id": ask_transfer(warranty_id=warranty.pk, buyer_id=buyer.pk, by=nora.actor, at=at, **sold).pk,
    }


def opened(ownership: Ownership, at: datetime) -> Client:
    browser = Client()
    browser.post(reverse("portal:link", args=[make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=at)]))
    return browser


def words_of(answer: Any) -> str:
    """What is read on the page: its text without tags and the addresses in them."""
    page = answer.content.decode()
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page[page.index("<main") : page.index("</main>")])).split())


def test_every_page_names_the_dollar_of_its_company(
    country: str,
    keys: dict[str, int],
    ownership: Ownership,
    neighbour: Ownership,
    ruth: User,
    at: datetime,
    signed_in_as: Callable[[User], Client],
) -> None:
    browsers = {"office": signed_in_as(ruth), "owner": opened(ownership, at), "other": opened(neighbour, at)}
    SystemFactory(property=neighbour.property, installed_on=date(2020, 5, 14))
    for who, name, key, expected in PAGES:
        answer = browsers[who].get(reverse(name, args=[keys[key]] if key else []))
        assert answer.status_code == 200, name
        text = words_of(answer)
        for words in expected:
            assert words.format(SIGNS[country]) in text, f"{name}: {words}"
        if country == "CA":
            assert not PLAIN_DOLLAR.search(text), f"{name}: {PLAIN_DOLLAR.search(text)}"
            assert not AMERICAN_SHORT_DAY.search(text), f"{name}: {AMERICAN_SHORT_DAY.search(text)}"
        else:
            assert "CA$" not in text, name


def test_a_refusal_names_the_dollar_as_well(
    country: str, keys: dict[str, int], ruth: User, signed_in_as: Callable[[User], Client]
) -> None:
    address = reverse("plans:pay", args=[keys["invoice_id"]])
    typed = {"amount": "999.00", "way": "cash", "on": "2026-05-04"}
    shown = words_of(signed_in_as(ruth).post(address, typed))
    assert f"Only {SIGNS[country]}286.90 is owed" in shown


def test_what_an_owner_agreed_to_is_kept_in_the_dollar_of_the_company(country: str, keys: dict[str, int]) -> None:
    from contractor.plans.models import Agreement

    assert f"{SIGNS[country]}365.00" in Agreement.objects.get(pk=keys["agreement_id"]).consent_words


def test_a_label_is_written_when_it_is_shown_and_nothing_stays_behind() -> None:
    label = in_money("Fee ({})")
    with written_for("CA"):
        assert (str(label), amount_in_words(Decimal("5"))) == ("Fee (CA$)", "CA$5.00")
    assert (str(label), amount_in_words(Decimal("5")), amount_in_words(Decimal("5"), "CA")) == (
        "Fee ($)",
        "$5.00",
        "CA$5.00",
    )


def test_one_page_of_a_canadian_company_leaves_the_next_ones_alone(company: Company) -> None:
    company.country = Company.Country.CANADA
    company.save()
    Client().get(reverse("portal:check"))
    assert amount_in_words(Decimal("5")) == "$5.00"
