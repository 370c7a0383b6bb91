"""Carrying a warranty over to the next owner: each rule of the terms answers by itself.

All comes from the terms that were issued. A full warranty restricts no later owner, so the rules of its terms
vanish; that the seller is the owner of record and that something is in force are facts, not restrictions.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from contractor.warranties.rules.care import counted_checkups
from contractor.warranties.rules.counting import deadline
from contractor.warranties.rules.cover import Cover
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.standing import kinds_in_force, standing_on
from contractor.warranties.rules.terms import Terms, TransferRule
from contractor.warranties.rules.wording import count_in_words, day_in_words, money_in_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """A transfer as asked for: the closing day, the day the company was told, and what has been collected so far."""

    closing_on: date
    notified_on: date | None
    seller_is_owner: bool
    buyer_accepted_on: date | None = None
    fee_paid: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """One rule's answer. ``by_on`` is the last day to meet it, None where the terms set none.

    ``sentence`` says why it is met, or what to do and by when. ``waivable``: a manager may let it go, with a reason;
    who owns the house and whether the terms pass on at all are not theirs to let go.
    """

    code: str
    met: bool
    by_on: date | None
    sentence: str
    waivable: bool = True


def transfer_requirements(terms: Terms, facts: Facts, request: Request) -> tuple[Requirement, ...]:
    """Every requirement of a transfer, met or not, in the order in which an office works through them."""
    rule = terms.transfer_limits
    found: list[Requirement | None] = []
    if rule is not None:
        found += [_allowed(rule), _transfers_left(rule, facts), _told_in_time(rule, request)]
        found.append(_checkup(terms, rule, facts, request))
    found.append(_in_force(terms, facts, request))
    if rule is not None:
        found.append(_fee(rule, request, terms.jurisdiction))
    found.append(_seller(request))
    if terms.designation != "FULL":
        found.append(_accepted(request))
    return tuple(requirement for requirement in found if requirement is not None)


def missing(requirements: tuple[Requirement, ...], waived: frozenset[str] = frozenset()) -> tuple[Requirement, ...]:
    """The requirements that still stand in the way, those a manager has let go left out."""
    return tuple(one for one in requirements if not one.met and not (one.waivable and one.code in waived))


def _allowed(rule: TransferRule) -> Requirement:
    sentence = (
        "These terms may be carried over to a later owner."
        if rule.allowed
        else "These terms end with the owner named in them; offer the buyer a warranty of their own."
    )
    return Requirement(code="allowed", met=rule.allowed, by_on=None, sentence=sentence, waivable=False)


def _transfers_left(rule: TransferRule, facts: Facts) -> Requirement | None:
    if rule.most is None or not rule.allowed:
        return None
    left = rule.most - len(facts.transfers)
    allowed = count_in_words(rule.most, "transfer")
    sentence = (
        f"The terms allow {allowed}; {left} left, this one included."
        if left > 0
        else f"The terms allow {allowed} and none is left; ask the manager whether to let this one through."
    )
    return Requirement(code="transfers_left", met=left > 0, by_on=None, sentence=sentence)


def _told_in_time(rule: TransferRule, request: Request) -> Requirement | None:
    if rule.notice_days is None:
        return None
    by_on = deadline(request.closing_on, rule.notice_days)
    told = request.notified_on
    last_day = f"{day_in_words(by_on)}, {count_in_words(rule.notice_days, 'day')} after the closing"
    if told is None:
        return Requirement(code="told_in_time", met=False, by_on=by_on, sentence=f"Tell us of the sale by {last_day}.")
    sentence = f"We were told on {day_in_words(told)}; the last day is {last_day}."
    if told > by_on:
        sentence += " It is late: ask the manager whether to let it through."
    return Requirement(code="told_in_time", met=told <= by_on, by_on=by_on, sentence=sentence)


def _checkup(terms: Terms, rule: TransferRule, facts: Facts, request: Request) -> Requirement | None:
    days = rule.checkup_within_days
    if days is None:
        return None
    from_on = request.closing_on - timedelta(days=days)
    by_on = deadline(request.closing_on, days)
    counting = [done.on for done in counted_checkups(terms.care, facts) if from_on <= done.on <= by_on]
    if counting:
        sentence = f"A check-up passed on {day_in_words(max(counting))}."
    else:
        sentence = (
            f"Have a check-up done by {day_in_words(by_on)}: one that passed within {count_in_words(days, 'day')} "
            f"of the closing on {day_in_words(request.closing_on)} is needed."
        )
    return Requirement(code="checkup", met=bool(counting), by_on=by_on, sentence=sentence)


def _in_force(terms: Terms, facts: Facts, request: Request) -> Requirement:
    closing = day_in_words(request.closing_on)
    if kinds_in_force(terms, facts, request.closing_on):
        return Requirement(code="in_force", met=True, by_on=None, sentence=f"Cover is in force on {closing}.")
    standings = [standing_on(terms, facts, promise.part_kind, request.closing_on) for promise in terms.promises]
    if any(standing.cover is Cover.SUSPENDED for standing in standings):
        return Requirement(
            code="in_force",
            met=False,
            by_on=request.closing_on,
            sentence=f"Cover is suspended: have a transfer check-up done that passes by {closing}.",
        )
    if any(standing.cover is Cover.VOID for standing in standings):
        sentence = f"The warranty is void on {closing}, so there is nothing to carry over."
    elif request.closing_on < facts.issued_on:
        sentence = f"The warranty starts on {day_in_words(facts.issued_on)}, after the closing; issue it to the buyer."
    else:
        sentence = f"No promise is in force on {closing}, so there is nothing to carry over."
    return Requirement(code="in_force", met=False, by_on=None, sentence=sentence)


def _fee(rule: TransferRule, request: Request, jurisdiction: str) -> Requirement | None:
    if rule.fee == 0:
        return None
    amount = money_in_words(rule.fee, jurisdiction)
    sentence = (
        f"The transfer fee of {amount} is paid."
        if request.fee_paid
        else f"Collect the transfer fee of {amount} before the certificate is issued."
    )
    return Requirement(code="fee", met=request.fee_paid, by_on=None, sentence=sentence)


def _seller(request: Request) -> Requirement:
    sentence = (
        "The seller is the owner of record."
        if request.seller_is_owner
        else "The seller is not the owner of record; find out who owns the house and correct the record first."
    )
    return Requirement(code="seller", met=request.seller_is_owner, by_on=None, sentence=sentence, waivable=False)


def _accepted(request: Request) -> Requirement:
    accepted = request.buyer_accepted_on
    sentence = (
        f"The buyer accepted on {day_in_words(accepted)}."
        if accepted is not None
        else "Ask the buyer to read the terms and accept them, by link or on paper, before the certificate is issued."
    )
    return Requirement(code="accepted", met=accepted is not None, by_on=None, sentence=sentence, waivable=False)
