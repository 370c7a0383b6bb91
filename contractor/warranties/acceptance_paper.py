"""The document by which a buyer takes a warranty over: read on screen, or printed and signed on paper.

The same facts give the same bytes, so that what was shown and what is accepted can be compared by their hash.
"""

import hashlib

from django.utils.safestring import mark_safe

from contractor.accounts.models import Company
from contractor.notices.printing import render_pdf
from contractor.systems.drawing import section_drawing
from contractor.warranties.archive_metadata import accessible_archive
from contractor.warranties.models import Transfer
from contractor.warranties.taking_over import taking_over

# The statements of the Electronic Signatures in Global and National Commerce Act, 15 U.S.C. 7001(c)(1): the right to
# paper, its cost, what the consent covers, how to take it back and what follows, how to stay in touch, what is needed.
CONSENT = (
    "You need not do this on a screen. You may have everything on paper, now and later, at no charge: call {phone}, or "
    "download the document, print it and sign it.",
    "If you agree, your agreement covers this document and its acceptance, nothing else.",
    "You may take it back at no charge until the certificate is issued, on this page or by calling {phone}. Then we "
    "send the paper; the certificate waits until it is signed.",
    "Tell us at {phone} or {email} when your e-mail address changes.",
    "You need a phone, tablet or computer with a web browser of the last five years, a program that shows PDF files, "
    "room to keep about 1 MB, and an e-mail address. If you can open the document below, you have all that is needed.",
)
INTENT = "I have read the document. I take the warranty over on its terms from the closing day."


def consent_lines(company: Company) -> list[str]:
    """What somebody is told before they agree to accept electronically."""
    words = {"phone": company.phone, "email": company.email}
    return [line.format(**words) for line in CONSENT]


def acceptance_pdf(transfer: Transfer) -> bytes:
    """The document as it is now; it says nothing of the seller, and ends in lines to sign on paper."""
    taken = taking_over(transfer)
    house = transfer.warranty.system.property
    drawing = section_drawing(
        taken.parts,
        title=f"The system at {house.street_line}",
        description="A section through the basement with every part that is installed; not to scale.",
        walls=[f"{wall.wall.letter} {wall.wall.name}" for wall in taken.walls],
        prefix="acceptance",
        compact=True,
    )
    return render_pdf(
        "warranties/acceptance.html",
        {
            "transfer": transfer,
            "taken": taken,
            "terms": taken.terms,
            "house": house,
            "drawing": mark_safe(drawing),  # noqa: S308  # the drawing escapes every label itself
            "intent": INTENT,
        },
        pdf_variant="pdf/a-3a",
        finisher=accessible_archive(),
        pdf_identifier=hashlib.sha256(f"acceptance of transfer {transfer.pk}".encode()).digest()[:16],
    )


def document_sha256(document: bytes) -> str:
    """What is kept of a document to recognise it."""
    return hashlib.sha256(document).hexdigest()
