"""What holds for every history of a warranty, found by trying very many of them."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Any

from hypothesis import assume, given
from hypothesis import strategies as st

from contractor.warranties.rules.care import Care, care_on
from contractor.warranties.rules.cover import Cover, component_terms
from contractor.warranties.rules.facts import CheckupDone, ComponentSpan, Facts, TransferDone, Waiver
from contractor.warranties.rules.standing import standing_on, standing_spans
from contractor.warranties.rules.terms import CareRule, Promise, TransferRule
from tests.warranties.rule_builders import PROMISES, YEARLY, terms

ISSUED_ON = date(2026, 5, 14)
HORIZON = date(2042, 1, 1)
KINDS = [promise.part_kind for promise in PROMISES]

offsets = st.integers(min_value=0, max_value=12 * 365)
days = offsets.map(lambda offset: ISSUED_ON + timedelta(days=offset))
checkups = st.builds(
    CheckupDone,
    on=days,
    kind=st.sampled_from(["yearly", "reinstatement", "transfer"]),
    passed=st.booleans(),
    by=st.sampled_from(["us", "other"]),
)
waivers = st.builds(
    lambda from_on, length: Waiver(from_on=from_on, until_on=from_on + timedelta(days=length), because="Snow"),
    days,
    st.integers(min_value=1, max_value=500),
)
components = st.builds(
    lambda kind, in_on, length: ComponentSpan(
        part_kind=kind, in_on=in_on, out_on=None if length is None else in_on + timedelta(days=length)
    ),
    st.sampled_from(KINDS),
    days.map(lambda on: on - timedelta(days=200)),
    st.none() | st.integers(min_value=0, max_value=3000),
)
records = st.builds(
    lambda voided_on, **values: Facts(
        issued_on=ISSUED_ON, voided_on=voided_on, voided_because="Clause 7" if voided_on else "", **values
    ),
    voided_on=st.none() | days,
    components=st.lists(components, max_size=8).map(tuple),
    checkups=st.lists(checkups, max_size=10).map(tuple),
    transfers=st.lists(days.map(lambda on: TransferDone(on=on)), max_size=3).map(tuple),
    waivers=st.lists(waivers, max_size=3).map(tuple),
)
care_rules = st.none() | st.builds(
    CareRule,
    every_months=st.sampled_from([6, 12, 24]),
    early_days=st.integers(min_value=0, max_value=60),
    grace_days=st.integers(min_value=0, max_value=60),
    charge=st.just(Decimal("145.00")),
    any_provider=st.booleans(),
    when_missed=st.sampled_from(["judge", "suspend"]),
)
transfer_rules = st.none() | st.builds(
    TransferRule, allowed=st.booleans(), months_after=st.none() | st.integers(min_value=1, max_value=240)
)
editions = st.builds(
    terms,
    care=care_rules,
    transfer=transfer_rules,
    designation=st.sampled_from(["LIMITED", "FULL"]),
)
kinds = st.sampled_from(KINDS)

COVER_RANK = {Cover.IN_FORCE: 0, Cover.SUSPENDED: 1, Cover.NOT_STARTED: 2, Cover.ENDED: 2, Cover.VOID: 2}
CARE_RANK = {Care.NOT_ASKED: 0, Care.CURRENT: 0, Care.DUE: 1, Care.IN_GRACE: 2, Care.GAP: 3}


@given(edition=editions, record=records, kind=kinds)
def test_spans_follow_one_another_without_gap_or_overlap(edition: Any, record: Facts, kind: str) -> None:
    spans = standing_spans(edition, record, kind, HORIZON)
    assert spans[0].from_on == date.min
    assert spans[-1].until_on == HORIZON
    for before, after in pairwise(spans):
        assert before.from_on < before.until_on == after.from_on
        assert (before.cover, before.care) != (after.cover, after.care)


@given(edition=editions, record=records, kind=kinds, on=days)
def test_the_span_of_a_day_and_the_standing_on_that_day_agree(edition: Any, record: Facts, kind: str, on: date) -> None:
    span = next(one for one in standing_spans(edition, record, kind, HORIZON) if one.from_on <= on < one.until_on)
    standing = standing_on(edition, record, kind, on)
    assert (standing.cover, standing.care) == (span.cover, span.care)
    last = standing_on(edition, record, kind, span.last_on)
    assert (last.cover, last.care) == (span.cover, span.care)


@given(edition=editions, record=records, kind=kinds, on=days)
def test_what_happens_later_does_not_change_the_standing_of_a_day(
    edition: Any, record: Facts, kind: str, on: date
) -> None:
    voided = record.voided_on is not None and record.voided_on <= on
    known = Facts(
        issued_on=record.issued_on,
        components=tuple(
            replace(part, out_on=part.out_on if part.out_on and part.out_on <= on else None)
            for part in record.components
            if part.in_on <= on
        ),
        checkups=tuple(done for done in record.checkups if done.on <= on),
        transfers=tuple(done for done in record.transfers if done.on <= on),
        waivers=record.waivers,
        voided_on=record.voided_on if voided else None,
        voided_because=record.voided_because if voided else "",
    )
    full, partial = standing_on(edition, record, kind, on), standing_on(edition, known, kind, on)
    assert (full.cover, full.care, full.next_due_on) == (partial.cover, partial.care, partial.next_due_on)
    if full.cover is not Cover.NOT_STARTED:
        assert (full.through_on, full.restore) == (partial.through_on, partial.restore)


@given(edition=editions, record=records, kind=kinds, on=days)
def test_the_last_day_of_cover_lies_ahead_while_in_force_and_behind_once_ended(
    edition: Any, record: Facts, kind: str, on: date
) -> None:
    standing = standing_on(edition, record, kind, on)
    if standing.through_on is not None:
        if standing.cover in {Cover.IN_FORCE, Cover.SUSPENDED}:
            assert standing.through_on >= on
        if standing.cover in {Cover.ENDED, Cover.VOID}:
            assert standing.through_on < on


@given(edition=editions, record=records, extra=checkups, kind=kinds, on=days)
def test_a_check_up_after_all_others_never_makes_any_day_worse(
    edition: Any, record: Facts, extra: CheckupDone, kind: str, on: date
) -> None:
    assume(all(done.on < extra.on for done in record.checkups))
    _assert_not_worse(edition, record, extra, kind, on)


@given(edition=editions, record=records, extra=checkups, kind=kinds, on=days)
def test_a_check_up_more_never_makes_any_day_worse_while_the_record_has_no_gap(
    edition: Any, record: Facts, extra: CheckupDone, kind: str, on: date
) -> None:
    last = max((done.on for done in record.checkups), default=ISSUED_ON)
    assume(not care_on(edition.care, record, last).gaps)
    _assert_not_worse(edition, record, extra, kind, on)


@given(data=st.data(), extra=days, on=days)
def test_a_check_up_more_never_makes_a_faithful_owner_worse_off(data: st.DataObject, extra: date, on: date) -> None:
    """As above, with records drawn to be free of gaps: one check-up in each window, some years one more."""
    done_on: list[date] = []
    for _ in range(8):
        answer = care_on(YEARLY, _yearly_record(done_on), done_on[-1] if done_on else ISSUED_ON)
        assert answer.due_on is not None
        done_on.append(answer.due_on + timedelta(days=data.draw(st.integers(min_value=-150, max_value=30))))
    record = _yearly_record(done_on)
    assert not care_on(YEARLY, record, max(done_on)).gaps
    _assert_not_worse(terms(), record, CheckupDone(on=extra), "channel", on)


@given(edition=editions, record=records, extra=waivers, kind=kinds, on=days)
def test_a_waived_day_is_cared_for(edition: Any, record: Facts, extra: Waiver, kind: str, on: date) -> None:
    standing = standing_on(edition, replace(record, waivers=(*record.waivers, extra)), kind, on)
    if extra.from_on <= on < extra.until_on:
        assert standing.care in {Care.CURRENT, Care.NOT_ASKED}
        assert standing.cover is not Cover.SUSPENDED


@given(edition=editions, record=records, kind=kinds, on=days)
def test_under_judge_cover_does_not_depend_on_care(edition: Any, record: Facts, kind: str, on: date) -> None:
    assume(edition.care is not None and edition.care.when_missed == "judge")
    without = standing_on(edition, replace(record, checkups=()), kind, on)
    assert standing_on(edition, record, kind, on).cover is without.cover


@given(edition=editions, record=records, extra=components, on=days)
def test_one_component_never_changes_the_term_of_another(
    edition: Any, record: Facts, extra: ComponentSpan, on: date
) -> None:
    assume(extra.out_on is None or extra.out_on > ISSUED_ON)
    before = component_terms(edition, record, extra.part_kind, on)
    after = list(component_terms(edition, replace(record, components=(*record.components, extra)), extra.part_kind, on))
    for term in before:
        after.remove(term)
    assert [term.component for term in after] == [extra]


@given(edition=editions, record=records, kind=kinds, on=days)
def test_a_later_owner_never_has_more_than_the_first_one_had(edition: Any, record: Facts, kind: str, on: date) -> None:
    never = component_terms(edition, replace(record, transfers=()), kind, on)
    for plain, term in zip(never, component_terms(edition, record, kind, on), strict=True):
        assert plain.through_on is None or (term.through_on is not None and term.through_on <= plain.through_on)


@given(edition=editions, record=records, kind=kinds, on=days, years=st.integers(min_value=-20, max_value=40))
def test_shifting_every_day_by_whole_years_shifts_the_answer(
    edition: Any, record: Facts, kind: str, on: date, years: int
) -> None:
    """Only with shifts of four years that cross no century without a leap day does every day keep its place."""
    shift = timedelta(days=1461 * (years // 4))
    moved = Facts(
        issued_on=record.issued_on + shift,
        components=tuple(
            replace(part, in_on=part.in_on + shift, out_on=part.out_on + shift if part.out_on else None)
            for part in record.components
        ),
        checkups=tuple(replace(done, on=done.on + shift) for done in record.checkups),
        transfers=tuple(replace(done, on=done.on + shift) for done in record.transfers),
        waivers=tuple(
            replace(one, from_on=one.from_on + shift, until_on=one.until_on + shift) for one in record.waivers
        ),
        voided_on=record.voided_on + shift if record.voided_on else None,
        voided_because=record.voided_because,
    )
    here, there = standing_on(edition, record, kind, on), standing_on(edition, moved, kind, on + shift)
    assert (here.cover, here.care, here.gap_days) == (there.cover, there.care, there.gap_days)
    assert here.restore == "" if there.restore == "" else here.restore != ""
    for mine, theirs in ((here.through_on, there.through_on), (here.next_due_on, there.next_due_on)):
        assert theirs == (mine + shift if mine else None)


def test_a_gap_starts_the_series_again_and_may_then_run_ahead_of_a_longer_gap() -> None:
    """The limit of "more service is never worse", so that nobody takes the property for more than it says.

    One owner misses 2027 wholly and has a check-up on July 10, 2028; the other has one on June 20, 2027 as well.
    The second has far fewer days of gap, and a due day that comes 20 days earlier in 2029: the clock does not drift.
    """
    on = date(2028, 7, 10)
    poorer = care_on(YEARLY, _yearly_record([on]), on)
    richer = care_on(YEARLY, _yearly_record([date(2027, 6, 20), on]), on)
    assert (poorer.due_on, richer.due_on) == (date(2029, 7, 10), date(2029, 6, 20))
    assert sum(gap.days for gap in richer.gaps) < sum(gap.days for gap in poorer.gaps)


def _yearly_record(done_on: list[date]) -> Facts:
    return Facts(
        issued_on=ISSUED_ON,
        components=(ComponentSpan(part_kind="channel", in_on=ISSUED_ON),),
        checkups=tuple(CheckupDone(on=on) for on in done_on),
    )


def _assert_not_worse(edition: Any, record: Facts, extra: CheckupDone, kind: str, on: date) -> None:
    without = standing_on(edition, record, kind, on)
    with_it = standing_on(edition, replace(record, checkups=(*record.checkups, extra)), kind, on)
    assert COVER_RANK[with_it.cover] <= COVER_RANK[without.cover]
    assert CARE_RANK[with_it.care] <= CARE_RANK[without.care]
    if without.next_due_on is not None:
        assert with_it.next_due_on is not None
        assert with_it.next_due_on >= without.next_due_on


def test_a_promise_for_a_life_and_one_for_months_are_both_tried() -> None:
    """A guard on the strategies: both sorts of promise are among the kinds drawn."""
    assert any(isinstance(one, Promise) and one.months is None for one in PROMISES)
    assert any(one.months is not None for one in PROMISES)
