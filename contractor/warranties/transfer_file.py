"""Everything on one transfer's page: each requirement with its answer, and the visit that is on its way."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from contractor.visits.models import Appointment, Request
from contractor.warranties.models import Certificate, Transfer
from contractor.warranties.numbers import display_number
from contractor.warranties.queries import transfer_needs
from contractor.warranties.rules.transfers import Requirement, missing
from contractor.warranties.transfer_checks import standing_check

# What the requirements are called at the desk, in the order of their codes.
WORDS = {
    "allowed": "The terms pass on",
    "transfers_left": "Transfers left",
    "told_in_time": "Told in time",
    "checkup": "Check-up",
    "in_force": "Cover in force on the closing day",
    "fee": "Fee",
    "seller": "Seller is the owner",
    "accepted": "Buyer accepted",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One requirement in words; ``state`` is met, let go, missing, or too late when its last day is past."""

    requirement: Requirement
    word: str
    state: str
    tone: str
    let_go_because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferFile:
    """A transfer as the desk works through it."""

    needs: Sequence[Need]
    is_complete: bool
    is_before_closing: bool
    visit: Request | None
    appointment: Appointment | None
    certificate: Certificate | None
    certificate_number: str


def transfer_file(transfer: Transfer, *, on: date) -> TransferFile:
    """Gathers the page of a transfer; for a settled one the requirements are those it would have now."""
    requirements = transfer_needs(transfer)
    visit = standing_check(transfer)
    certificate = Certificate.objects.filter(transfer=transfer).first()
    return TransferFile(
        needs=[_need(requirement, transfer, on) for requirement in requirements],
        is_complete=not missing(requirements, frozenset(transfer.waived)),
        is_before_closing=on < transfer.closing_on,
        visit=visit,
        appointment=visit.appointments.live().select_related("technician").first() if visit is not None else None,
        certificate=certificate,
        certificate_number=display_number(certificate.number) if certificate is not None else "",
    )


def _need(requirement: Requirement, transfer: Transfer, on: date) -> Need:
    waived = transfer.waived.get(requirement.code)
    state, tone = ("met", "good") if requirement.met else ("missing", "watch")
    if not requirement.met and requirement.by_on is not None and requirement.by_on < on:
        state, tone = "too late", "bad"
    if waived is not None and not requirement.met:
        state, tone = "let go", "unknown"
    return Need(
        requirement=requirement,
        word=WORDS[requirement.code],
        state=state,
        tone=tone,
        let_go_because=waived["because"] if waived is not None else "",
    )
