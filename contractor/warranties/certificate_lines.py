"""The lines of a certificate in plain data: standing in a sentence, promises, care, transfer."""

from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from typing import Any

from contractor.checkups.queries import care_record
from contractor.systems.drawing import DrawnPart, legend
from contractor.warranties.models import Transfer, Warranty
from contractor.warranties.queries import CARE_KINDS, PromiseStanding, overall_cover, transfer_needs
from contractor.warranties.rules.care import care_on
from contractor.warranties.rules.claims import exact_share
from contractor.warranties.rules.counting import add_months, completed_months
from contractor.warranties.rules.cover import ComponentTerm, Cover, component_terms
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.terms import Promise, Terms
from contractor.warranties.rules.wording import LIFE_WORDS, count_in_words, day_in_words, list_in_words, money_in_words

CHECKUPS_SHOWN = 5
KIND_WORDS = {"checkup": "yearly check-up", "reinstatement": "reinstatement check", "transfer": "transfer check"}

# What a manager may let go, as a reader of the certificate understands it.
LET_GO = {
    "transfers_left": "the number of transfers that the terms allow",
    "told_in_time": "the last day for telling the company of the sale",
    "checkup": "the check-up for the sale",
    "in_force": "cover in force on the closing day",
    "fee": "the transfer fee",
}


def standing_sentence(*, terms: Terms, promises: Sequence[PromiseStanding], transfer: Transfer | None, on: date) -> str:
    """The standing in one sentence "as of" a day; it speaks of the warranty, never of the basement."""
    cover = overall_cover(one.standing for one in promises)
    sentence = f"As of {day_in_words(on)} this {terms.kind_in_words} is {cover.word}"
    if transfer is not None:
        sentence += f" and was carried over to the owner named here on {day_in_words(transfer.closing_on)}"
    return f"{sentence}."


def promise_lines(
    *, terms: Terms, facts: Facts, promises: Sequence[PromiseStanding], parts: Sequence[DrawnPart], on: date
) -> list[dict[str, Any]]:
    """One line for each promise and start day, for the parts in service; kinds that were never put in are left out."""
    numbers = {row.kind: row.number for row in legend(parts)}
    lines = []
    for one in promises:
        if one.standing.cover is Cover.NOT_STARTED:
            continue
        serving = [term for term in component_terms(terms, facts, one.part_kind, on) if term.component.serves(on)]
        alike: dict[tuple[date, date | None], list[ComponentTerm]] = {}
        for term in serving:
            alike.setdefault((term.counted_from_on, term.through_on), []).append(term)
        number = numbers.get(one.part_kind, 0)
        lines += [_promise_line(one, facts, group, number, on) for group in alike.values()] or [_gone_line(one)]
    return lines


def _promise_line(
    one: PromiseStanding, facts: Facts, group: Sequence[ComponentTerm], number: int, on: date
) -> dict[str, Any]:
    term, promise, standing = group[0], one.promise, one.standing
    # Within a kind one part may be in its term while an older one is past it.
    cover = standing.cover
    if cover in {Cover.IN_FORCE, Cover.SUSPENDED} and not term.holds(on):
        cover = Cover.ENDED
    is_cut_to_months = term.cut_by == "transfer" and promise.months is None and promise.life_of != "ownership"
    share = exact_share(promise, completed_months(term.counted_from_on, on)) if cover is Cover.IN_FORCE else None
    return {
        "number": number,
        "kind": one.part_kind,
        "word": one.word,
        "count": len(group),
        "covers": promise.covers,
        "where": promise.where,
        "cover": cover.value,
        # What was promised for a life holds for months that are counted from the first change of owner.
        "from_on": (facts.transfers[0].on if is_cut_to_months else term.counted_from_on).isoformat(),
        "through_on": term.through_on.isoformat() if term.through_on is not None else "",
        "life": LIFE_WORDS[promise.life_of or "product"] if term.through_on is None else "",
        "share_today": percent(share) if share is not None else "",
        "share_note": _share_note(promise, term, on) if share is not None else "",
        "callout_fee": str(promise.callout_fee),
    }


