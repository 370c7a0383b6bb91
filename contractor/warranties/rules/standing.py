"""Standing: two answers about a promise on a day, never mixed. Is it in force, and was the system cared for?

A missed check-up never ends cover by itself. Under ``judge`` it is evidence for a claim; under ``suspend`` cover
rests after the grace until a reinstatement or transfer check-up passed. Both answers are derived from facts; nobody
sets them by hand, except that a manager's recorded decision can void a warranty.
"""

from dataclasses import dataclass
from datetime import date

from contractor.warranties.rules.care import Care, CareOn, care_changes, care_on
from contractor.warranties.rules.counting import ONE_DAY
from contractor.warranties.rules.cover import Cover, cover_changes, cover_on, promised
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.reasons import standing_reasons, standing_restore
from contractor.warranties.rules.terms import Terms


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Days with one standing: from ``from_on`` up to but without ``until_on``."""

    from_on: date
    until_on: date
    cover: Cover
    care: Care

    @property
    def last_on(self) -> date:
        """The last day that belongs to the span."""
        return self.until_on - ONE_DAY


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Both answers for a part kind on a day, with the sentences that explain them.

    ``through_on`` is the last day of cover: still to come while in force or suspended, past once ended or void;
    None for a life without a last day, or when there never was cover. ``restore`` says what would put things right
    and by when; empty when nothing is amiss. ``next_due_on`` is the due day of the next check-up, ``gap_days`` the
    length of the gap that is open on that day.
    """

    cover: Cover
    care: Care
    through_on: date | None
    reasons: tuple[str, ...]
    restore: str
    next_due_on: date | None = None
    gap_days: int = 0


def standing_on(terms: Terms, facts: Facts, part_kind: str, on: date) -> Standing:
    """The standing of the promise for ``part_kind`` on the day ``on``.

    Only what happened up to and with that day counts: a later check-up, transfer, removal or decision never changes
    the answer. LookupError when the terms make no promise for the kind.
    """
    return _standing(terms, facts, part_kind, on, care_on(terms.care, facts, on))


def standings_on(terms: Terms, facts: Facts, on: date) -> tuple[tuple[str, Standing], ...]:
    """The standing of every promise on a day, by part kind in the order of the terms."""
    care = care_on(terms.care, facts, on)
    return tuple(
        (promise.part_kind, _standing(terms, facts, promise.part_kind, on, care)) for promise in terms.promises
    )


def _standing(terms: Terms, facts: Facts, part_kind: str, on: date, care: CareOn) -> Standing:
    cover = cover_on(terms, facts, part_kind, on, care)
    return Standing(
        cover=cover.cover,
        care=care.care,
        through_on=cover.through_on,
        reasons=standing_reasons(facts, cover, care, on),
        restore=standing_restore(terms, facts, cover, care, on),
        next_due_on=care.due_on,
        gap_days=care.gap_days,
    )


def standing_spans(terms: Terms, facts: Facts, part_kind: str, until_on: date) -> tuple[Span, ...]:
    """The whole time line of a promise up to but without ``until_on``: spans that neither overlap nor leave a gap.

    The first span begins on ``date.min``; neighbours differ in cover or in care.
    """
    promised(terms, part_kind)
    cuts = {date.min, *cover_changes(terms, facts, part_kind), *care_changes(terms.care, facts, until_on)}
    starts = sorted(day for day in cuts if day < until_on)
    spans: list[Span] = []
    for from_on, end in zip(starts, [*starts[1:], until_on], strict=True):
        care = care_on(terms.care, facts, from_on)
        cover = cover_on(terms, facts, part_kind, from_on, care).cover
        if spans and (spans[-1].cover, spans[-1].care) == (cover, care.care):
            spans[-1] = Span(from_on=spans[-1].from_on, until_on=end, cover=cover, care=care.care)
        else:
            spans.append(Span(from_on=from_on, until_on=end, cover=cover, care=care.care))
    return tuple(spans)


def kinds_in_force(terms: Terms, facts: Facts, on: date) -> tuple[str, ...]:
    """The part kinds whose promise is in force on a day, in the order of the terms."""
    care: CareOn = care_on(terms.care, facts, on)
    return tuple(
        promise.part_kind
        for promise in terms.promises
        if cover_on(terms, facts, promise.part_kind, on, care).cover is Cover.IN_FORCE
    )
