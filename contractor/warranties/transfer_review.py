"""Everything that issuing a transfer will do, for the page that is read before the button is pressed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from contractor.properties.models import Ownership
from contractor.warranties.models import Acceptance, Transfer
from contractor.warranties.numbers import display_number
from contractor.warranties.queries import last_certificate
from contractor.warranties.taking_over import TakingOver, taking_over
from contractor.warranties.transfer_file import TransferFile, transfer_file
from contractor.warranties.transfer_people import ROLES, PersonInSale, people_in_sale, people_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """Who will be told, and how."""

    word: str
    name: str
    way: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferReview:
    """What happens at once when the certificate is issued. ``is_handed_over``: the record of owners says so already."""

    file: TransferFile
    taken: TakingOver
    acceptance: Acceptance | None
    people: Sequence[PersonInSale]
    messages: Sequence[Message]
    supersedes: str
    is_handed_over: bool
    seller_links: int
    can_issue: bool


def transfer_review(transfer: Transfer, *, on: date, at: datetime) -> TransferReview:
    """Gathers the review of a transfer that is still open."""
    file = transfer_file(transfer, on=on)
    before = last_certificate(transfer.warranty)
    people = people_in_sale(transfer, at=at)
    return TransferReview(
        file=file,
        taken=taking_over(transfer),
        acceptance=Acceptance.objects.filter(transfer=transfer).first(),
        people=people,
        messages=_messages(transfer),
        supersedes=display_number(before.number) if before is not None else "",
        is_handed_over=transfer.seller.until_on is not None,
        seller_links=_open_links(transfer.seller, at),
        can_issue=transfer.state == Transfer.State.ASKED and file.is_complete and not file.is_before_closing,
    )


def _messages(transfer: Transfer) -> list[Message]:
    """The letters of the issue; by then the buyer lives in the house, so a letter there finds them."""
    return [
        Message(
            word=ROLES[role],
            name=person.name,
            way=f"e-mail to {person.email}" if person.email and person.wants_email else "a letter to print",
        )
        for role, person in people_of(transfer)
    ]


def _open_links(seller: Ownership, at: datetime) -> int:
    return seller.links.filter(revoked_at__isnull=True, expires_at__gt=at).count()
