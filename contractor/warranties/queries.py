"""Reads about terms, warranties and their standing, certificates, and what a transfer still lacks."""

import hmac
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal, cast

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery

from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.checkups.models import CheckUp, OutsideRecord
from contractor.core import clock
from contractor.properties.models import Ownership
from contractor.systems.models import Component
from contractor.systems.part_kinds import part_kind as kind_of
from contractor.visits.models import VisitKind
from contractor.warranties.claim_tables import ClaimQuestion
from contractor.warranties.models import Certificate, Claim, TermsEdition, Transfer, Waiver, Warranty
from contractor.warranties.numbers import display_number, read_number
from contractor.warranties.printed_codes import CHECK_CODE_LENGTH, normal_code
from contractor.warranties.rules import facts as rule_facts
from contractor.warranties.rules.care import Care, care_on
from contractor.warranties.rules.cover import Cover
from contractor.warranties.rules.facts import CheckupDone, ComponentSpan, Facts, TransferDone
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.standing import Standing, standings_on
from contractor.warranties.rules.terms import Promise, Terms
from contractor.warranties.rules.transfers import Request, Requirement, missing, transfer_requirements

# Which visits are care. A repair or a claim call looks at one part; it is not the yearly check-up.
CARE_KINDS: dict[str, Literal["yearly", "reinstatement", "transfer"]] = {
    VisitKind.CHECKUP: "yearly",
    VisitKind.REINSTATEMENT: "reinstatement",
    VisitKind.TRANSFER: "transfer",
}

POSTCODE_SHOWN = 3
# The list of claims whose appeal waits for its decision, beside those by state.
APPEALED = "appealed"


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseStanding:
    """A promise of a warranty and how it stands on a day; ``word`` is the part kind as people read it."""

    part_kind: str
    word: str
    promise: Promise
    standing: Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class CareWindow:
    """The next due day with the first and the last day on which a check-up counts for it, grace included."""

    due_on: date
    first_on: date
    last_on: date


def terms_of(warranty: Warranty) -> Terms:
    """The terms of the edition that was issued."""
    return terms_from_data(warranty.terms.data)


def jurisdiction_of(claim: Claim) -> str:
    """Whose law the terms of a claim are under, and so in which dollars its amounts are."""
    return str(claim.warranty.terms.data.get("jurisdiction", "US"))


def terms_by_edition(warranties: Iterable[Warranty]) -> dict[int, Terms]:
    """The terms that these warranties rest on, by the id of the edition; each is read once."""
    return {edition.pk: terms_from_data(edition.data) for edition in {warranty.terms for warranty in warranties}}


def facts_of(warranty: Warranty) -> Facts:
    """All that happened to a warranty, as known now."""
    return facts_of_many([warranty])[warranty.pk]


def facts_of_many(warranties: Sequence[Warranty]) -> dict[int, Facts]:
    """The facts of many warranties by id, in five queries however many there are."""
    systems = {warranty.system_id for warranty in warranties}
    numbers = {warranty.pk for warranty in warranties}
    components: dict[int, list[ComponentSpan]] = defaultdict(list)
    parts = Component.objects.filter(system_id__in=systems)
    for system_id, part_kind, in_on, out_on in parts.values_list("system_id", "part_kind", "in_on", "out_on"):
        components[system_id].append(ComponentSpan(part_kind=part_kind, in_on=in_on, out_on=out_on))
    checkups = _checkups_of(systems)
    transfers: dict[int, list[TransferDone]] = defaultdict(list)
    for transfer in Transfer.objects.filter(warranty_id__in=numbers, state=Transfer.State.ISSUED):
        transfers[transfer.warranty_id].append(TransferDone(on=transfer.closing_on))
    waivers: dict[int, list[rule_facts.Waiver]] = defaultdict(list)
    for waiver in Waiver.objects.filter(warranty_id__in=numbers):
        waivers[waiver.warranty_id].append(
            rule_facts.Waiver(from_on=waiver.from_on, until_on=waiver.until_on, because=waiver.because)
        )
    return {
        warranty.pk: Facts(
            issued_on=warranty.issued_on,
            components=tuple(components[warranty.system_id]),
            checkups=tuple(checkups[warranty.system_id]),
            transfers=tuple(transfers[warranty.pk]),
            waivers=tuple(waivers[warranty.pk]),
            voided_on=warranty.voided_on,
            voided_because=f"{warranty.voided_clause}: {warranty.voided_because}" if warranty.voided_on else "",
        )
        for warranty in warranties
    }


