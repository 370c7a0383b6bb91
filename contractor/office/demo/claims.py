"""The demo's claims: one that turns on a gap in care, one whose appeal waits, one that an appeal has changed."""

from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO

from PIL import Image, ImageDraw

from contractor.accounts.models import User
from contractor.checkups.photos import check_photo
from contractor.core.audit import Actor
from contractor.office.demo.place import Place
from contractor.office.demo.scenario import moment
from contractor.systems.models import Component
from contractor.warranties.actions.claim_appeals import appeal_claim, decide_appeal
from contractor.warranties.actions.claim_questions import answer_question, ask_owner
from contractor.warranties.actions.claim_visits import ask_for_claim_visit
from contractor.warranties.actions.claims import decide_claim, report_claim
from contractor.warranties.claim_tables import ClaimAppeal
from contractor.warranties.models import Claim
from contractor.warranties.sent_photos import SentPhoto

GAP, OPEN_APPEAL, DECIDED_APPEAL = "gap_in_care", "open_finding", "frozen_discharge"


def claim_something(places: list[Place], *, on: date) -> None:
    """Three owners report a failure; the first house of each story is theirs."""
    first = {place.house.story: place for place in reversed(places)}
    if GAP in first:
        gap_in_care(first[GAP], on=on)
    if OPEN_APPEAL in first:
        appeal_waits(first[OPEN_APPEAL], on=on)
    if DECIDED_APPEAL in first:
        appeal_helped(first[DECIDED_APPEAL], on=on)


def gap_in_care(place: Place, *, on: date) -> Claim:
    """A pit that leaks, after a year without a check-up: asked back and answered, and now to be decided."""
    reported_on = on - timedelta(days=4)
    claim = _report(
        place,
        "pit",
        reported_on,
        "Water stands round the pit although the pump runs. There is a crack in its wall, a hand above its floor.",
        photos=("Crack in the pit", "Water on the floor"),
    )
    question = ask_owner(
        claim_id=claim.pk,
        words="Did anything fall on the pit or its lid, and when did you first see the crack?",
        by_user=place.desk,
        at=moment(on - timedelta(days=3)),
    )
    answer_question(
        question_id=question.pk,
        answer="Nothing fell on it that I know of. I saw it last week, when I swept the floor there.",
        by=_owner(place),
        at=moment(on - timedelta(days=2), 22),
        photos=[_photo("The crack, closer")],
    )
    return claim


def appeal_waits(place: Place, *, on: date) -> Claim:
    """A pump that was found unplugged: not covered, and the owner sees it otherwise."""
    reported_on = on - timedelta(days=24)
    claim = _report(place, "primary_pump", reported_on, "The pump is dead; the standby pump carries the water.")
    decide_claim(
        claim_id=claim.pk,
        cost=Decimal("465.00"),
        cause="unplugged",
        by_user=place.desk,
        at=moment(reported_on + timedelta(days=6)),
    )
    appeal_claim(
        claim_id=claim.pk,
        way=ClaimAppeal.Way.PAGE,
        words="It was plugged in all the time. Your technician pulled the plug to test the outlet and put it back; an "
        "electrician looked since and found its motor burnt out.",
        received_on=on - timedelta(days=1),
        by=_owner(place),
        at=moment(on - timedelta(days=1), 23),
        photos=[_photo("Bill of the electrician")],
    )
    return claim


def appeal_helped(place: Place, *, on: date) -> Claim:
    """A discharge line that froze: refused at first, covered after the owner called; the repair waits for its day."""
    reported_on = on - timedelta(days=40)
    claim = _report(
        place, "discharge_line", reported_on, "The discharge line came apart at the outlet; water runs to the wall."
    )
    decide_claim(
        claim_id=claim.pk,
        cost=Decimal("340.00"),
        cause="blocked_outside",
        by_user=place.desk,
        at=moment(reported_on + timedelta(days=4)),
    )
    appeal_claim(
        claim_id=claim.pk,
        way=ClaimAppeal.Way.CALL,
        words="Nobody touched the line. The joint is the one that your people glued when they raised the outlet.",
        received_on=reported_on + timedelta(days=11),
        by=place.desk.actor,
        at=moment(reported_on + timedelta(days=11)),
    )
    second = _somebody_else(place)
    decide_appeal(
        claim_id=claim.pk,
        cost=Decimal("340.00"),
        cause="workmanship",
        because="The report of our last visit says that we raised the outlet and glued this joint. The photo shows "
        "that the glue let go; nobody moved the line. That is our own work.",
        by_user=second,
        at=moment(reported_on + timedelta(days=16)),
    )
    ask_for_claim_visit(
        claim_id=claim.pk,
        target_on=on + timedelta(days=4),
        earliest_on=on,
        latest_on=on + timedelta(days=12),
        minutes=75,
        reason="Repair under the warranty: the discharge line.",
        by=second.actor,
        at=moment(on - timedelta(days=1)),
    )
    return claim


def _report(place: Place, part_kind: str, reported_on: date, what: str, *, photos: tuple[str, ...] = ()) -> Claim:
    part = Component.objects.in_place(reported_on).filter(system=place.system, part_kind=part_kind).latest("in_on")
    return report_claim(
        warranty_id=place.warranty.pk,
        part_kind=part_kind,
        component_id=part.pk,
        lost_on=reported_on - timedelta(days=1),
        reported_on=reported_on,
        what=what,
        cause="not_known",
        by=_owner(place),
        at=moment(reported_on, 21),
        photos=[_photo(words) for words in photos],
    )


def _owner(place: Place) -> Actor:
    return Actor(f"owner:{place.owner.pk}", place.owner.name)


def _somebody_else(place: Place) -> User:
    """Whoever of the office did not decide first."""
    return next(user for user in place.cast.office if user.pk != place.desk.pk)


def _photo(words: str) -> SentPhoto:
    """A drawn picture that stands in for a photo, and says so."""
    picture = Image.new("RGB", (960, 720), "#b9b2a3")
    ink = ImageDraw.Draw(picture)
    ink.rectangle((90, 420, 870, 690), fill="#8d8678")
    if "crack" in words.lower():
        ink.line((330, 450, 400, 520, 370, 600, 450, 680), fill="#3d3a35", width=7)
    ink.text((90, 60), f"{words} (a drawing, not a photo)", fill="#17232b", font_size=36)
    out = BytesIO()
    picture.save(out, "JPEG", quality=80)
    content = out.getvalue()
    return SentPhoto(content=content, checked=check_photo(content))
