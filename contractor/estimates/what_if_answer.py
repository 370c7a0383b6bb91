"""The answer to a what-if: both sides, compared line by line in the words of the trade."""

from dataclasses import dataclass
from datetime import date

from contractor.core.units import display_unit, shown
from contractor.estimates.battery_chart import hours_in_words
from contractor.estimates.pit_chart import sentence as cycle_sentence
from contractor.estimates.rules.facts import BATTERY, PRIMARY, PumpFacts, SystemFacts
from contractor.estimates.rules.workings import Workings
from contractor.estimates.system_charts import as_cycle
from contractor.estimates.what_if import Part, Question, Side, covers, first_of, side_of, supposed

# Differences below half a percent are none.
_NARROW = 1.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One thing today beside the same thing then, and what that means in a sentence."""

    code: str
    word: str
    today: str
    then: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Both sides and the comparison, in the order in which one reads it."""

    question: Question
    today: Side
    then: Side
    lines: tuple[Compared, ...]
    covers_today: bool | None
    covers_then: bool | None


def answer(facts: SystemFacts, question: Question, *, on: date, units: str) -> Answer:
    """Works out both sides for a day; ``units`` ("US" or "metric") is what the sentences speak."""
    today = side_of(facts, on=on, units=units)
    then = side_of(supposed(facts, question, on=on), on=on, units=units) if question.changes else today
    lines = (
        _working_point(today, then, units),
        _pit(today, then),
        _storm(today, then, units),
        _reserve(today, then),
        _cover(today, then, question),
        _replace_by(today, then, PRIMARY, question.primary),
        _replace_by(today, then, BATTERY, question.battery),
        _freeze(today, then),
    )
    return Answer(
        question=question,
        today=today,
        then=then,
        lines=tuple(line for line in lines if line is not None),
        covers_today=covers(today.workings, question.outage_h),
        covers_then=covers(then.workings, question.outage_h),
    )


def _flow_now(workings: Workings, pump: PumpFacts | None) -> float | None:
    working = workings.of(pump)
    return None if working is None else working.now_flow_m3_s


def _working_point(today: Side, then: Side, units: str) -> Compared:
    now, later = (_flow_now(side.workings, side.facts.primary) for side in (today, then))
    return Compared(
        code="working_point",
        word="Primary pump moves",
        today=_point_in_words(today, units),
        then=_point_in_words(then, units),
        sentence=_flow_sentence(now, later, units),
    )


def _point_in_words(side: Side, units: str) -> str:
    working = side.workings.of(side.facts.primary)
    if working is None or working.now_flow_m3_s is None or working.now_head_m is None:
        return "not known"
    if working.now_flow_m3_s <= 0:
        return "nothing: it cannot lift the water"
    head = shown(working.now_head_m, "ft" if units == "US" else "m")
    return f"{shown(working.now_flow_m3_s, display_unit('flow', units))} against {head}"


def _flow_sentence(now: float | None, later: float | None, units: str) -> str:
    if now is None or later is None:
        return "Without a pump curve this can’t be told."
    if now <= 0:
        return (
            "The primary pump would lift the water, which it can’t today."
            if later > 0
            else "It still can’t lift the water."
        )
    if later > now * _NARROW:
        return f"The primary pump would move {later / now - 1:.0%} more water."
    if later < now / _NARROW:
        return f"The primary pump would move {1 - later / now:.0%} less water."
    return "The primary pump would move as much as today."


def _pit(today: Side, then: Side) -> Compared | None:
    before, after = today.workings.cycle_wettest, then.workings.cycle_wettest
    if before is None or after is None:
        return None
    now, later = before.starts_per_hour, after.starts_per_hour
    if later > now * _NARROW:
        meaning = "The pump would start more often, which wears it and its switch."
    elif later < now / _NARROW:
        meaning = "The pump would start less often."
    else:
        meaning = "The pump would start as often as today."
    return Compared(
        code="pit",
        word="Pit in the wettest month",
        today=cycle_sentence(as_cycle(before)),
        then=cycle_sentence(as_cycle(after)),
        sentence=meaning,
    )


