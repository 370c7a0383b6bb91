"""What becomes of a move on the board: what it costs, what is refused, what is asked first.

The driving is counted on a single road where a unit takes a minute (tests/visits/routing/cast.py), so every figure can
be followed by hand. That nothing is let through which can't be driven is held against ``check_round``, which shares no
step with the board's own sentences.
"""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.visits.board.arrangement import Arrangement, Upset, as_arranged, steady, still_there, upset
from contractor.visits.board.errors import LockedHere, MoveRefused, NoPosition, NotOnTheBoard, NotWorking
from contractor.visits.board.faults import Broken, Names, clock_words, faults, span_words
from contractor.visits.board.rules import Move, judge, load_words, locked
from contractor.visits.routing.checking import check_round
from contractor.visits.routing.ground import ground_of
from contractor.visits.routing.problem import Lock, Told
from contractor.visits.routing.times import laid_out
from tests.visits.routing.cast import HOUR, LUNCH, MONDAY, TUESDAY, WEDNESDAY, job, problem, shift, window

NAMES = Names(
    jobs={"a": "1 Quarry Lane", "b": "2 Quarry Lane", "c": "3 Quarry Lane"},
    technicians={"theo": "Theo Marsh", "ana": "Ana Delgado"},
)
THEO, ANA = ("theo", MONDAY), ("ana", MONDAY)
BOTH = (shift("theo"), shift("ana"), shift("theo", TUESDAY))


def arranged(**orders: tuple[str, ...]) -> Arrangement:
    """Orders of Monday by technician."""
    return Arrangement(orders={(who, MONDAY): names for who, names in orders.items()})


def test_a_move_says_where_the_visit_stands_now_and_what_that_costs_in_driving() -> None:
    asked = problem(job("a", 10), job("b", 20), shifts=BOTH)
    judged = judge(asked, arranged(theo=("a",), ana=("b",)), Move(job="b", technician="theo", day=MONDAY), NAMES)
    # Before: 10 and back, 20 and back: 60 minutes. After: one way out past both and back: 40.
    assert judged.sentence == (
        "2 Quarry Lane is stop 1 of 2 with Theo Marsh on Monday, March 3, arriving at 8:20 AM: 20 minutes less driving."
    )
    assert judged.questions == ()
    assert judged.arrangement.orders == {THEO: ("b", "a"), ANA: ()}


def test_without_a_place_a_visit_is_put_where_it_costs_least_and_with_one_exactly_there() -> None:
    asked = problem(job("a", 10), job("b", 20), job("c", 15), shifts=BOTH)
    start = arranged(theo=("a", "b"))
    cheapest = judge(asked, start, Move(job="c", technician="theo", day=MONDAY), NAMES)
    assert cheapest.arrangement.orders[THEO] in {("a", "c", "b"), ("c", "a", "b"), ("a", "b", "c")}
    there = judge(asked, start, Move(job="c", technician="theo", day=MONDAY, place=0), NAMES)
    assert there.arrangement.orders[THEO] == ("c", "a", "b")


def test_reordering_keeps_the_round_and_says_what_the_other_order_costs() -> None:
    asked = problem(job("a", 10), job("b", 20), job("c", 30), shifts=BOTH)
    judged = judge(asked, arranged(theo=("a", "b", "c")), Move(job="a", technician="theo", day=MONDAY, place=1), NAMES)
    assert judged.arrangement.orders[THEO] == ("b", "a", "c")
    # 20 + 10 + 20 + 30 = 80 minutes against 60.
    assert "20 minutes more driving" in judged.sentence


