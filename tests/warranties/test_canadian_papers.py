"""Papers of a Canadian company: amounts that no neighbour misreads, days and hours as written there.

Expected forms: Unicode CLDR, locale en-CA for days and hours (short date y-MM-dd, "3:05 p.m."), and the sign that
English of the United States gives the Canadian dollar ("CA$").
"""

import io
import re
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from pypdf import PdfReader

from contractor.accounts.models import Company, User
from contractor.core.audit import Actor
from contractor.core.templatetags import marks
from contractor.core.templatetags.country_style import written_for
from contractor.notices.models import Notice
from contractor.properties.models import Person
from contractor.systems.models import System
from contractor.warranties.acceptance_paper import acceptance_pdf
from contractor.warranties.actions import certifying, issuing
from contractor.warranties.certificates import certificate_pdf
from contractor.warranties.documents import warranty_pdf
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Warranty
from contractor.warranties.queries import facts_of
from contractor.warranties.rules.plain_data import terms_from_data, terms_to_data
from contractor.warranties.rules.transfers import Request, transfer_requirements
from contractor.warranties.rules.wording import money_in_words
from tests.warranties.factories import checkup_done, furnish, published_terms
from tests.warranties.test_rules_canada import canadian
from tests.warranties.test_transfer import ask

PLAIN_DOLLAR = re.compile(r"(?<!CA)\$")
AMERICAN_DAY = re.compile(r"\b\d{1,2}/\d{1,2}/\d{2,4}\b")

STYLES: list[tuple[str, Any, str, str]] = [
    ("money", Decimal("1234.5"), "$1,234.50", "CA$1,234.50"),
    ("money", Decimal("-12"), "−$12.00", "−CA$12.00"),
    ("money", Decimal("-0.001"), "$0.00", "CA$0.00"),
    ("money", None, "", ""),
    ("money", "nonsense", "", ""),
    ("short_day", date(2031, 5, 4), "May 4, 2031", "2031-05-04"),
    ("day", date(2031, 5, 4), "May 4, 2031", "May 4, 2031"),
    (
        "moment",
        datetime(2031, 5, 14, 19, 5, tzinfo=UTC),
        "May 14, 2031, 3:05 PM EDT",
        "May 14, 2031, 3:05 p.m. EDT",
    ),
]


@pytest.mark.parametrize(("name", "value", "home", "canada"), STYLES)
def test_a_paper_is_written_in_the_style_of_its_country(name: str, value: Any, home: str, canada: str) -> None:
    write = getattr(marks, name)
    with written_for("CA"):
        # CLDR puts narrow spaces that do not break between the hour and its half.
        assert re.sub(r"[\u202f\xa0]", " ", write(value)) == canada
    assert write(value) == home


def test_sentences_under_canadian_terms_name_their_dollar() -> None:
    assert money_in_words(Decimal("150")) == "$150.00"
    assert money_in_words(Decimal("1234.5"), "CA") == "CA$1,234.50"


@pytest.fixture
def canadian_company(company: Company) -> Company:
    company.country, company.state, company.postcode = Company.Country.CANADA, "ON", "K7L 0A0"
    company.save()
    return company


@pytest.fixture
def warranty(canadian_company: Company, system: System, theo: User, office: Actor, at: datetime) -> Warranty:
    """Issued on the Canadian terms that ship with the project, with a fee for a change of owner."""
    terms = canadian()
    assert terms.transfer is not None
    rule = replace(terms.transfer, fee=Decimal("120.00"), checkup_within_days=90)
    promises = tuple(replace(one, callout_fee=Decimal("60.00")) for one in terms.promises)
    words = "If the house is sold, the new owner can take over this warranty. Tell us no later than 60 days after."
    data = terms_to_data(replace(terms, transfer=rule, promises=promises, transfer_words=words))
    edition = published_terms(**data)
    furnish(system)
    checkup_done(system, date(2026, 4, 25), theo)
    return issuing.issue_warranty(
        system_id=system.pk, terms_id=edition.pk, issued_on=date(2020, 5, 14), by=office, at=at
    )


def text_of(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())


def test_every_paper_and_letter_of_a_sale_names_its_dollar_and_has_no_american_day(
    warranty: Warranty, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    transfer = ask(warranty, buyer, office, at)
    certificate = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at)
    facts = certificate.facts
    papers = {
        "document": text_of(warranty_pdf(warranty)),
        "acceptance": text_of(acceptance_pdf(transfer)),
        "certificate": text_of(certificate_pdf(freeze(facts), facts)),
        **{notice.template: notice.text for notice in Notice.objects.filter(template__startswith="transfer_")},
    }
    assert {"transfer_asked", "transfer_asked_buyer"} < set(papers)
    for name, text in papers.items():
        assert "CA$" in text, name
        assert not PLAIN_DOLLAR.search(text), name
        assert not AMERICAN_DAY.search(text), name
    assert "2026-04-25" in papers["certificate"]


def test_a_certificate_keeps_the_style_of_the_day_it_was_issued(
    warranty: Warranty, canadian_company: Company, office: Actor, on: date, at: datetime
) -> None:
    facts = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at).facts
    before = certificate_pdf(freeze(facts), facts)
    canadian_company.country = Company.Country.UNITED_STATES
    canadian_company.save()
    assert certificate_pdf(freeze(facts), facts) == before


def test_a_certificate_from_before_the_country_was_kept_reads_as_it_did(
    warranty: Warranty, office: Actor, on: date, at: datetime
) -> None:
    facts = certifying.issue_certificate(warranty_id=warranty.pk, on=on, by=office, at=at).facts
    del facts["company"]["country"]
    assert "Apr 25, 2026" in text_of(certificate_pdf(freeze(facts), facts))


def test_the_fee_is_asked_for_in_its_dollar(warranty: Warranty, on: date) -> None:
    request = Request(closing_on=on, notified_on=on, seller_is_owner=True)
    needs = transfer_requirements(terms_from_data(warranty.terms.data), facts_of(warranty), request)
    [fee] = [need for need in needs if need.code == "fee"]
    assert fee.sentence == "Collect the transfer fee of CA$120.00 before the certificate is issued."
