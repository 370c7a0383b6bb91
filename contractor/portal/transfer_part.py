"""Reads for the pages of seller, buyer and agent: each sees how far the sale is, and their own part."""

from dataclasses import dataclass
from datetime import date

from contractor.warranties.models import Acceptance, Transfer
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.rules.transfer_steps import Role
from contractor.warranties.taking_over import TakingOver, taking_over
from contractor.warranties.transfer_words import Step, steps_for


@dataclass(frozen=True, slots=True, kw_only=True)
class SalePart:
    """How far a sale is, in the words for one role."""

    transfer: Transfer
    number: str
    steps: list[Step]
    on: date

    @property
    def missing(self) -> list[Step]:
        """What still stands in the way."""
        return [step for step in self.steps if step.state == "missing"]

    @property
    def yours(self) -> list[Step]:
        """What the reader can do about it."""
        return [step for step in self.missing if step.is_yours]

    @property
    def is_before_closing(self) -> bool:
        """Whether the house has not changed hands yet."""
        return self.on < self.transfer.closing_on

    @property
    def tone(self) -> str:
        """The mark of the page: good once nothing is missing."""
        return "watch" if self.missing else "good"


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyerPart(SalePart):
    """The same with what the buyer takes over, and their acceptance once there is one."""

    taken: TakingOver
    acceptance: Acceptance | None


def sale_part(role: Role, transfer: Transfer, *, on: date) -> SalePart:
    """The part of seller or agent on a day."""
    return SalePart(
        transfer=transfer,
        number=display_warranty_number(transfer.warranty.number),
        steps=steps_for(role, transfer, on=on),
        on=on,
    )


def buyer_part(transfer: Transfer, *, on: date) -> BuyerPart:
    """The part of the buyer on a day."""
    return BuyerPart(
        transfer=transfer,
        number=display_warranty_number(transfer.warranty.number),
        steps=steps_for("buyer", transfer, on=on),
        on=on,
        taken=taking_over(transfer),
        acceptance=Acceptance.objects.filter(transfer=transfer).first(),
    )