REFUSED = [
    (
        "a skill nobody noted",
        problem(job("a", skills=frozenset({"pumps"})), shifts=BOTH, skills={"theo": {"pumps"}}),
        Move(job="a", technician="ana", day=MONDAY),
        "1 Quarry Lane needs somebody for pumps, switches and valves; Ana Delgado isn't noted as able to do that.",
    ),
    (
        "back after the working day ends",
        problem(job("a", 10, minutes=600), shifts=BOTH),
        Move(job="a", technician="ana", day=MONDAY),
        "Ana Delgado would be back at 6:20 PM, 1 hour 20 minutes after the working day ends at 5:00 PM.",
    ),
    (
        "outside the hours the owner was promised",
        problem(job("a", 30, windows=(window(8, 8.25),)), shifts=BOTH),
        Move(job="a", technician="ana", day=MONDAY),
        "At 1 Quarry Lane the work would begin at 8:30 AM; it is to begin between 8:00 AM and 8:15 AM.",
    ),
    (
        "the owner's hours are on another day",
        problem(job("a", windows=(window(8, 12, TUESDAY),)), shifts=BOTH),
        Move(job="a", technician="ana", day=MONDAY),
        "1 Quarry Lane can't be visited on Monday, March 3: the owner's hours are on other days.",
    ),
    (
        "no break",
        problem(job("a", 10, minutes=360), shifts=(shift("ana", rest=LUNCH),)),
        Move(job="a", technician="ana", day=MONDAY),
        "Ana Delgado's break would begin at 2:10 PM; it must begin by 1:30 PM.",
    ),
    (
        "no room in the van",
        problem(job("a", carry=3), shifts=(shift("ana", room=2),)),
        Move(job="a", technician="ana", day=MONDAY),
        "Ana Delgado's van has no room for what must be carried that day.",
    ),
]


