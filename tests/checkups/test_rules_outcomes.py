"""What a whole check-up comes to."""

from typing import Any

import pytest

from contractor.checkups.rules.items import Item
from contractor.checkups.rules.outcomes import (
    Condition,
    Finding,
    Remembered,
    component_condition,
    outcome,
    remembered,
    verdicts_of,
)
from contractor.checkups.rules.verdicts import Reading, Verdict
from contractor.checkups.rules.walk import Line, LineKey, Part, lines_for

GPM = 231 * 0.0254**3 / 60


def item(code: str, part_kind: str, kind: str = "check", **more: Any) -> Item:
    fields: dict[str, Any] = {
        "code": code,
        "part_kind": part_kind,
        "step": "standby",
        "position": 1,
        "kind": kind,
        "subject": code,
        "prompt": f"Look at {code}",
        "how": "So.",
        "what_to_do": "Put it right.",
        "severity": "bad",
        "source": "test",
    }
    return Item(**{**fields, **more})


VOLTS = {"quantity": "voltage", "unit_us": "V", "unit_metric": "V"}
LENGTH = {"quantity": "length", "unit_us": "in", "unit_metric": "mm"}
TEMPERATURE = {"quantity": "temperature", "unit_us": "degF", "unit_metric": "degC"}

CORD = item("cord", "primary_pump", severity="urgent")
SLOPE = item("slope", "", severity="watch", position=2)
HOURS = item("hours", "primary_pump", "count", quantity="count", unit_us="count", unit_metric="count", required=False)
SHOT = item("shot", "", "photo", photo="always", position=3)
CRACK = item("crack", "", photo="when_bad", position=4)
PUMP = Part(component_id=7, part_kind="primary_pump")
LINES = lines_for((CORD, SLOPE, HOURS, SHOT, CRACK), (PUMP,))
ALL_GOOD: dict[LineKey, Reading] = {
    ("cord", 7): Reading(condition="good"),
    ("slope", None): Reading(condition="good"),
    ("shot", None): Reading(photos=1),
    ("crack", None): Reading(condition="good"),
}


def with_answer(key: LineKey, reading: Reading | None) -> dict[LineKey, Reading]:
    answers = {**ALL_GOOD}
    answers.pop(key, None)
    return answers if reading is None else {**answers, key: reading}


def found(severity: str = "urgent", *, done: bool = False, code: str = "cord", component: int | None = 7) -> Finding:
    return Finding(severity=severity, what="Cord is cut.", done=done, item_code=code, component_id=component)


def test_a_check_up_with_every_required_line_good_passes() -> None:
    result = outcome(LINES, ALL_GOOD, ())
    assert (result.complete, result.passed, result.missing, result.findings_to_raise) == (True, True, (), ())
    assert result.sentence == "Passed: everything was checked and nothing bad is left open."


BAD = Reading(condition="bad")
CASES = [
    # answers, findings, complete, passed
    (with_answer(("cord", 7), None), (), False, False),
    (with_answer(("hours", 7), None), (), True, True),  # not required
    (with_answer(("cord", 7), Reading(condition="not possible", because="Behind a freezer.")), (), True, True),
    (with_answer(("cord", 7), Reading(condition="not possible")), (), False, False),
    (with_answer(("cord", 7), BAD), (), True, False),  # bad, and not even written down
    (with_answer(("cord", 7), BAD), (found(),), True, False),  # written down and open
    (with_answer(("cord", 7), BAD), (found(done=True),), True, True),  # repaired on the spot
    (with_answer(("cord", 7), BAD), (found("watch", done=True),), True, False),  # a lesser finding covers nothing
    (with_answer(("cord", 7), BAD), (found(done=True, component=8),), True, False),  # another pump's finding
    (with_answer(("slope", None), BAD), (), True, True),  # weighs "watch": nobody must act today
    (ALL_GOOD, (found("bad", code="", component=None),), True, False),  # an open finding outside the list
    (ALL_GOOD, (found("watch", code="", component=None),), True, True),
    (with_answer(("shot", None), Reading()), (), False, False),
    (
        with_answer(("crack", None), Reading(condition="bad")),
        (found("bad", code="crack", component=None),),
        False,
        False,
    ),
    (
        with_answer(("crack", None), Reading(condition="bad", photos=1)),
        (found("bad", done=True, code="crack", component=None),),
        True,
        True,
    ),
    (
        with_answer(("crack", None), Reading(condition="bad", no_photo_because="Camera is wet.")),
        (found("bad", done=True, code="crack", component=None),),
        True,
        True,
    ),
    ({}, (), False, False),
]


