"""Letters to print: a notice on the company's paper, tagged so that it can be read aloud."""

from contractor.notices.models import Notice
from contractor.notices.printing import render_pdf
from contractor.notices.queries import letter_of
from contractor.notices.tagging import hide_repeating_pictures


def letter_pdf(notice: Notice) -> bytes:
    """The letter as PDF bytes."""
    return render_pdf(
        "notices/letter.html",
        {"notice": notice, "letter": letter_of(notice)},
        pdf_variant="pdf/ua-1",
        finisher=hide_repeating_pictures,
    )