def _gone_line(one: PromiseStanding) -> dict[str, Any]:
    return {
        "number": 0,
        "kind": one.part_kind,
        "word": one.word,
        "count": 0,
        "covers": one.promise.covers,
        "where": one.promise.where,
        "cover": one.standing.cover.value,
        "from_on": "",
        "through_on": one.standing.through_on.isoformat() if one.standing.through_on is not None else "",
        "life": "",
        "share_today": "",
        "share_note": "none in place",
        "callout_fee": str(one.promise.callout_fee),
    }


def percent(share: Fraction) -> str:
    """A share as people read it: "100 %", "58.33 %"."""
    figure = f"{float(share * 100):.2f}".rstrip("0").rstrip(".")
    return f"{figure} %"


def _share_note(promise: Promise, term: ComponentTerm, on: date) -> str:
    if promise.full_months is None or promise.months is None:
        return ""
    falls_from = add_months(term.counted_from_on, promise.full_months)
    falls = "falls" if falls_from > on else "falling"
    return f"{falls} evenly from {day_in_words(falls_from)} to nothing"


def care_lines(*, warranty: Warranty, terms: Terms, facts: Facts, on: date) -> dict[str, Any]:
    """What care the terms ask for, the latest check-ups (own and others'), gaps and the next due day."""
    care = care_on(terms.care, facts, on)
    done = [
        entry for entry in reversed(care_record(warranty.system_id)) if entry.kind in CARE_KINDS and entry.done_on <= on
    ]
    return {
        "asked": terms.care is not None,
        "every_months": terms.care.every_months if terms.care is not None else 0,
        "any_provider": terms.care.any_provider if terms.care is not None else True,
        "next_due_on": care.due_on.isoformat() if care.due_on is not None else "",
        "grace_through_on": care.grace_through_on.isoformat() if care.grace_through_on is not None else "",
        "checkups": [
            {
                "on": entry.done_on.isoformat(),
                "kind": KIND_WORDS[entry.kind],
                "provider": "" if entry.by_us else entry.provider,
                "passed": entry.is_passed,
            }
            for entry in done[:CHECKUPS_SHOWN]
        ],
        "checkups_in_all": len(done),
        "gap_days": sum(gap.days for gap in care.gaps),
    }


def transfer_lines(*, warranty: Warranty, terms: Terms, facts: Facts, transfer: Transfer | None) -> dict[str, Any]:
    """How the warranty came to this owner, and on what terms it goes on to the next."""
    return {"next": _next_owner(terms, facts), "this": _this_transfer(transfer) if transfer is not None else None}


def _this_transfer(transfer: Transfer) -> dict[str, Any]:
    return {
        "closing_on": transfer.closing_on.isoformat(),
        "notified_on": transfer.notified_on.isoformat(),
        "accepted_on": transfer.accepted_on.isoformat() if transfer.accepted_on is not None else "",
        "fee": str(transfer.fee),
        "fee_paid_on": transfer.fee_paid_on.isoformat() if transfer.fee_paid_on is not None else "",
        "requirements": [
            {
                "code": need.code,
                "met": need.met,
                "sentence": need.sentence,
                "waived": need.code in transfer.waived and not need.met,
                "let_go": LET_GO.get(need.code, ""),
            }
            for need in transfer_needs(transfer)
        ],
    }


def _next_owner(terms: Terms, facts: Facts) -> str:
    rule = terms.transfer_limits
    if rule is None:
        return "Passes to every later owner while it lasts, without fee or form."
    left = None if rule.most is None else rule.most - len(facts.transfers)
    if not rule.allowed or (left is not None and left <= 0):
        return "Does not pass to a later owner."
    words = ["Can be carried over to a later owner"]
    words.append("as often as the house is sold" if left is None else count_in_words(left, "more time"))
    asks = []
    if rule.notice_days is not None:
        asks.append(f"notice within {count_in_words(rule.notice_days, 'day')} of the closing")
    if rule.checkup_within_days is not None:
        asks.append(f"a check-up passed within {count_in_words(rule.checkup_within_days, 'day')} of it")
    if rule.fee:
        asks.append(f"a fee of {money_in_words(rule.fee, terms.jurisdiction)}")
    return f"{' '.join(words)}{', with ' + list_in_words(asks) if asks else ''}."