def _checkups_of(systems: Iterable[int]) -> dict[int, list[CheckupDone]]:
    done: dict[int, list[CheckupDone]] = defaultdict(list)
    own = CheckUp.objects.finished().with_passed().filter(system_id__in=systems, kind__in=CARE_KINDS)
    for system_id, on, kind, passed in own.values_list("system_id", "done_on", "kind", "is_passed"):  # type: ignore[misc]
        done[system_id].append(CheckupDone(on=on, kind=CARE_KINDS[kind], passed=passed, by="us"))
    outside = OutsideRecord.objects.accepted().filter(system_id__in=systems)
    for system_id, on, by_us in outside.values_list("system_id", "done_on", "by_us"):
        done[system_id].append(CheckupDone(on=on, by="us" if by_us else "other"))
    return done


def promise_standings(*, warranty: Warranty, on: date) -> list[PromiseStanding]:
    """Every promise of a warranty with its standing on a day, in the order of the terms."""
    return standings_under(terms=terms_of(warranty), facts=facts_of(warranty), on=on)


def standings_under(*, terms: Terms, facts: Facts, on: date) -> list[PromiseStanding]:
    """The same from terms and facts already at hand."""
    return [
        PromiseStanding(
            part_kind=promise.part_kind,
            word=kind_of(promise.part_kind).word,
            promise=promise,
            standing=standing,
        )
        for promise, (_, standing) in zip(terms.promises, standings_on(terms, facts, on), strict=True)
    ]


def overall_cover(standings: Iterable[Standing]) -> Cover:
    """One word for a whole warranty: void or suspended when it is so, else in force while any promise is.

    A battery whose months are over, or a part that was never put in, does not make a warranty read as ended.
    """
    covers = {standing.cover for standing in standings}
    order = (Cover.VOID, Cover.SUSPENDED, Cover.IN_FORCE, Cover.ENDED)
    return next((cover for cover in order if cover in covers), Cover.NOT_STARTED)


def care_window(*, warranty: Warranty, on: date) -> CareWindow | None:
    """When the next check-up counts; None when the terms ask for none, or cover has not begun."""
    care = care_on(terms_of(warranty).care, facts_of(warranty), on)
    if care.due_on is None or care.opens_on is None or care.grace_through_on is None:
        return None
    return CareWindow(due_on=care.due_on, first_on=care.opens_on, last_on=care.grace_through_on)


def house_warranties(property_id: int) -> list[Warranty]:
    """Every warranty of a house, void ones among them, the newest first."""
    found = Warranty.objects.filter(system__property_id=property_id).select_related("system", "terms")
    return list(found.order_by("-issued_on", "-pk"))


def last_certificate(warranty: Warranty) -> Certificate | None:
    """The end of the chain of certificates, revoked or not: the one that the next supersedes."""
    return warranty.certificates.filter(superseded_by__isnull=True).select_related("issued_to__person").first()


def present_certificate(warranty: Warranty) -> Certificate | None:
    """The certificate that speaks for a warranty now; None when there is none or the latest was revoked."""
    last = last_certificate(warranty)
    return last if last is not None and last.revoked_at is None else None


