"""Which answer stands, which two stand against each other, and what was changed after the owner signed."""

from datetime import UTC, datetime
from random import Random
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.finish import changed_after_signature, heads_hash, left_open, wanted_by
from contractor.tablet.rules.heads import conflicts_of, head_ids, heads_of, of_kind, standing
from contractor.tablet.rules.moments import BELIEVED_FOR, moment_of
from contractor.tablet.rules.problems import before_finishing

AT = datetime(2026, 5, 4, 14, 0, tzinfo=UTC)
THEO, ANA, NORA = 1, 2, 3
DESK = frozenset({NORA})


def event(number: int, *bases: int, kind: str = "answer", actor: int = THEO, **changed: Any) -> TabletEvent:
    given = {
        "id": UUID(int=number),
        "version": 1,
        "visit": 12,
        "device": UUID(int=999),
        "actor": actor,
        "kind": kind,
        "field": "answer:mould:0" if kind == "answer" else kind,
        "value": {"condition": str(number)},
        "bases": tuple(UUID(int=base) for base in bases),
        "at": AT,
        **changed,
    }
    return TabletEvent(**given)


@pytest.mark.parametrize(
    ("events", "heads"),
    [
        ([], []),
        ([event(1)], [1]),
        ([event(1), event(2, 1)], [2]),
        ([event(2, 1)], [2]),  # the older one comes later, or never
        ([event(1), event(2, 1), event(3, 2)], [3]),
        ([event(1), event(2, 1), event(3, 1)], [2, 3]),  # both saw the first: a conflict
        ([event(1), event(2)], [1, 2]),
        ([event(1), event(2), event(3, 1, 2)], [3]),  # somebody chose
        ([event(1), event(1)], [1]),
        ([event(1, 1)], [1]),  # nothing takes its own place
        ([event(2, actor=NORA), event(5, actor=THEO)], [5, 2]),  # what was seen goes before the desk
        # What was planned: the desk goes first.
        ([event(2, kind="could_not", actor=THEO), event(5, kind="could_not", actor=NORA)], [5, 2]),
        ([event(1), event(2, 1, kind="note")], [1]),  # another field silences nothing
    ],
)
def test_heads(events: list[TabletEvent], heads: list[int]) -> None:
    found = heads_of(events, desk=DESK)
    field = events[0].field if events else ""
    assert [one.id.int for one in found.get(field, ())] == heads


def test_two_that_say_the_same_are_no_conflict_and_hold() -> None:
    heads = heads_of([event(1, value={"condition": "good"}), event(2, value={"condition": "good"})])
    assert conflicts_of(heads) == {}
    held = standing(heads, "answer:mould:0")
    assert held is not None
    assert held.id == UUID(int=1)


def test_while_two_disagree_nothing_holds() -> None:
    heads = heads_of([event(1), event(2)])
    assert list(conflicts_of(heads)) == ["answer:mould:0"]
    assert standing(heads, "answer:mould:0") is None
    assert of_kind(heads, "answer") == []


def test_what_was_taken_back_does_not_hold() -> None:
    heads = heads_of([event(1), event(2, 1, value=None)])
    assert standing(heads, "answer:mould:0") is None
    assert head_ids(heads) == {UUID(int=2)}


@st.composite
def histories(draw: st.DrawFn) -> list[TabletEvent]:
    """Two people and the desk write about two fields; each sees what stood in what they had heard of by then."""
    events: list[TabletEvent] = []
    for number in range(1, draw(st.integers(1, 12)) + 1):
        seen = draw(st.lists(st.sampled_from(events), unique_by=lambda one: one.id)) if events else []
        field = draw(st.sampled_from(["answer:a:0", "answer:b:0"]))
        bases = [one.id.int for one in heads_of(seen).get(field, ())]
        events.append(event(number, *bases, actor=draw(st.sampled_from([THEO, ANA, NORA])), field=field))
    return events


@settings(max_examples=300)
@given(histories(), st.integers())
def test_order_doubling_and_delay_change_nothing(events: list[TabletEvent], seed: int) -> None:
    """A grow-only set with a register of many values: whatever way it arrives, the same stands in the end."""
    expected = heads_of(events, desk=DESK)
    arrived = [*events, *events]
    Random(seed).shuffle(arrived)
    assert heads_of(arrived, desk=DESK) == expected
    assert {one.field for one in events} == set(expected)
    assert all(expected.values())
    for one in events:
        is_replaced = any(one.id in other.bases for other in events if other.field == one.field)
        assert (one in expected[one.field]) != is_replaced


