"""Background work of warranties. Each is safe to run twice."""

from contractor.celery import app
from contractor.core import clock
from contractor.warranties.actions import care, certifying, claim_letters, standing, transfer_messages


@app.task
def refresh_house(*, property_id: int) -> None:
    """Renews standings and care requests of one house after its facts have changed."""
    standing.refresh_house_standings(property_id=property_id, on=clock.today())
    care.raise_house_requests(property_id=property_id, on=clock.today(), at=clock.now())


@app.task
def refresh_all_standings() -> None:
    """The nightly renewal: standings first, then the requests and letters that follow from the care clock."""
    standing.refresh_all_standings(on=clock.today())
    care.raise_due_requests(on=clock.today(), at=clock.now())


@app.task
def remind_of_transfers() -> None:
    """Reminds the people of open sales of what is missing as a last day comes near."""
    transfer_messages.remind_of_transfers(on=clock.today(), at=clock.now())


@app.task
def render_certificate(*, certificate_id: int) -> None:
    """Makes a certificate's PDF ahead of the first person who asks for it."""
    certifying.certificate_file(certificate_id=certificate_id)


@app.task
def render_claim_letter(*, letter_id: int) -> None:
    """Makes the letter of a decision ahead of the first person who asks for it."""
    claim_letters.letter_file(letter_id=letter_id)
