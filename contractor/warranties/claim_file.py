"""Everything on a claim's page: the record on the day of loss, what was asked and answered, visits, letters, appeal,
and what happened in which order; for the desk and in plain words for the owner.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Prefetch, Q, QuerySet

from contractor.core import clock
from contractor.visits.models import Appointment, Request
from contractor.warranties.claim_record import LossRecord, loss_record
from contractor.warranties.claim_tables import ClaimAppeal, ClaimLetter, ClaimQuestion
from contractor.warranties.models import Claim, ClaimPhoto
from contractor.warranties.queries import jurisdiction_of
from contractor.warranties.rules.appeals import last_day_to_appeal
from contractor.warranties.rules.claims import Outcome
from contractor.warranties.rules.wording import count_in_words, day_in_words, money_in_words

WAYS = {"page": "on the owner's page", "letter": "by letter or e-mail", "call": "by telephone"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimVisit:
    """A visit of a claim; ``appointment`` is the one that holds, its own or that of the trip it goes along with."""

    request: Request
    appointment: Appointment | None

    @property
    def state(self) -> str:
        """withdrawn, waiting, given or done."""
        if self.request.withdrawn_at is not None:
            return "withdrawn"
        if self.appointment is None:
            return "waiting"
        return "done" if self.appointment.state == Appointment.State.DONE else "given"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimEvent:
    """One step: in the words of the desk, and in those for the owner (empty when it is nothing to them)."""

    on: date
    at: datetime | None
    words: str
    owner_words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimFile:
    """A claim with all that belongs to it. ``appeal_by`` is the last day for an appeal, None while undecided."""

    claim: Claim
    photos: Sequence[ClaimPhoto]
    questions: Sequence[ClaimQuestion]
    letters: Sequence[ClaimLetter]
    appeal: ClaimAppeal | None
    visits: Sequence[ClaimVisit]
    events: Sequence[ClaimEvent]
    appeal_by: date | None
    may_appeal: bool

    @property
    def reported_photos(self) -> list[ClaimPhoto]:
        """The photos that came with the report itself."""
        return [photo for photo in self.photos if photo.question_id is None and photo.appeal_id is None]

    @property
    def appeal_photos(self) -> list[ClaimPhoto]:
        """The photos that came with the appeal."""
        return [photo for photo in self.photos if photo.appeal_id is not None]

    @property
    def open_question(self) -> ClaimQuestion | None:
        """The question that waits for its answer."""
        return next((one for one in self.questions if one.answered_at is None), None)

    @property
    def letter(self) -> ClaimLetter | None:
        """The letter whose decision holds: the last one about a decision."""
        return next((one for one in reversed(self.letters) if one.goodwill_id is None), None)

    @property
    def may_ask_for_visit(self) -> bool:
        """Whether somebody can be sent: to look while it waits, to repair once it is covered; one at a time."""
        stands = any(one.state in {"waiting", "given"} for one in self.visits)
        is_covered = self.claim.state == Claim.State.DECIDED and self.claim.outcome == Outcome.COVERED.value
        return not stands and (self.claim.state == Claim.State.REPORTED or is_covered)


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskClaim:
    """A claim as the desk sees it: its file beside the record on the day of loss."""

    file: ClaimFile
    record: LossRecord


def desk_claim(claim: Claim, *, on: date) -> DeskClaim:
    """The page of the desk, in a fixed number of queries."""
    return DeskClaim(file=claim_file(claim, on=on), record=loss_record(claim))


def claim_file(claim: Claim, *, on: date) -> ClaimFile:
    """All that belongs to a claim, in a fixed number of queries."""
    photos = list(claim.photos.all())
    questions = list(
        claim.questions.select_related("asked_by").prefetch_related(Prefetch("photos", to_attr="sent_photos"))
    )
    letters = list(claim.letters.select_related("issued_by", "goodwill__undone_by__given_by"))
    appeal = ClaimAppeal.objects.filter(claim=claim).select_related("decided_by").first()
    visits = [_visit(request) for request in visits_of(claim)]
    told_on = clock.day_of(claim.decided_at) if claim.decided_at is not None else None
    appeal_by = last_day_to_appeal(told_on) if told_on is not None else None
    return ClaimFile(
        claim=claim,
        photos=photos,
        questions=questions,
        letters=letters,
        appeal=appeal,
        visits=visits,
        events=_in_order(
            [
                *_report_events(claim, photos),
                *_question_events(questions),
                *_visit_events(visits),
                *_decision_events(claim, letters, appeal),
                *_goodwill_events(letters, jurisdiction_of(claim)),
            ]
        ),
        appeal_by=appeal_by,
        may_appeal=appeal is None and appeal_by is not None and on <= appeal_by,
    )


def visits_of(claim: Claim) -> QuerySet[Request]:
    """The requests that were made for a claim, the first one first, with the appointments that hold."""
    live = Appointment.objects.live().select_related("technician")
    return (
        Request.objects.filter(Q(occasion=f"claim:{claim.pk}") | Q(occasion__startswith=f"claim:{claim.pk}:"))
        .select_related("goes_with")
        .prefetch_related(
            Prefetch("appointments", live, to_attr="live_appointments"),
            Prefetch("goes_with__appointments", live, to_attr="trip_appointments"),
        )
        .order_by("created_at", "pk")
    )


def _visit(request: Request) -> ClaimVisit:
    # Both are prefetched; a visit that goes along with another has no appointment of its own.
    own: list[Appointment] = request.live_appointments  # type: ignore[attr-defined]
    live = own if request.goes_with is None else request.goes_with.trip_appointments  # type: ignore[attr-defined]
    return ClaimVisit(request=request, appointment=live[0] if live else None)


def _in_order(events: Sequence[ClaimEvent]) -> list[ClaimEvent]:
    return sorted(events, key=lambda one: (one.on, one.at.timestamp() if one.at is not None else 0.0))


def _at(at: datetime, words: str, owner_words: str) -> ClaimEvent:
    return ClaimEvent(on=clock.day_of(at), at=at, words=words, owner_words=owner_words)


def _report_events(claim: Claim, photos: Sequence[ClaimPhoto]) -> Iterator[ClaimEvent]:
    sent = sum(photo.question_id is None and photo.appeal_id is None for photo in photos)
    along = f", with {count_in_words(sent, 'photo')}" if sent else ""
    yield ClaimEvent(
        on=claim.reported_on, at=None, words=f"Reported{along}", owner_words=f"You reported it{along}"
    )
    if claim.withdrawn_at is not None:
        yield _at(claim.withdrawn_at, f"Withdrawn: {claim.withdrawn_because}", "The claim was withdrawn")


def _question_events(questions: Sequence[ClaimQuestion]) -> Iterator[ClaimEvent]:
    for one in questions:
        yield _at(one.asked_at, f"{one.asked_by.name} asked the owner: {one.words}", f"We asked you: {one.words}")
        if one.answered_at is not None:
            by_owner = one.answered_by.startswith("owner:")
            words = "The owner answered" if by_owner else "The answer was written down at the desk"
            yield _at(one.answered_at, words, "You answered" if by_owner else "We wrote down your answer")


def _visit_events(visits: Sequence[ClaimVisit]) -> Iterator[ClaimEvent]:
    for one in visits:
        yield _at(one.request.created_at, f"Visit asked for: {one.request.reason}", "")
        if one.request.withdrawn_at is not None:
            yield _at(one.request.withdrawn_at, f"Visit called off: {one.request.withdrawn_because}", "")
        given = one.appointment
        if given is not None:
            day = day_in_words(given.on)
            yield _at(given.made_at, f"Given to {given.technician.name} for {day}", f"A visit was set for {day}")
            if one.state == "done":
                yield ClaimEvent(
                    on=given.on, at=given.ended_at, words=f"{given.technician.name} was there", owner_words="We came"
                )


def _decision_events(
    claim: Claim, letters: Sequence[ClaimLetter], appeal: ClaimAppeal | None
) -> Iterator[ClaimEvent]:
    if claim.decided_at is None:
        return
    by = claim.decided_by.name if claim.decided_by is not None else "The system"
    first = next((one for one in letters if one.appeal_id is None and one.goodwill_id is None), None)
    said, told = _outcome(first, claim) if first is not None else _outcome_of(claim)
    yield _at(claim.decided_at, f"{by} decided: {said}", f"We decided: {told}")
    if appeal is None:
        return
    way = WAYS[appeal.way]
    yield ClaimEvent(
        on=appeal.received_on, at=appeal.made_at, words=f"The owner appealed {way}", owner_words="You appealed"
    )
    if appeal.decided_at is not None and appeal.decided_by is not None:
        said, told = _outcome_of(claim)
        name = appeal.decided_by.name
        yield _at(appeal.decided_at, f"{name} decided the appeal: {said}", f"{name} decided your appeal: {told}")


def _goodwill_events(letters: Sequence[ClaimLetter], jurisdiction: str) -> Iterator[ClaimEvent]:
    for letter in letters:
        given = letter.goodwill
        if given is None:
            continue
        amount = money_in_words(given.amount, jurisdiction)
        said = f"{letter.issued_by.name} gave {amount} of goodwill: {given.because}"
        yield _at(given.given_at, said, f"We gave you {amount} as goodwill")
        counter = getattr(given, "undone_by", None)
        if counter is not None:
            said = f"{counter.given_by.name} took the goodwill of {amount} back: {counter.because}"
            yield _at(counter.given_at, said, f"The goodwill of {amount} was taken back")


def _outcome(letter: ClaimLetter, claim: Claim) -> tuple[str, str]:
    facts = letter.facts
    company, owner = (Decimal(facts[name]) for name in ("contractor_pays", "owner_pays"))
    return _paid(facts["outcome"], company, owner, claim)


def _outcome_of(claim: Claim) -> tuple[str, str]:
    if claim.contractor_pays is None or claim.owner_pays is None:
        return claim.outcome, claim.outcome
    return _paid(claim.outcome, claim.contractor_pays, claim.owner_pays, claim)


def _paid(outcome: str, by_company: Decimal, by_owner: Decimal, claim: Claim) -> tuple[str, str]:
    """For the desk, and for the owner."""
    if outcome != Outcome.COVERED.value:
        return "not covered", "not covered"
    company, owner = (money_in_words(amount, jurisdiction_of(claim)) for amount in (by_company, by_owner))
    return f"covered; we pay {company}, the owner {owner}", f"covered; we pay {company}, you pay {owner}"
