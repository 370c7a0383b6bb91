"""The demo's buyers and agents who ask about a sale with a certificate in hand."""

from datetime import date, timedelta

from contractor.office.demo.messages import send_what_was_queued
from contractor.office.demo.place import Place
from contractor.office.demo.scenario import moment
from contractor.warranties.actions.certifying import issue_certificate
from contractor.warranties.actions.inquiries import ask_about_sale, decline_inquiry
from contractor.warranties.models import Certificate


def ask_with_certificates(places: list[Place], *, on: date) -> None:
    """Two owners showed their certificates round: an agent waits for an answer, and a neighbour got a no."""
    first, second = sorted((one for one in places if one.house.story == "good"), key=lambda one: one.house.number)[:2]
    ask_about_sale(
        certificate_id=_certificate(first, on - timedelta(days=9)).pk,
        role="buyers_agent",
        name="Delphine Rusk",
        email="delphine@example.com",
        phone="(555) 555-0163",
        closing_on=on + timedelta(days=24),
        message="My clients Otis and Mae Fennimore buy the house. The lender asks for the certificate in their names.",
        at=moment(on - timedelta(days=1)),
    )
    asked_on = on - timedelta(days=20)
    curious = ask_about_sale(
        certificate_id=_certificate(second, on - timedelta(days=31)).pk,
        role="buyer",
        name="Jasper Quill",
        email="jasper@example.com",
        phone="",
        closing_on=None,
        message="",
        at=moment(asked_on),
    )
    send_what_was_queued()
    decline_inquiry(
        inquiry_id=curious.pk,
        because="The owner tells us that no sale is agreed. Ask again once there is a contract.",
        by_user=second.desk,
        at=moment(asked_on + timedelta(days=1)),
    )


def _certificate(place: Place, on: date) -> Certificate:
    return issue_certificate(warranty_id=place.warranty.pk, on=on, by=place.desk.actor, at=moment(on))
