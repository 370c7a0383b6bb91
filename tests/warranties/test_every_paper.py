"""Every PDF that the system makes, in one table: named, in its language, tagged, and judged by the published rules.

ISO 14289-1 (PDF/UA-1), by the veraPDF rules, which share nothing with the library that makes the papers.
"""

import ast
import io
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import Company, User
from contractor.checkups.models import CheckUp
from contractor.checkups.reports import report_pdf
from contractor.core.audit import Actor
from contractor.notices import printing
from contractor.notices.letters import letter_pdf
from contractor.notices.models import Notice
from contractor.plans.actions.agreements import agree
from contractor.plans.documents import invoice_pdf
from contractor.plans.models import Invoice
from contractor.properties.models import Person
from contractor.visits.board.loads import printed_rounds
from contractor.visits.board.papers import round_sheet
from contractor.warranties.acceptance_paper import acceptance_pdf
from contractor.warranties.actions import certifying
from contractor.warranties.actions.claim_costs import give_goodwill
from contractor.warranties.actions.claim_letters import letter_file
from contractor.warranties.actions.claims import decide_claim, report_claim
from contractor.warranties.claim_tables import ClaimLetter
from contractor.warranties.documents import terms_pdf, warranty_pdf
from contractor.warranties.liability_assumed import Typed
from contractor.warranties.liability_facts import reckoned_liability
from contractor.warranties.liability_papers import liability_pdf
from contractor.warranties.models import Claim, Warranty
from contractor.warranties.queries import terms_of
from tests.factories import CatalogueModelFactory
from tests.notices.factories import NoticeFactory
from tests.plans.made import YES, new_offer, noon
from tests.visits.board.town import TUESDAY, given
from tests.warranties.test_transfer import ask
from tests.warranties.verapdf import judge

pytestmark = pytest.mark.django_db


class House(NamedTuple):
    """Iris's house with its warranty, and whoever works on it."""

    warranty: Warranty
    buyer: Person
    company: Company
    nora: User
    ruth: User
    theo: User
    office: Actor
    on: date
    at: datetime
    desk: Client


@pytest.fixture
def house(
    cared_for: Warranty, buyer: Person, company: Company, nora: User, ruth: User, theo: User, office: Actor, on: date,
    at: datetime, signed_in_as: Callable[[User], Client],
) -> House:  # fmt: skip
    return House(cared_for, buyer, company, nora, ruth, theo, office, on, at, signed_in_as(nora))


def certificate(house: House) -> bytes:
    made = certifying.issue_certificate(warranty_id=house.warranty.pk, on=house.on, by=house.office, at=house.at)
    return bytes(certifying.certificate_file(certificate_id=made.pk).open("rb").read())


def written_warranty(house: House) -> bytes:
    return warranty_pdf(house.warranty)


def terms(house: House) -> bytes:
    return terms_pdf(terms_of(house.warranty), made_at=house.at)


def acceptance(house: House) -> bytes:
    return acceptance_pdf(ask(house.warranty, house.buyer, house.office, house.at))


def letter(house: House) -> bytes:
    ask(house.warranty, house.buyer, house.office, house.at)
    return letter_pdf(Notice.objects.get(template="transfer_asked"))


def days_post(house: House) -> bytes:
    """Two letters of which the first has one page, so that an empty page lies between them."""
    for _ in range(2):
        property_ = house.warranty.system.property
        NoticeFactory(channel="letter", address="", property=property_, text="Dear owner,\n\n...", html="")
    return bytes(house.desk.get(reverse("notices:post_letters")).content)


def claim_letter(house: House) -> bytes:
    claim = report_claim(
        warranty_id=house.warranty.pk, part_kind="primary_pump", lost_on=date(2024, 5, 14),
        reported_on=date(2026, 5, 1), what="It stopped.", cause="not_known", by=house.office, at=house.at,
    )  # fmt: skip
    decide_claim(claim_id=claim.pk, cost=Decimal("500.00"), by_user=house.nora, at=house.at, cause="part_failed")
    return bytes(letter_file(letter_id=ClaimLetter.objects.get().pk).open("rb").read())


def goodwill_letter(house: House) -> bytes:
    claim_letter(house)
    given = give_goodwill(
        claim_id=Claim.objects.get().pk, amount=Decimal("80.00"), because="For your patience", by_user=house.ruth,
        at=house.at,
    )  # fmt: skip
    return bytes(letter_file(letter_id=given.letter.pk).open("rb").read())


