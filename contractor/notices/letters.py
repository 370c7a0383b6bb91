"""Letters to print: a notice on the company's paper."""

from contractor.notices.models import Notice
from contractor.notices.printing import render_pdf
from contractor.notices.queries import letter_of


def letter_pdf(notice: Notice) -> bytes:
    """The letter as PDF bytes."""
    return render_pdf("notices/letter.html", {"notice": notice, "letter": letter_of(notice)})
