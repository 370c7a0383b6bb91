"""The demo's sales: whom the terms were shown to before they bought, and the next edition as a draft."""

from datetime import date, timedelta

from contractor.office.demo.cast import Cast
from contractor.office.demo.place import Place
from contractor.office.demo.scenario import moment
from contractor.warranties.actions.showing import confirm_reading, show_terms
from contractor.warranties.actions.terms import draft_terms
from contractor.warranties.models import TermsShown

# How many of the newest houses were sold since the terms are shown on record.
SOLD_ON_RECORD = 3
DRAFT = "limited-next"


def sell(places: list[Place], *, cast: Cast, on: date) -> None:
    """The newest houses were shown the terms before they signed; somebody reads them now; a new edition is begun."""
    newest = sorted(places, key=lambda place: (place.house.installed_on, place.house.number))[-SOLD_ON_RECORD:]
    for place in newest:
        show_terms(
            terms_id=cast.terms.pk,
            property_id=place.home.pk,
            name=place.owner.name,
            email="",
            way=TermsShown.Way.PRINTED,
            shown_by=place.desk,
            at=moment(place.house.installed_on - timedelta(days=12)),
        )
    asked_on = on - timedelta(days=2)
    reader = show_terms(
        terms_id=cast.terms.pk,
        property_id=None,
        name="Prudence Adler",
        email="prudence@example.com",
        way=TermsShown.Way.LINK,
        shown_by=cast.office[0],
        at=moment(asked_on),
    )
    confirm_reading(token=reader.token, at=moment(asked_on, 20))
    care = {**cast.terms.data["care"], "grace_days": 45}
    changed = {"edition": DRAFT, "warrantor": None, "care": care, "care_proof": ""}
    draft_terms(data={**cast.terms.data, **changed}, by=cast.manager.actor, at=moment(asked_on))
