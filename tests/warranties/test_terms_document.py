"""An edition on paper with blanks where a house would stand: tagged, in both sizes, the same bytes every time."""

import io
import json
from datetime import datetime
from pathlib import Path

import pytest
from pypdf import PdfReader

from contractor.accounts.models import Company
from contractor.warranties.actions.terms import with_warrantor
from contractor.warranties.documents import terms_pdf, warranty_pdf
from contractor.warranties.models import TermsEdition, Warranty
from contractor.warranties.rules.disclosures import CONSEQUENTIAL_SENTENCE, IMPLIED_SENTENCE, RIGHTS_SENTENCE
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.terms import Terms
from tests.warranties.verapdf import judge

pytestmark = pytest.mark.django_db

TEMPLATES = sorted((Path(__file__).parents[2] / "fixtures" / "terms" / "templates").glob("*.json"))


def template(path: Path) -> Terms:
    return with_warrantor(terms_from_data(json.loads(path.read_text(encoding="utf-8"))))


def text_of(body: bytes, page: int | None = None) -> str:
    pages = PdfReader(io.BytesIO(body)).pages
    chosen = pages if page is None else [pages[page]]
    return " ".join(" ".join(one.extract_text() for one in chosen).split())


# ISO 216 gives A4 as 210 by 297 mm; Letter is 8.5 by 11 inches. Both in points of 1/72 inch.
SIZES = [("letter", 612.0, 792.0), ("a4", 210 / 25.4 * 72, 297 / 25.4 * 72)]


@pytest.mark.parametrize(("paper", "width", "height"), SIZES)
def test_an_edition_is_printed_in_both_sizes(
    paper: str, width: float, height: float, terms: TermsEdition, at: datetime
) -> None:
    body = terms_pdf(terms_from_data(terms.data), made_at=at, paper=paper)  # type: ignore[arg-type]
    for page in PdfReader(io.BytesIO(body)).pages:
        assert float(page.mediabox.width) == pytest.approx(width, abs=0.6)
        assert float(page.mediabox.height) == pytest.approx(height, abs=0.6)
    text = text_of(body)
    for said in (
        "To read before you buy",
        "name of the owner",
        "street and town",
        "300 months (25 years) from the day of issue",
        "36 months (3 years) from the day each battery is put in",
        "For the life of the structure",
        "210 50 % $500.00 $500.00",
    ):
        assert said in text, said
    face = text_of(body, 0)
    # 16 CFR 701.3(a)(7) to (9), on the face.
    for sentence in (IMPLIED_SENTENCE, CONSEQUENTIAL_SENTENCE, RIGHTS_SENTENCE):
        assert sentence in face


def test_the_same_edition_gives_the_same_bytes(terms: TermsEdition, at: datetime) -> None:
    read = terms_from_data(terms.data)
    assert terms_pdf(read, made_at=at) == terms_pdf(read, made_at=at)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.stem)
def test_every_template_is_designated_in_print_as_its_country_asks(path: Path, company: Company, at: datetime) -> None:
    edition = template(path)
    face = text_of(terms_pdf(edition, made_at=at), 0)
    assert edition.title in face
    assert edition.kind_in_words.capitalize() in face
    assert edition.rights_sentence in face
    assert ("State to State" in face) is (edition.jurisdiction == "US")


def test_edition_and_issued_warranty_are_accessible_by_the_published_rules(
    warranty: Warranty, at: datetime, tmp_path: Path
) -> None:
    """ISO 14289-1 (PDF/UA-1), judged by the veraPDF rules; the certificate's tests hold the negative control."""
    edition, issued = tmp_path / "edition.pdf", tmp_path / "issued.pdf"
    edition.write_bytes(terms_pdf(terms_from_data(warranty.terms.data), made_at=at, paper="a4"))
    issued.write_bytes(warranty_pdf(warranty))
    assert judge(("PDFUA-1", edition), ("PDFUA-1", issued)) == [(True, set())] * 2