@pytest.mark.parametrize(("answers", "findings", "complete", "passed"), CASES)
def test_a_check_up_passes_when_all_is_answered_and_nothing_bad_is_left_open(
    answers: dict[LineKey, Reading], findings: tuple[Finding, ...], complete: bool, passed: bool
) -> None:
    result = outcome(LINES, answers, findings)
    assert (result.complete, result.passed) == (complete, passed)
    assert result.sentence.startswith("Passed:" if passed else "Not passed yet.")


def test_what_is_missing_is_named_in_walking_order() -> None:
    result = outcome(LINES, {}, ())
    assert [missing.line.key for missing in result.missing] == [
        ("cord", 7),
        ("slope", None),
        ("shot", None),
        ("crack", None),
    ]
    assert result.sentence == "Not passed yet. 4 things are still to do: Answer “Look at cord”."


def test_a_missing_reason_and_a_missing_photo_are_asked_for() -> None:
    answers = {
        **ALL_GOOD,
        ("cord", 7): Reading(condition="not possible"),
        ("crack", None): Reading(condition="bad"),
    }
    sentences = [missing.sentence for missing in outcome(LINES, answers, ()).missing]
    assert sentences == [
        "Say why “Look at cord” was not possible.",
        "Take a photo for “Look at crack”, or say why there is none.",
    ]


def test_with_two_pumps_the_missing_line_says_which() -> None:
    lines = lines_for((CORD,), (PUMP, Part(component_id=8, part_kind="primary_pump")))
    result = outcome(lines, {("cord", 7): Reading(condition="good")}, ())
    assert [missing.sentence for missing in result.missing] == ["Answer “Look at cord” (primary pump 8)."]


def test_bad_and_watch_answers_ask_for_a_finding_of_their_weight() -> None:
    answers = {**ALL_GOOD, ("cord", 7): BAD, ("slope", None): Reading(condition="watch")}
    raised = outcome(LINES, answers, ()).findings_to_raise
    assert [(one.line.key, one.severity, one.what_to_do) for one in raised] == [
        (("cord", 7), "urgent", "Put it right."),
        (("slope", None), "watch", "Look again at the next check-up."),
    ]
    assert outcome(LINES, answers, (found(),)).findings_to_raise == raised[1:]


def test_the_sentence_tells_what_is_still_to_be_put_right() -> None:
    result = outcome(LINES, with_answer(("cord", 7), BAD), ())
    assert result.sentence == "Not passed yet. 1 finding is still to be put right: Cord: bad. Put it right."


PIT = Part(component_id=1, part_kind="pit", data={"diameter_m": 18 * 0.0254})
WARMTH = item("warmth", "", "measurement", step="room", feeds="basement.temperature_c", **TEMPERATURE)
RISE = item("rise", "pit", "timed_test", step="pit", formula="pit_rise_inflow", feeds="pit.inflow_m3_s", **LENGTH)
FLOW = item("flow", "primary_pump", "timed_test", formula="pump_down_flow", feeds="pump.flow_m3_s", **LENGTH)
LOAD = item("load", "battery", "measurement", formula="load_test", feeds="battery.load_test_v", position=5, **VOLTS)
RELIEF = item("relief", "freeze_relief", step="discharge", feeds="freeze_relief.tested")
MEASURED = lines_for(
    (WARMTH, RISE, FLOW, LOAD, RELIEF),
    (PIT, PUMP, Part(component_id=3, part_kind="battery"), Part(component_id=4, part_kind="freeze_relief")),
)
NUMBERS: dict[LineKey, Reading] = {
    ("warmth", None): Reading(number_si=(40 - 32) / 1.8),
    ("rise", 1): Reading(number_si=6 * 0.0254, seconds=300),
    ("flow", 7): Reading(number_si=8 * 0.0254, seconds=12),
    ("load", 3): Reading(number_si=9.3),
    ("relief", 4): Reading(condition="good"),
}