def liability(house: House) -> bytes:
    typed = Typed(costs={"pit": Decimal(900)}, years={"pit": Decimal(40)})
    return liability_pdf(reckoned_liability(from_on=date(2025, 1, 1), until_on=date(2025, 12, 31), typed=typed), None)


def invoice(house: House) -> bytes:
    agree(
        property_id=house.warranty.system.property_id, offer_id=new_offer(house.ruth, house.at).pk, from_on=house.on,
        renews="asks", consent=YES, by=house.office, at=noon(house.on),
    )  # fmt: skip
    return invoice_pdf(Invoice.objects.get())


def report(house: House) -> bytes:
    return report_pdf(CheckUp.objects.latest("done_on"))


def recommendation(house: House) -> bytes:
    battery = CatalogueModelFactory(
        part_kind="battery", maker="Northfold", name="Stillmat 150",
        data={"chemistry": "agm", "capacity_ah": 150.0, "rate_h": 20.0, "expected_years_at_25c": 6.0},
    )  # fmt: skip
    path = reverse("estimates:recommendation", args=[house.warranty.system_id])
    return bytes(house.desk.get(path, {"battery": battery.pk, "outage_h": "24"}).content)


def sheet_of_a_round(house: House) -> bytes:
    stop = given(house.theo, 1, arrive_from=time(9), arrive_until=time(11))
    stop.request.carry = "Battery G31"
    stop.request.save()
    [printed] = printed_rounds(TUESDAY, TUESDAY, technician=house.theo)
    return round_sheet(printed)


# The maker, and what its title begins with. Each is made by the template beside it.
PAPERS: list[tuple[Callable[[House], bytes], str, str]] = [
    (certificate, "Certificate of limited warranty ", "warranties/certificate.html"),
    (written_warranty, "", "warranties/document.html"),
    (terms, "", "warranties/document.html"),
    (acceptance, "", "warranties/acceptance.html"),
    (letter, "", "notices/letter.html"),
    (days_post, "Letters to post, ", "notices/letter.html"),
    (claim_letter, "Decision on your claim, primary pump", "warranties/claim_letter.html"),
    (goodwill_letter, "Goodwill on your claim, primary pump", "warranties/goodwill_letter.html"),
    (liability, "Warranty liability, January 1, 2025", "warranties/liability_paper.html"),
    (invoice, "Invoice ", "plans/invoice.html"),
    (report, "", "checkups/report.html"),
    (recommendation, "Recommendation for 12 Millrace Lane", "estimates/recommendation.html"),
    (sheet_of_a_round, "Round of Theo Marsh, ", "visits/round_sheet.html"),
]


@pytest.mark.parametrize(("make", "title", "template"), PAPERS, ids=[row[0].__name__ for row in PAPERS])
def test_every_paper_is_named_in_its_language_and_tagged_by_the_published_rules(
    make: Callable[[House], bytes], title: str, template: str, house: House, tmp_path: Path
) -> None:
    body = make(house)
    root: Any = PdfReader(io.BytesIO(body)).trailer["/Root"]
    named = PdfReader(io.BytesIO(body)).metadata
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert named is not None
    assert named.title
    assert named.title.startswith(title)
    (tmp_path / "paper.pdf").write_bytes(body)
    assert judge(("PDFUA-1", tmp_path / "paper.pdf")) == [(True, set())]


def test_an_untagged_paper_is_found_by_the_same_rules(
    house: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The negative control: the same papers as they were before everything was tagged."""
    monkeypatch.setattr(printing, "_tagged", dict)
    asked = []
    for make in (liability, sheet_of_a_round, days_post):
        path = tmp_path / f"{make.__name__}.pdf"
        path.write_bytes(make(house))
        asked.append(("PDFUA-1", path))
    assert [complies for complies, _ in judge(*asked)] == [False, False, False]


def test_no_paper_is_left_out_of_the_table() -> None:
    """Every call that makes a PDF names its template, and every such template stands in the table above."""
    made = set()
    for path in Path(settings.BASE_DIR, "contractor").rglob("*.py"):
        for call in (node for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Call)):
            name = getattr(call.func, "id", getattr(call.func, "attr", ""))
            if name in {"render_pdf", "render_together"}:
                assert isinstance(call.args[0], ast.Constant), path
                made.add(call.args[0].value)
            # Nobody makes a PDF past the one place that tags it.
            assert name != "write_pdf" or path.name == "printing.py", path
    assert made == {template for _, _, template in PAPERS}
