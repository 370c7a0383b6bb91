"""Cover: whether a promise holds on a day, for each component and for all components of one kind."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Literal

from contractor.warranties.rules.care import CareOn
from contractor.warranties.rules.counting import ONE_DAY, add_months
from contractor.warranties.rules.facts import ComponentSpan, Facts
from contractor.warranties.rules.terms import Promise, Terms

Why = Literal["", "before issue", "not installed", "taken out", "term over", "transfer", "not carried over"]


class Cover(StrEnum):
    """The state of a promise on a day."""

    NOT_STARTED = "not_started"
    IN_FORCE = "in_force"
    SUSPENDED = "suspended"
    ENDED = "ended"
    VOID = "void"

    @property
    def word(self) -> str:
        """The state as people read it."""
        return self.value.replace("_", " ")


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentTerm:
    """The promise as it stands for one component.

    Cover holds from ``from_on`` through ``through_on`` (None: for a life that has no last day yet), while the
    component is in service. ``counted_from_on`` is the day from which months count, for the term and for the
    share of the cost. ``months`` is the number of them, None for a life. ``cut_by`` names what ended or shortened it.
    """

    component: ComponentSpan
    counted_from_on: date
    from_on: date
    through_on: date | None
    months: int | None
    cut_by: Literal["", "transfer", "not carried over"] = ""

    def holds(self, on: date) -> bool:
        """Whether the term has begun and is not over on this day."""
        return self.from_on <= on and (self.through_on is None or on <= self.through_on)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverOn:
    """Cover of one promise on a day, why it is not in force, and the terms of the components it rests on."""

    promise: Promise
    cover: Cover
    through_on: date | None
    why: Why
    terms: tuple[ComponentTerm, ...]


def promised(terms: Terms, part_kind: str) -> Promise:
    """The promise for a part kind; LookupError when the terms make none."""
    promise = terms.promise_for(part_kind)
    if promise is None:
        raise LookupError(f"Terms {terms.edition} make no promise for {part_kind}.")
    return promise


def component_terms(terms: Terms, facts: Facts, part_kind: str, on: date) -> tuple[ComponentTerm, ...]:
    """The promise for each component of a kind, oldest first, as the transfers up to and with ``on`` left it.

    One component never lengthens another's term. Components gone before the issue day were never covered and are
    left out.
    """
    promise = promised(terms, part_kind)
    transferred_on = facts.transfers[0].on if facts.transfers and facts.transfers[0].on <= on else None
    return tuple(
        _component_term(terms, facts.issued_on, promise, part, transferred_on)
        for part in facts.components_of(part_kind)
        if part.out_on is None or part.out_on > facts.issued_on
    )


def _component_term(
    terms: Terms, issued_on: date, promise: Promise, component: ComponentSpan, transferred_on: date | None
) -> ComponentTerm:
    counted_from_on = issued_on if promise.starts == "issue" else component.in_on
    through_on = None if promise.months is None else add_months(counted_from_on, promise.months)
    cut_by: Literal["", "transfer", "not carried over"] = ""
    rule = terms.transfer_limits
    if transferred_on is not None:
        last_before = transferred_on - ONE_DAY
        if rule is not None and not rule.allowed:
            if through_on is None or last_before < through_on:
                through_on, cut_by = last_before, "not carried over"
        elif promise.months is None and rule is not None and rule.months_after is not None:
            # Only the first transfer shortens: at a later one no more than the rest of these months is left.
            through_on, cut_by = add_months(transferred_on, rule.months_after), "transfer"
        elif promise.life_of == "ownership":
            through_on, cut_by = last_before, "transfer"
    return ComponentTerm(
        component=component,
        counted_from_on=counted_from_on,
        from_on=max(issued_on, component.in_on),
        through_on=through_on,
        months=promise.months,
        cut_by=cut_by,
    )


def cover_on(terms: Terms, facts: Facts, part_kind: str, on: date, care: CareOn) -> CoverOn:
    """Cover of a part kind on a day, given the state of care on that day.

    With several components in service, cover is in force while one of them is within its term, and ``through_on``
    is the last day on which one is.
    """
    promise = promised(terms, part_kind)
    every = component_terms(terms, facts, part_kind, on)
    known = tuple(term for term in every if term.component.in_on <= on)
    serving = tuple(term for term in known if term.component.serves(on))
    holding = tuple(term for term in serving if term.holds(on))

    def answer(cover: Cover, through_on: date | None, why: Why, rests_on: tuple[ComponentTerm, ...]) -> CoverOn:
        return CoverOn(promise=promise, cover=cover, through_on=through_on, why=why, terms=rests_on)

    if on < facts.issued_on:
        return answer(Cover.NOT_STARTED, _latest(every), "before issue", every)
    if facts.voided_on is not None and facts.voided_on <= on:
        last = facts.voided_on - ONE_DAY
        return answer(Cover.VOID, min(last, _latest_served(known) or last), "", serving)
    if not known:
        return answer(Cover.NOT_STARTED, _latest(every), "not installed", every)
    if holding:
        suspended = _is_suspended(terms, facts, on, care)
        return answer(Cover.SUSPENDED if suspended else Cover.IN_FORCE, _latest(holding), "", holding)
    if not serving:
        return answer(Cover.ENDED, _latest_served(known), "taken out", known)
    longest = max(serving, key=lambda term: term.through_on or date.max)
    return answer(Cover.ENDED, _latest_served(known), longest.cut_by or "term over", serving)


def cover_changes(terms: Terms, facts: Facts, part_kind: str) -> tuple[date, ...]:
    """Every day on which cover may change for another reason than care, in no order."""
    days = {facts.issued_on}
    if facts.voided_on is not None:
        days.add(facts.voided_on)
    for term in component_terms(terms, facts, part_kind, date.max):
        days |= {term.component.in_on, term.from_on}
        if term.component.out_on is not None:
            days.add(term.component.out_on)
        if term.through_on is not None:
            days.add(term.through_on + ONE_DAY)
    return tuple(days)


def _is_suspended(terms: Terms, facts: Facts, on: date, care: CareOn) -> bool:
    rule = terms.care
    if rule is None or rule.when_missed != "suspend" or not care.gaps or care.waived_through_on is not None:
        return False
    # A yearly check-up starts the care series again, but only these two kinds put cover back in force.
    restored = [
        checkup.on
        for checkup in facts.checkups
        if checkup.kind in {"reinstatement", "transfer"}
        and checkup.passed
        and checkup.on <= on
        and (rule.any_provider or checkup.by == "us")
    ]
    return not restored or max(restored) < care.gaps[-1].from_on


def _latest(terms: tuple[ComponentTerm, ...]) -> date | None:
    """The last day of the longest of these terms of one promise; None when there is none, or it is for a life."""
    return max((term.through_on for term in terms if term.through_on is not None), default=None)


def _latest_served(terms: tuple[ComponentTerm, ...]) -> date | None:
    """The last day on which one of these components was in service and within its term, if there was one."""
    last_days = []
    for term in terms:
        ends = [term.through_on, term.component.out_on - ONE_DAY if term.component.out_on else None]
        known = [day for day in ends if day is not None]
        if known and min(known) >= term.from_on:
            last_days.append(min(known))
    return max(last_days, default=None)