def holder_of(warranty: Warranty) -> Ownership:
    """Whom the warranty belongs to: the buyer of the latest issued transfer, else the owner it was issued to."""
    latest = (
        warranty.transfers.filter(state=Transfer.State.ISSUED)
        .select_related("buyer_ownership__person")
        .order_by("closing_on", "pk")
        .last()
    )
    return cast(Ownership, latest.buyer_ownership) if latest is not None else warranty.issued_to


def transfer_needs(transfer: Transfer) -> tuple[Requirement, ...]:
    """Every requirement of a transfer, met or not, from the edition that was issued."""
    warranty = transfer.warranty
    request = Request(
        closing_on=transfer.closing_on,
        notified_on=transfer.notified_on,
        seller_is_owner=seller_is_owner(transfer),
        buyer_accepted_on=transfer.accepted_on,
        fee_paid=transfer.fee_paid_on is not None,
    )
    return transfer_requirements(terms_of(warranty), facts_of(warranty), request)


def transfer_lacks(transfer: Transfer) -> tuple[Requirement, ...]:
    """The requirements that still stand in the way, those that a manager let go left out."""
    return missing(transfer_needs(transfer), frozenset(transfer.waived))


def seller_is_owner(transfer: Transfer) -> bool:
    """Whether the seller is the owner of record, or has handed this house over to the buyer on the closing day.

    The second happens when another system of the same house was transferred before.
    """
    seller = transfer.seller
    if seller.until_on is None:
        return True
    return (
        seller.until_on == transfer.closing_on
        and Ownership.objects.filter(
            property_id=seller.property_id, person_id=transfer.buyer_id, from_on=transfer.closing_on
        ).exists()
    )


def claims_list(*, state: str = "") -> QuerySet[Claim]:
    """Claims with house and part, the latest report first; ``state`` is one of theirs, APPEALED, or empty for all."""
    claims = Claim.objects.select_related("warranty__system__property", "component__model", "appeal")
    if state == APPEALED:
        claims = claims.filter(appeal__isnull=False, appeal__decided_at__isnull=True)
    elif state:
        claims = claims.filter(state=state)
    return claims.order_by("-reported_on", "-pk")


def claims_for_the_desk() -> QuerySet[Claim]:
    """Claims on which the desk has something to do, the longest waiting first.

    Those to decide and those appealed. ``answered_at`` is when the owner last answered a question, and
    ``is_asked`` says that one still waits for an answer.
    """
    answers = ClaimQuestion.objects.filter(claim=OuterRef("pk"), answered_at__isnull=False).order_by("-answered_at")
    waiting = ClaimQuestion.objects.filter(claim=OuterRef("pk"), answered_at__isnull=True)
    return (
        Claim.objects.filter(
            Q(state=Claim.State.REPORTED) | Q(appeal__isnull=False, appeal__decided_at__isnull=True)
        )
        .select_related("warranty__system__property", "appeal")
        .annotate(answered_at=Subquery(answers.values("answered_at")[:1]), is_asked=Exists(waiting))
        .order_by("reported_on", "pk")
    )


def transfers_list(*, state: str = "") -> QuerySet[Transfer]:
    """Transfers with house, seller and buyer, the latest closing first; ``state`` empty for all."""
    transfers = Transfer.objects.select_related(
        "warranty__system__property", "warranty__terms", "seller__person", "buyer", "certificate"
    )
    return (transfers.filter(state=state) if state else transfers).order_by("-closing_on", "-pk")


def editions_list() -> QuerySet[TermsEdition]:
    """Editions of terms, newest first, with ``issued``: how many warranties rest on each."""
    editions = TermsEdition.objects.annotate(issued=Count("warranties")).select_related("published_by")
    # A query that counts forgets the order of its model.
    return editions.order_by("-created_at", "-pk")


def warranty_chunk(*, after: int, most: int) -> list[Warranty]:
    """The next warranties by id, with what deriving their standing needs."""
    return list(Warranty.objects.filter(pk__gt=after).select_related("terms", "system__property").order_by("pk")[:most])