def finish(**value: Any) -> TabletEvent:
    return event(50, kind="finish", value={"heads": [], "photos": [], "left_open": [], **value})


@pytest.mark.parametrize(
    ("value", "events", "photos", "wanted"),
    [
        ({}, set(), {}, ()),
        ({"heads": [str(UUID(int=1))]}, set(), {}, (str(UUID(int=1)),)),
        ({"heads": [str(UUID(int=1))]}, {UUID(int=1)}, {}, ()),
        ({"photos": [{"id": "p", "sha256": "x"}]}, set(), {}, ("p",)),
        ({"photos": [{"id": "p", "sha256": "x"}]}, set(), {"p": "x"}, ()),
        ({"photos": [{"id": "p", "sha256": "x"}]}, set(), {"p": "y"}, ("p",)),  # other bytes than were meant
        ({"photos": "none", "heads": 7}, set(), {}, ()),
        ({"photos": [7, {}], "heads": [None]}, set(), {}, ()),
    ],
)
def test_what_finishing_wants(
    value: dict[str, Any], events: set[UUID], photos: dict[str, str], wanted: tuple[str, ...]
) -> None:
    assert wanted_by(finish(**value), events, photos) == wanted


def test_reasons_for_what_was_left_open() -> None:
    given = [{"field": "answer:a:0", "because": "Boxes"}, {"field": "answer:b:0"}, 7]
    assert left_open(finish(left_open=given)) == {"answer:a:0": "Boxes"}


def signature(*signed: int, **value: Any) -> TabletEvent:
    ids = [str(UUID(int=one)) for one in signed]
    said = {"kind": "typed", "signed": ids, "signed_sha256": heads_hash(ids), **value}
    return event(40, kind="signature", value=said)


SAME, OTHER = {"condition": "good"}, {"condition": "bad"}


@pytest.mark.parametrize(
    ("events", "signed", "changed"),
    [
        ([event(1)], signature(1), set()),
        ([event(1), event(2, 1)], signature(1), {2}),
        ([event(1), event(2, 1, value=None)], signature(1), {2}),  # taken back is a change too
        ([event(1), event(2, kind="finish"), event(3, kind="begun")], signature(1), set()),
        ([event(1), event(2, kind="note")], signature(1), {2}),
        ([event(1)], signature(1, signed_sha256="0" * 64), {1}),
        ([event(1)], signature(1, signed="all"), {1}),
        # Somebody chose between two: what was signed holds, or it does not.
        ([event(1, value=SAME), event(2, value=OTHER), event(3, 1, 2, value=SAME)], signature(1), set()),
        ([event(1, value=SAME), event(2, value=OTHER), event(3, 1, 2, value=OTHER)], signature(1), {3}),
    ],
)
def test_what_changed_after_the_signature(events: list[TabletEvent], signed: TabletEvent, changed: set[int]) -> None:
    found = changed_after_signature(heads_of(events), signed, {one.id: one for one in events})
    assert {one.int for one in found} == changed


@pytest.mark.parametrize(
    ("events", "codes"),
    [
        ([event(1)], []),
        ([event(1), event(2)], ["conflict"]),
        ([event(1), finish()], ["not_signed"]),
        ([event(1), finish(heads=["x"])], ["wanted"]),
        ([event(1), event(2), finish(heads=["x"])], ["conflict", "wanted"]),
        ([event(1), signature(1), finish()], []),
        ([event(1), signature(), finish()], ["changed_since_signed"]),
        ([event(1), signature(kind="nobody_home"), finish()], []),
    ],
)
def test_what_speaks_against_finishing(events: list[TabletEvent], codes: list[str]) -> None:
    by_id = {one.id: one for one in events}
    found = before_finishing(heads_of(events), by_id, {}, may_be_unsigned=False)
    assert [one.code for one in found] == codes
    assert all(one.sentence.endswith(".") for one in found)


@pytest.mark.parametrize(
    ("days_before", "off_ms", "is_believed"),
    [
        (0, None, True),
        (13, None, True),
        (15, None, False),
        (-1, None, False),
        (-1, 86_400_000.0, True),  # a day fast, and it knew
        (400, None, False),
    ],
)
def test_a_clock_is_believed_within_two_weeks(days_before: float, off_ms: float | None, is_believed: bool) -> None:
    typed = AT - days_before * (BELIEVED_FOR / 14)
    one = event(1, at=typed, clock_off_ms=off_ms)
    assert moment_of(one, received_at=AT) == (one.moment if is_believed else AT)