def test_temperature_and_inflow_of_the_same_check_up_reach_the_verdicts_that_need_them() -> None:
    judged = verdicts_of(MEASURED, NUMBERS)
    # 9.3 V are enough at 40 °F (service manuals) and would not be at 70 °F.
    assert judged["load", 3].word == "good"
    # 1.1016 gal an inch: 8 in in 12 s and 1.322 gal/min of inflow make 45.38 gal/min.
    assert judged["flow", 7].value_si == pytest.approx(45.38 * GPM, rel=1e-3)


def test_the_order_of_the_walk_does_not_matter_to_the_inflow() -> None:
    backwards: tuple[Line, ...] = tuple(reversed(MEASURED))
    assert verdicts_of(backwards, NUMBERS) == verdicts_of(MEASURED, NUMBERS)


def test_each_pump_is_timed_in_its_own_pit() -> None:
    wide = Part(component_id=2, part_kind="pit", data={"diameter_m": 24 * 0.0254})
    pumps = [Part(component_id=7 + n, part_kind="primary_pump", pit_id=pit) for n, pit in enumerate((1, 2))]
    answers = {("flow", 7): Reading(number_si=0.2, seconds=10), ("flow", 8): Reading(number_si=0.2, seconds=10)}
    judged = verdicts_of(lines_for((RISE, FLOW), (PIT, wide, *pumps)), answers)
    ratio = (judged["flow", 8].value_si or 0) / (judged["flow", 7].value_si or 1)
    assert ratio == pytest.approx((24 / 18) ** 2)


def test_estimates_remember_what_was_measured_in_walking_order() -> None:
    kept = remembered(MEASURED, NUMBERS)
    assert [(one.feed, one.component_id) for one in kept] == [
        ("basement.temperature_c", None),
        ("pit.inflow_m3_s", 1),
        ("pump.flow_m3_s", 7),
        ("battery.load_test_v", 3),
        ("freeze_relief.tested", 4),
    ]
    assert kept[1].value_si == pytest.approx(1.322 * GPM, rel=1e-3)
    assert kept[3:] == (
        Remembered(feed="battery.load_test_v", component_id=3, value_si=9.3),
        Remembered(feed="freeze_relief.tested", component_id=4, value_si=1.0),
    )


def test_what_was_not_possible_or_failed_is_not_remembered_as_a_success() -> None:
    answers = {
        **NUMBERS,
        ("load", 3): Reading(condition="not possible", because="Clamps are rusted on."),
        ("relief", 4): Reading(condition="bad"),
    }
    kept = {one.feed: one.value_si for one in remembered(MEASURED, answers)}
    assert "battery.load_test_v" not in kept
    assert kept["freeze_relief.tested"] == 0.0


def judged(word: str, severity: str = "") -> Verdict:
    return Verdict(word=word, severity=severity, sentence=f"It is {word}.")


OPEN = Finding(severity="urgent", what="Oil on the water.")
CLOSED = Finding(severity="urgent", what="Oil on the water.", done=True)
CONDITIONS = [
    ((), (), Condition(word="unknown", sentence="Not checked yet.")),
    ((judged("not possible"),), (), Condition(word="unknown", sentence="Not checked yet.")),
    ((judged("good"), judged("not possible")), (), Condition(word="good", sentence="Nothing wrong was found.")),
    ((judged("good"), judged("watch", "watch")), (), Condition(word="watch", sentence="It is watch.")),
    ((judged("bad", "watch"),), (), Condition(word="watch", sentence="It is bad.")),
    ((judged("watch", "watch"), judged("bad", "bad")), (), Condition(word="bad", sentence="It is bad.")),
    ((judged("good"),), (OPEN,), Condition(word="bad", sentence="Oil on the water.")),
    ((judged("good"),), (CLOSED,), Condition(word="good", sentence="Nothing wrong was found.")),
    ((), (OPEN,), Condition(word="bad", sentence="Oil on the water.")),
]


@pytest.mark.parametrize(("verdicts", "findings", "condition"), CONDITIONS)
def test_a_component_stands_as_the_worst_that_is_known_of_it(
    verdicts: tuple[Verdict, ...], findings: tuple[Finding, ...], condition: Condition
) -> None:
    assert component_condition(verdicts, findings) == condition