@dataclass(frozen=True, slots=True, kw_only=True)
class CoveredArea:
    """One promise as the public check page shows it."""

    word: str
    cover: Cover
    through_on: date | None
    for_life: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateCheck:
    """What anybody with number and code may know. Nothing but ``verdict`` is filled for an unknown certificate.

    ``areas`` and ``care`` are those of today, not of the day of issue. There is no name, no street and no price.
    """

    verdict: Literal["genuine", "superseded", "revoked", "unknown"]
    on: date
    number: str = ""
    issued_on: date | None = None
    ended_on: date | None = None
    cover: Cover | None = None
    care: Care | None = None
    areas: tuple[CoveredArea, ...] = ()
    walls: tuple[str, ...] = ()
    last_service_on: date | None = None
    next_due_on: date | None = None
    issuer: Company | None = None
    town: str = ""
    postcode_prefix: str = ""


def check_by_number(*, number: str, code: str, on: date) -> CertificateCheck:
    """Whether a certificate is real, from its number and the code printed beside it.

    An unknown number and a wrong code look alike, and both are looked up before the answer is given.
    """
    return _checked(certificate_held(number=number, code=code), on)


def certificate_held(*, number: str, code: str) -> Certificate | None:
    """The certificate with this number and code; None for an unknown number and for a wrong code alike."""
    found = certificate_numbered(number)
    expected = found.check_code if found is not None else "-" * CHECK_CODE_LENGTH
    return found if hmac.compare_digest(expected.encode(), normal_code(code).encode()) else None


def certificate_numbered(number: str) -> Certificate | None:
    """The certificate with this number, however it is typed."""
    return _certificate().filter(number=read_number(number).number or "").first()


def check_by_token(token: str, *, on: date) -> CertificateCheck:
    """The same from the secret in the certificate's QR code."""
    return _checked(_certificate().filter(token=token).first() if token else None, on)


def _certificate() -> QuerySet[Certificate]:
    return Certificate.objects.select_related("warranty__terms", "warranty__system__property", "superseded_by")


def _checked(certificate: Certificate | None, on: date) -> CertificateCheck:
    if certificate is None:
        return CertificateCheck(verdict="unknown", on=on)
    warranty = certificate.warranty
    house = warranty.system.property
    later = getattr(certificate, "superseded_by", None)
    known = CertificateCheck(
        verdict="genuine",
        on=on,
        number=display_number(certificate.number),
        issued_on=certificate.issued_on,
        issuer=the_company(),
        town=f"{house.city}, {house.state}",
        postcode_prefix=house.postcode[:POSTCODE_SHOWN],
    )
    if certificate.revoked_at is not None:
        return replace(known, verdict="revoked", ended_on=clock.day_of(certificate.revoked_at))
    terms, facts = terms_of(warranty), facts_of(warranty)
    promises = standings_under(terms=terms, facts=facts, on=on)
    done = [checkup.on for checkup in facts.checkups if checkup.passed and checkup.on <= on]
    return replace(
        known,
        verdict="genuine" if later is None else "superseded",
        ended_on=later.issued_on if later is not None else None,
        cover=overall_cover(one.standing for one in promises),
        care=promises[0].standing.care if promises else None,
        next_due_on=promises[0].standing.next_due_on if promises else None,
        areas=tuple(_area(one) for one in promises if one.standing.cover is not Cover.NOT_STARTED),
        walls=tuple(f"{wall.letter} {wall.name}" for wall in warranty.system.walls.all()),
        last_service_on=max(done, default=None),
    )


def _area(one: PromiseStanding) -> CoveredArea:
    through_on = one.standing.through_on
    in_force = one.standing.cover is Cover.IN_FORCE
    return CoveredArea(
        word=one.word, cover=one.standing.cover, through_on=through_on, for_life=in_force and through_on is None
    )
