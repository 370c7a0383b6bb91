"""The sentences under a standing: why it is what it is, and what would put it right."""

from dataclasses import replace
from datetime import date

from contractor.warranties.rules.care import Care, CareOn, Gap, care_on
from contractor.warranties.rules.counting import ONE_DAY
from contractor.warranties.rules.cover import ComponentTerm, Cover, CoverOn, cover_on
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.terms import Promise, Terms
from contractor.warranties.rules.wording import (
    LIFE_WORDS,
    count_in_words,
    day_in_words,
    part_in_words,
    through_in_words,
)


def standing_reasons(facts: Facts, cover: CoverOn, care: CareOn, on: date) -> tuple[str, ...]:
    """Cover first, then care, one sentence each, with dates."""
    return (*cover_reasons(facts, cover, on), *_care_reasons(cover, care, on))


def standing_restore(terms: Terms, facts: Facts, cover: CoverOn, care: CareOn, on: date) -> str:
    """What would put the standing right and by when; empty when nothing is amiss."""
    if cover.cover is Cover.VOID:
        return "Call the office if you think that this decision is wrong; the manager can look at it again."
    if cover.why == "taken out":
        part = part_in_words(cover.promise.part_kind)
        renewed = cover.promise.starts == "component" and cover.promise.months is not None
        if renewed or any(term.holds(on) for term in cover.terms):
            return f"Have a new {part} put in; it is covered from that day."
        return ""
    if cover.cover in {Cover.ENDED, Cover.NOT_STARTED}:
        return ""
    who = " Any qualified provider may do it; send us the record." if terms.care and terms.care.any_provider else ""
    if cover.cover is not Cover.SUSPENDED and care.care in {Care.NOT_ASKED, Care.CURRENT}:
        return ""
    waiting_on = _waits_for_repair(terms, facts, cover.promise.part_kind, on)
    if waiting_on is not None:
        found = f"what was found on {day_in_words(waiting_on)}"
        return f"Have {found} put right, and the check-up of that day counts.{who}"
    if cover.cover is Cover.SUSPENDED:
        return f"Have a reinstatement check-up done: cover is back in force from the day it passes.{who}"
    if care.care is Care.GAP:
        return f"Have the check-up done now: the gap ends on that day, and the next due day is counted from it.{who}"
    if care.care is Care.IN_GRACE and care.grace_through_on is not None:
        return f"Have the check-up done by {day_in_words(care.grace_through_on)}, the last day of the grace.{who}"
    if care.care is Care.DUE and care.due_on is not None:
        return f"Have the check-up done by {day_in_words(care.due_on)}.{who}"
    return ""


def _waits_for_repair(terms: Terms, facts: Facts, part_kind: str, on: date) -> date | None:
    """The day of the newest check-up after which nothing were amiss, had what it found been put right."""
    for done in sorted(facts.checkups, key=lambda checkup: checkup.on, reverse=True):
        if done.passed or done.on > on:
            continue
        checkups = tuple(replace(each, passed=True) if each is done else each for each in facts.checkups)
        mended = replace(facts, checkups=checkups)
        care = care_on(terms.care, mended, on)
        if care.care is Care.CURRENT and cover_on(terms, mended, part_kind, on, care).cover is Cover.IN_FORCE:
            return done.on
    return None


def cover_reasons(facts: Facts, cover: CoverOn, on: date) -> list[str]:
    """Why cover is what it is on a day, one sentence for each term it rests on."""
    promise = cover.promise
    part = part_in_words(promise.part_kind)
    if cover.cover is Cover.VOID and facts.voided_on is not None:
        reason = facts.voided_because.strip().rstrip(".")
        return [f"The warranty is void from {day_in_words(facts.voided_on)}: {reason}."]
    if cover.why == "before issue":
        return [f"Cover starts on {day_in_words(facts.issued_on)}, the day the warranty is issued."]
    if cover.why == "not installed":
        coming = [term.component.in_on for term in cover.terms]
        if coming:
            return [f"The first {part} goes in on {day_in_words(min(coming))}; it is covered from that day."]
        return [f"There is no {part} on record in this system, so there is nothing to cover."]
    if cover.why == "taken out":
        last_out = max(term.component.out_on or date.min for term in cover.terms)
        return [f"No {part} has been in place since {day_in_words(last_out)}."]
    sentences = list(dict.fromkeys(_term_sentence(promise, facts, term, on) for term in cover.terms))
    if cover.cover is Cover.SUSPENDED:
        sentences.append("Cover is suspended until a reinstatement or transfer check-up has passed.")
    return sentences


def _term_sentence(promise: Promise, facts: Facts, term: ComponentTerm, on: date) -> str:
    subject = f"The promise for the {part_in_words(promise.part_kind)}"
    if promise.starts == "component":
        subject += f" put in on {day_in_words(term.component.in_on)}"
    if term.through_on is None:
        return f"{subject} holds {LIFE_WORDS[promise.life_of or 'product']}."
    last_day = through_in_words(term.through_on)
    if term.cut_by == "not carried over":
        return f"{subject} ended on {day_in_words(term.through_on)}: these terms do not pass to a later owner."
    if term.cut_by == "transfer" and term.through_on < facts.transfers[0].on:
        return f"{subject} ended on {day_in_words(term.through_on)}, with the ownership of the owner named in it."
    runs = "runs" if on <= term.through_on else "ran"
    if term.cut_by == "transfer":
        return f"{subject} {runs} {last_day}, counted from the transfer on {day_in_words(facts.transfers[0].on)}."
    months = count_in_words(term.months or 0, "month")
    return f"{subject} {runs} {last_day}: {months} from {day_in_words(term.counted_from_on)}."


def _care_reasons(cover: CoverOn, care: CareOn, on: date) -> list[str]:
    due_on, opens_on, grace_through_on = care.due_on, care.opens_on, care.grace_through_on
    if due_on is None or opens_on is None or grace_through_on is None:
        return []
    due = day_in_words(due_on)
    reasons = [_gap_sentence(gap) for gap in care.gaps if gap.until_on <= on and gap.days > 0]
    if care.waived_through_on is not None:
        because = care.waived_because.strip().rstrip(".")
        reasons.append(f"The check-up is waived {through_in_words(care.waived_through_on)}: {because}.")
    elif care.care is Care.CURRENT:
        reasons.append(f"The next check-up is due on {due}; it counts from {day_in_words(opens_on)}.")
    elif care.care is Care.DUE:
        reasons.append(f"The check-up is due by {due}.")
    elif care.care is Care.IN_GRACE:
        reasons.append(f"The check-up was due on {due}; the grace runs {through_in_words(grace_through_on)}.")
    else:
        reasons.append(
            f"The check-up was due on {due} and the grace ended on {day_in_words(grace_through_on)}: "
            f"a gap of {count_in_words(care.gap_days, 'day')} so far."
        )
        if cover.cover is Cover.IN_FORCE:
            reasons.append("Cover goes on. In a claim, a person decides whether the missing care caused the loss.")
    return reasons


def _gap_sentence(gap: Gap) -> str:
    last = gap.until_on - ONE_DAY
    return (
        f"The record has a gap from {day_in_words(gap.from_on)} {through_in_words(last)} "
        f"({count_in_words(gap.days, 'day')} without the check-up)."
    )
