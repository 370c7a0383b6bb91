"""What each outside person of a sale is told about a requirement: what is missing, until when, and what to do.

The requirements' own sentences speak to the office. These name nobody, so that each may stand on anybody's page.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from contractor.visits.models import Appointment
from contractor.warranties.models import Transfer
from contractor.warranties.queries import terms_of, transfer_needs
from contractor.warranties.rules.transfer_steps import Role, whose_turn
from contractor.warranties.rules.transfers import Requirement
from contractor.warranties.rules.wording import day_in_words, money_in_words
from contractor.warranties.transfer_checks import standing_check

WORDS = {
    "allowed": "The warranty may be passed on",
    "transfers_left": "Changes of owner that are left",
    "told_in_time": "Telling us in time",
    "checkup": "Check-up for the sale",
    "in_force": "Cover on the closing day",
    "fee": "Transfer fee",
    "seller": "Owner on our record",
    "accepted": "The buyer accepts",
}
LOOK_INTO = "We look into it and call you."


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One requirement as an outside person reads it. ``is_yours``: it is the reader who can do something."""

    code: str
    word: str
    state: Literal["done", "not needed", "missing"]
    tone: str
    sentence: str
    by_on: date | None
    is_yours: bool


def steps_for(role: Role, transfer: Transfer, *, on: date) -> list[Step]:
    """Every requirement of a sale in the words for one role, what is missing first."""
    visit = _visit(transfer)
    steps = [_step(role, need, transfer, visit, on) for need in transfer_needs(transfer)]
    return sorted(steps, key=lambda step: (step.state != "missing", not step.is_yours))


def missing_for(role: Role, transfer: Transfer, *, on: date) -> list[str]:
    """What is still missing, one sentence each."""
    return [step.sentence for step in steps_for(role, transfer, on=on) if step.state == "missing"]


def _visit(transfer: Transfer) -> Appointment | None:
    """The day set for the transfer check, while it is still to come."""
    request = standing_check(transfer)
    if request is None:
        return None
    return request.appointments.live().exclude(state=Appointment.State.DONE).first()


def _step(role: Role, need: Requirement, transfer: Transfer, visit: Appointment | None, on: date) -> Step:
    state: Literal["done", "not needed", "missing"] = "done" if need.met else "missing"
    sentence = need.sentence if need.met else _missing(role, need, transfer, visit)
    if not need.met and need.waivable and need.code in transfer.waived:
        state, sentence = "not needed", "We have let this go for this sale."
    return Step(
        code=need.code,
        word=WORDS[need.code],
        state=state,
        tone={"done": "good", "not needed": "unknown", "missing": "watch"}[state],
        sentence=sentence,
        by_on=need.by_on if state == "missing" else None,
        is_yours=state == "missing" and role in whose_turn(need.code, closing_on=transfer.closing_on, on=on),
    )


def _missing(role: Role, need: Requirement, transfer: Transfer, visit: Appointment | None) -> str:
    if need.code == "accepted":
        if role == "buyer":
            return "Read the document and accept it, here or on paper."
        return "The buyer has not accepted yet; a link to do it went to the buyer."
    if need.code == "fee":
        amount = money_in_words(transfer.fee, terms_of(transfer.warranty).jurisdiction)
        return f"The transfer fee of {amount} is to be paid. Ask us how, and who of you pays it."
    if need.code == "checkup" and need.by_on is not None:
        return f"A check-up that passes is needed by {day_in_words(need.by_on)}. {_about_visit(role, visit)}"
    if need.code == "in_force" and need.by_on is not None:
        return (
            f"Cover is suspended until a check-up passes; it has to by {day_in_words(need.by_on)}. "
            f"{_about_visit(role, visit)}"
        )
    last_day = f" (the last day was {day_in_words(need.by_on)})" if need.by_on is not None else ""
    return {
        "allowed": f"These terms end with the present owner. {LOOK_INTO}",
        "transfers_left": f"The terms allow no further change of owner. {LOOK_INTO}",
        "told_in_time": f"We heard of the sale later than the terms allow{last_day}. {LOOK_INTO}",
        "in_force": f"No cover would be in force on the closing day. {LOOK_INTO}",
        "seller": f"Our record names another owner. {LOOK_INTO}",
    }[need.code]


def _about_visit(role: Role, visit: Appointment | None) -> str:
    if visit is not None:
        return f"We come on {day_in_words(visit.on)}."
    if role == "agent":
        return "We set the day with whoever lives there; a check-up by another qualified company counts too."
    return "We call to set a day. Another qualified company may do it as well: send us its record."