@pytest.mark.parametrize(("asked", "move", "sentence"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_what_can_not_be_broken_is_refused_with_its_reason(asked, move, sentence) -> None:
    with pytest.raises(MoveRefused) as refusal:
        judge(asked, arranged(), move, NAMES)
    assert str(refusal.value) == f"It stays where it is. {sentence}"


def test_a_visit_that_pushes_another_out_of_its_promised_hours_is_refused() -> None:
    asked = problem(job("a", 10), job("b", 20, windows=(window(8, 8.5),)), shifts=BOTH)
    with pytest.raises(MoveRefused, match="At 2 Quarry Lane the work would begin at 9:20 AM"):
        judge(asked, arranged(theo=("b",)), Move(job="a", technician="theo", day=MONDAY, place=0), NAMES)


def test_a_day_outside_the_first_and_last_is_asked_about_not_refused() -> None:
    asked = problem(job("a", earliest_on=MONDAY, target_on=MONDAY, latest_on=MONDAY), shifts=BOTH)
    judged = judge(asked, arranged(), Move(job="a", technician="theo", day=TUESDAY), NAMES)
    assert judged.questions == (
        "The last day for 1 Quarry Lane is Monday, March 3; after it, the record shows it as late.",
    )
    assert "That is 1 working day after the wished day." in judged.sentence
    early = problem(job("a", earliest_on=TUESDAY), shifts=BOTH)
    assert judge(early, arranged(), Move(job="a", technician="theo", day=MONDAY), NAMES).questions == (
        "1 Quarry Lane is not to be visited before Tuesday, March 4.",
    )


def test_a_promise_to_the_owner_is_given_up_only_by_whoever_says_so_and_once() -> None:
    promised = Lock(technician="theo", day=MONDAY, window=window(8, 9))
    asked = problem(job("a", locked_to=promised), shifts=BOTH)
    judged = judge(asked, arranged(theo=("a",)), Move(job="a", technician="theo", day=TUESDAY), NAMES)
    assert judged.questions == (
        "1 Quarry Lane is promised for Monday, March 3 with Theo Marsh. Moving it takes that promise back; the owner "
        "must be told.",
    )
    assert judged.arrangement.released == {"a"}
    again = judge(asked, judged.arrangement, Move(job="a", technician="ana", day=MONDAY), NAMES)
    assert again.questions == ()
    within = judge(asked, arranged(theo=("a",)), Move(job="a", technician="theo", day=MONDAY, place=0), NAMES)
    assert within.questions == ()
    assert within.arrangement.released == frozenset()


def test_an_owner_who_was_told_is_told_again_and_the_answer_says_so() -> None:
    asked = problem(job("a", told=Told(technician="theo", day=MONDAY)), shifts=BOTH)
    judged = judge(asked, arranged(theo=("a",)), Move(job="a", technician="theo", day=TUESDAY), NAMES)
    assert judged.sentence.endswith("The owner was told Monday, March 3 and will be told again.")
    same_day = judge(asked, arranged(theo=("a",)), Move(job="a", technician="ana", day=MONDAY), NAMES)
    assert "told" not in same_day.sentence


def test_taking_a_visit_off_asks_when_its_owner_was_told() -> None:
    asked = problem(job("a", told=Told(technician="theo", day=MONDAY)), job("b"), shifts=BOTH)
    start = arranged(theo=("a", "b"))
    assert "called off" in judge(asked, start, Move(job="a"), NAMES).questions[0]
    judged = judge(asked, start, Move(job="b"), NAMES)
    assert (judged.questions, judged.arrangement.orders[THEO]) == ((), ("a",))
    with pytest.raises(NotOnTheBoard):
        judge(asked, judged.arrangement, Move(job="b"), NAMES)


def test_what_is_locked_on_the_board_stays_until_it_is_unlocked() -> None:
    asked = problem(job("a"), job("b"), shifts=BOTH)
    fixed = locked(arranged(theo=("a", "b")), "a", NAMES)
    assert fixed.sentence == "1 Quarry Lane is locked to Theo Marsh on Monday, March 3."
    with pytest.raises(LockedHere):
        judge(asked, fixed.arrangement, Move(job="a", technician="ana", day=MONDAY), NAMES)
    with pytest.raises(LockedHere):
        judge(asked, fixed.arrangement, Move(job="a"), NAMES)
    # Its place in the round may change, and others may come before it.
    assert judge(asked, fixed.arrangement, Move(job="a", technician="theo", day=MONDAY, place=1), NAMES).questions == ()
    loose = locked(fixed.arrangement, "a", NAMES)
    assert judge(asked, loose.arrangement, Move(job="a", technician="ana", day=MONDAY), NAMES).questions == ()
    with pytest.raises(NotOnTheBoard):
        locked(loose.arrangement, "c", NAMES)


def test_an_unknown_visit_a_house_without_a_position_and_a_free_day_are_refused() -> None:
    asked = problem(job("a"), job("b", None), shifts=BOTH)
    with pytest.raises(NotOnTheBoard):
        judge(asked, arranged(), Move(job="x", technician="theo", day=MONDAY), NAMES)
    with pytest.raises(NoPosition):
        judge(asked, arranged(), Move(job="b", technician="theo", day=MONDAY), NAMES)
    with pytest.raises(NotWorking, match="Theo Marsh doesn't work on Wednesday, March 5"):
        judge(asked, arranged(), Move(job="a", technician="theo", day=WEDNESDAY), NAMES)


def test_a_round_that_is_late_already_may_be_made_less_late_but_not_later() -> None:
    asked = problem(job("a", 10, minutes=300), job("b", 20, minutes=240), job("c", 5, minutes=20), shifts=BOTH)
    late = arranged(theo=("a", "b"), ana=("c",))
    assert judge(asked, late, Move(job="b", technician="ana", day=MONDAY), NAMES).questions == ()
    with pytest.raises(MoveRefused, match="Theo Marsh would be back"):
        judge(asked, late, Move(job="c", technician="theo", day=MONDAY), NAMES)


@given(
    st.lists(
        st.tuples(
            st.integers(1, 90),
            st.integers(10, 200),
            st.sampled_from([(), (window(8, 9.5),), (window(13, 15),), (window(9, 12, TUESDAY),)]),
            st.sampled_from([frozenset(), frozenset({"pumps"})]),
            st.sampled_from([(None, None), (TUESDAY, None), (None, MONDAY - timedelta(days=1))]),
            st.integers(0, 3),
        ),
        min_size=1,
        max_size=5,
    ),
    st.booleans(),
)
def test_the_sentences_are_empty_exactly_when_the_checker_finds_nothing(rows, skilled) -> None:
    jobs = [
        job(f"j{number}", x, minutes=least, windows=hours, skills=able, earliest_on=first, latest_on=last, carry=load)
        for number, (x, least, hours, able, (first, last), load) in enumerate(rows)
    ]
    asked = problem(*jobs, shifts=(shift(rest=LUNCH, room=8),), skills={"theo": {"pumps"} if skilled else set()})
    ground = ground_of(asked)
    round_ = laid_out(ground, "theo", MONDAY, [each.id for each in jobs])
    assert bool(faults(ground, round_, NAMES)) == bool(check_round(asked, round_))


def test_a_promise_with_somebody_else_is_a_fault_like_any_other() -> None:
    asked = problem(job("a", locked_to=Lock(technician="ana", day=MONDAY)), shifts=BOTH)
    ground = ground_of(asked)
    round_ = laid_out(ground, "theo", MONDAY, ["a"])
    assert [fault.broken for fault in faults(ground, round_, NAMES)] == [Broken.PROMISE]
    assert check_round(asked, round_) != []


def test_an_arrangement_is_kept_as_plain_values_and_read_back_the_same() -> None:
    kept = Arrangement(
        orders={("theo", TUESDAY): ("b",), THEO: ("a", "c")}, locked=frozenset({"a"}), released=frozenset({"b"})
    )
    assert Arrangement.from_json(kept.as_json()) == kept
    assert [row["day"] for row in kept.as_json()["rounds"]] == ["2031-03-03", "2031-03-04"]


def test_a_town_that_is_closed_on_a_day_gets_its_visits_on_other_days_and_its_promises_are_released() -> None:
    asked = problem(
        job("a", locked_to=Lock(technician="theo", day=MONDAY)),
        job("b"),
        job("c", windows=(window(8, 12, MONDAY),)),
        shifts=BOTH,
    )
    cities = {"a": "Stony Run", "b": "Larkmere", "c": "Stony Run"}
    snow = upset(asked, [Upset(day=MONDAY, city="Stony Run")], cities)
    a, b, c = snow.jobs
    assert (a.locked_to, a.told) == (None, Told(technician="theo", day=MONDAY))
    assert a.windows_on(MONDAY) is None
    assert a.windows_on(TUESDAY)
    assert b.windows_on(MONDAY) == ()
    assert (c.windows_on(MONDAY), c.windows_on(TUESDAY)) == (None, None)
    everywhere = upset(asked, [Upset(day=MONDAY)], {})
    assert all(each.windows_on(MONDAY) is None for each in everywhere.jobs)
    assert Upset.from_json(Upset(day=MONDAY, city="X").as_json()) == Upset(day=MONDAY, city="X")


def test_what_a_technician_who_is_away_had_promised_may_move_and_everybody_elses_may_not() -> None:
    asked = problem(
        job("a", locked_to=Lock(technician="theo", day=MONDAY)),
        job("b", locked_to=Lock(technician="theo", day=TUESDAY)),
        job("c", locked_to=Lock(technician="ana", day=MONDAY)),
        shifts=BOTH,
    )
    a, b, c = upset(asked, [Upset(day=MONDAY, technician="theo")], {}).jobs
    assert (a.locked_to, a.told) == (None, Told(technician="theo", day=MONDAY))
    assert a.windows_on(MONDAY) == ()
    assert b.locked_to is not None
    assert c.locked_to is not None


def test_released_promises_may_move_and_locked_visits_may_not() -> None:
    promised = Lock(technician="theo", day=MONDAY, window=window(8, 9))
    asked = problem(job("a", locked_to=promised), job("b"), shifts=BOTH)
    kept = Arrangement(orders={ANA: ("b",)}, locked=frozenset({"b"}), released=frozenset({"a"}))
    a, b = as_arranged(asked, kept).jobs
    assert (a.locked_to, a.told) == (None, Told(technician="theo", day=MONDAY))
    assert b.locked_to == Lock(technician="ana", day=MONDAY)


def test_when_few_are_to_move_a_change_costs_six_times_as_much() -> None:
    asked = problem(job("a"))
    assert steady(asked).weights.change_of_day == 6 * asked.weights.change_of_day
    assert steady(asked).weights.change_of_technician == 6 * asked.weights.change_of_technician


def test_what_is_gone_from_the_book_is_gone_from_the_arrangement() -> None:
    asked = problem(job("a"), job("b", None), shifts=(shift("theo"),))
    orders = {THEO: ("a", "b", "x"), ANA: ("a",)}
    old = Arrangement(orders=orders, locked=frozenset({"x", "a"}), released=frozenset("x"))
    assert still_there(asked, old) == Arrangement(orders={THEO: ("a",)}, locked=frozenset({"a"}))


def test_times_and_loads_are_told_in_words() -> None:
    assert [clock_words(seconds) for seconds in (0, 12 * HOUR, 13 * HOUR + 61)] == ["12:00 AM", "12:00 PM", "1:02 PM"]
    assert [span_words(minutes * 60) for minutes in (0, 1, 60, 125)] == [
        "0 minutes",
        "1 minute",
        "1 hour",
        "2 hours 5 minutes",
    ]
    assert [load_words(worked, 100) for worked in (0, 40, 75, 92, 100, 101)] == [
        "free",
        "light",
        "half full",
        "full",
        "very full",
        "too full",
    ]