def _storm(today: Side, then: Side, units: str) -> Compared:
    flow_unit = display_unit("flow", units)

    def words(side: Side) -> str:
        wanted = side.workings.inflow.design_m3_s.value
        moved = _flow_now(side.workings, side.facts.primary)
        comes = f"{shown(wanted, flow_unit)} come in"
        if moved is None:
            return comes
        return f"{comes}; the primary pump {'keeps up' if moved > wanted else 'does not keep up'}"

    wanted = then.workings.inflow.design_m3_s.value
    primary = _flow_now(then.workings, then.facts.primary)
    standby = _flow_now(then.workings, then.facts.standby)
    keeps_up = [
        f"The {word} pump would move {flow / wanted:.1f} times what comes in."
        for word, flow in (("primary", primary), ("standby", standby))
        if flow is not None and wanted > 0
    ]
    return Compared(
        code="storm",
        word="In a storm",
        today=words(today),
        then=words(then),
        sentence=" ".join(keeps_up) or "No pump’s curve is known.",
    )


def _reserve(today: Side, then: Side) -> Compared:
    now, later = (_carries_h(side.workings) for side in (today, then))
    if now is None or later is None:
        meaning = then.workings.reserve_trouble or today.workings.reserve_trouble
    elif later > now * _NARROW:
        meaning = "The battery would last longer through a storm."
    elif later < now / _NARROW:
        meaning = "The battery would be empty sooner."
    elif later <= 0:
        meaning = "The standby pump can’t keep up with a storm, whatever the battery: it needs more than a battery."
    else:
        meaning = "The battery would last as long as today."
    return Compared(
        code="reserve",
        word="Battery carries a storm’s inflow",
        today="not known" if now is None else hours_in_words(now),
        then="not known" if later is None else hours_in_words(later),
        sentence=meaning,
    )


def _carries_h(workings: Workings) -> float | None:
    """Hours that the battery keeps the pit down in a storm: none where the standby pump can't keep up."""
    if workings.reserve is None:
        return None
    return 0.0 if workings.reserve.duty >= 1.0 else workings.reserve.hours


def _cover(today: Side, then: Side, question: Question) -> Compared:
    before, after = (covers(side.workings, question.outage_h) for side in (today, then))
    cut = hours_in_words(question.outage_h).removeprefix("about ")
    words = {True: "yes", False: "no", None: "not known"}
    meaning = {
        (True, True): f"Standby pump and battery carry a power cut of {cut}, as they do today.",
        (False, True): f"Standby pump and battery would carry a power cut of {cut}, which they don’t today.",
        (True, False): f"A power cut of {cut} would no longer be carried.",
        (False, False): f"A power cut of {cut} would not be carried either.",
    }
    return Compared(
        code="cover",
        word=f"Power cut of {cut} is carried",
        today=words[before],
        then=words[after],
        sentence=meaning.get((bool(before), bool(after)), "")
        if None not in {before, after}
        else "It can’t be told yet.",
    )


def _replace_by(today: Side, then: Side, kind: str, new: Part | None) -> Compared | None:
    before, after = (first_of(side, kind) for side in (today, then))
    if after is None:
        return None
    return Compared(
        code=f"replace_{kind}",
        word=f"{'Battery' if kind == BATTERY else 'Primary pump'}: replace by",
        today="none in place" if before is None else _month(before.replace_by),
        then=_month(after.replace_by),
        sentence=after.reason if new is None else "It would be new; the next one is due then.",
    )


def _month(on: date) -> str:
    return f"{on:%b %Y}"


def _freeze(today: Side, then: Side) -> Compared:
    before, after = today.estimates.result("freeze"), then.estimates.result("freeze")
    same = (before.level, before.sentence) == (after.level, after.sentence)
    return Compared(
        code="freeze",
        word="Freezing of the line outside",
        today=before.sentence,
        then=after.sentence,
        sentence="This changes nothing about frost." if same else "Frost would act differently: see the reasons.",
    )
