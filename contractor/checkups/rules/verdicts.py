"""What an answer says about a part: good, worth watching, bad, or not possible, with the sentence that says why.

Limits are inclusive. The formulas behind timed tests, the load test and the specific gravity are those of
``contractor.engineering``; here they are only called, and their results are judged and put into words.
"""

from dataclasses import dataclass
from typing import Final

from contractor.checkups.rules.items import TIMED_FORMULAS, Item
from contractor.core.units import display_unit, shown, to_si
from contractor.engineering.battery_life import gravity_at_27c, load_test_minimum_v
from contractor.engineering.pit import inflow_from_rise_m3_s, pump_flow_from_drawdown_m3_s

GOOD: Final = "good"
WATCH: Final = "watch"
BAD: Final = "bad"
NOT_POSSIBLE: Final = "not possible"
WORDS: Final = (GOOD, WATCH, BAD, NOT_POSSIBLE)

# Without a temperature the load test is judged as at 70 °F, where it asks most (9.6 V).
STRICTEST_LOAD_TEST_C: Final = to_si(70.0, "degF")
LEAST_GRAVITY: Final = 1.0
MOST_GRAVITY: Final = 1.4
# A pump that runs more than half of the time has little left for a storm (common practice, no source).
BUSY_SHARE: Final = 0.5
OVERRUN_SHARE: Final = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a technician gave for one line.

    ``condition`` is one of ``WORDS`` for a check, and "not possible" for any kind of item; ``because`` says why.
    ``number_si`` is the number in the base unit of the item's quantity (for a timed test with a formula the rise
    or fall in metres); ``seconds`` is the time of a timed test. ``photos`` counts the pictures taken;
    ``no_photo_because`` excuses a missing one.
    """

    condition: str = ""
    number_si: float | None = None
    seconds: float | None = None
    text: str = ""
    because: str = ""
    photos: int = 0
    no_photo_because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The judgement of one reading: ``word`` is one of ``WORDS``.

    ``severity`` is what a finding about it weighs ("" when good or not possible); ``value_si`` is the number that
    was judged, in its base unit, for a timed test the computed flow.
    """

    word: str
    sentence: str
    severity: str = ""
    value_si: float | None = None
    to_do: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What else a verdict depends on: ``system`` is "US" or "metric", the units that people read."""

    basement_temperature_c: float | None = None
    pit_diameter_m: float | None = None
    inflow_m3_s: float | None = None
    system: str = "US"


_NOTHING_ELSE: Final = Setting()


def is_answered(item: Item, reading: Reading | None) -> bool:
    """Whether a reading holds what its item asks for; "not possible" counts when it says why."""
    if reading is None:
        return False
    if reading.condition == NOT_POSSIBLE:
        return bool(reading.because.strip())
    if item.kind == "check":
        return reading.condition in WORDS
    if item.kind == "photo":
        return reading.photos > 0
    if item.kind == "note":
        return bool(reading.text.strip())
    if item.kind == "timed_test":
        timed = reading.seconds is not None and reading.seconds > 0
        return timed and (item.formula is None or reading.number_si is not None)
    return reading.number_si is not None


def verdict(
    item: Item, reading: Reading, basement_temperature_c: float | None = None, setting: Setting = _NOTHING_ELSE
) -> Verdict:
    """Judge one reading of one item.

    ``basement_temperature_c``, when given, goes before the one in ``setting``. Raises ValueError for a reading
    that does not hold what the item asks for (see ``is_answered``).
    """
    if not is_answered(item, reading):
        raise ValueError(f"There is nothing to judge in this reading of {item.code}.")
    if reading.condition == NOT_POSSIBLE:
        because = _start(reading.because.strip().rstrip("."))
        return Verdict(word=NOT_POSSIBLE, sentence=f"{_start(item.name)}: not possible. {because}.")
    if item.kind in {"photo", "note"}:
        return Verdict(word=GOOD, sentence=f"{_start(item.name)}: recorded.")
    if item.kind == "check":
        said = "worth watching" if reading.condition == WATCH else reading.condition
        return _with_severity(item, reading.condition, f"{_start(item.name)}: {said}.")
    temperature_c = setting.basement_temperature_c if basement_temperature_c is None else basement_temperature_c
    if item.formula == "load_test":
        return _load_test(item, reading, temperature_c, setting.system)
    if item.formula == "gravity":
        return _gravity(item, reading, temperature_c, setting.system)
    if item.formula in TIMED_FORMULAS:
        return _timed_flow(item, reading, setting)
    value_si = _given(reading.seconds if item.kind == "timed_test" else reading.number_si)
    return _by_limits(item, value_si, item.unit(setting.system) or "count")


def _given(number: float | None) -> float:
    """A number that ``is_answered`` has seen."""
    if number is None:
        raise ValueError("There is no number in this reading.")
    return float(number)


def _start(words: str) -> str:
    return words[:1].upper() + words[1:]


def _to_do(item: Item, word: str) -> str:
    if word == WATCH:
        return item.when_watch or "Look again at the next check-up."
    return item.what_to_do if word == BAD else ""


def _with_severity(item: Item, word: str, sentence: str, value_si: float | None = None) -> Verdict:
    to_do = _to_do(item, word)
    severity = {WATCH: "watch", BAD: item.severity}.get(word, "")
    sentence = f"{sentence} {to_do}".strip()
    return Verdict(word=word, sentence=sentence, severity=severity, value_si=value_si, to_do=to_do)


def judge_by_limits(item: Item, value_si: float) -> tuple[str, float | None]:
    """The word for a value within the item's limits, and the good limit that it misses (None when good)."""
    sides = (
        (item.good_low, item.watch_low, _reaches),
        (item.good_high, item.watch_high, _stays_below),
    )
    for good, watch, holds in sides:
        if good is not None and not holds(value_si, good):
            return (WATCH if watch is not None and holds(value_si, watch) else BAD), good
    return GOOD, None


def _slack(limit: float) -> float:
    """Room for the last digit of a unit conversion, so that 18 in typed meets a limit of 18 in."""
    return 1e-9 * max(abs(limit), 1e-3)


def _reaches(value: float, limit: float) -> bool:
    return value >= limit - _slack(limit)


def _stays_below(value: float, limit: float) -> bool:
    return value <= limit + _slack(limit)


def _by_limits(item: Item, value_si: float, unit: str) -> Verdict:
    word, missed = judge_by_limits(item, value_si)
    if missed is None:
        return _with_severity(item, word, f"{_start(item.name)}: {shown(value_si, unit)}.", value_si)
    value, limit = shown_apart(value_si, missed, unit)
    side = f"below the {limit} needed" if value_si < missed else f"above the {limit} allowed"
    return _with_severity(item, word, f"{_start(item.name)}: {value} is {side}.", value_si)


def shown_apart(value_si: float, limit_si: float, unit: str) -> tuple[str, str]:
    """Two values in ``unit`` with as many digits as it takes to tell them apart."""
    for more_digits in range(6):
        value, limit = (shown(number, unit, more_digits=more_digits) for number in (value_si, limit_si))
        if value != limit:
            break
    return value, limit


def _load_test(item: Item, reading: Reading, temperature_c: float | None, system: str) -> Verdict:
    volts = _given(reading.number_si)
    judged_c = STRICTEST_LOAD_TEST_C if temperature_c is None else temperature_c
    least_v = float(load_test_minimum_v(judged_c))
    at = shown(judged_c, display_unit("temperature", system))
    assumed = "" if temperature_c is not None else " No temperature was recorded, so the strictest was taken."
    if _reaches(volts, least_v):
        sentence = f"{shown(volts, 'V')} under load meets the {shown(least_v, 'V')} needed at {at}.{assumed}"
        return Verdict(word=GOOD, sentence=sentence, value_si=volts)
    value, least = shown_apart(volts, least_v, "V")
    to_do = item.what_to_do
    sentence = f"{value} under load is below the {least} needed at {at}: {to_do[:1].lower()}{to_do[1:]}{assumed}"
    return Verdict(word=BAD, sentence=sentence, severity=item.severity, value_si=volts, to_do=to_do)


def _gravity(item: Item, reading: Reading, temperature_c: float | None, system: str) -> Verdict:
    gravity = _given(reading.number_si)
    if not LEAST_GRAVITY <= gravity <= MOST_GRAVITY:
        return _unbelievable(item, "acid reads between 1.000 and 1.400, such as 1.265")
    if temperature_c is not None:
        gravity = float(gravity_at_27c(gravity, temperature_c))
    return _by_limits(item, gravity, item.unit(system) or "SG")


def _unbelievable(item: Item, because: str) -> Verdict:
    return Verdict(word=NOT_POSSIBLE, sentence=f"{_start(item.name)}: this cannot be right, {because}. Read it again.")


def _timed_flow(item: Item, reading: Reading, setting: Setting) -> Verdict:
    if _given(reading.number_si) < 0:
        return _unbelievable(item, "type how far the water moved, without a sign")
    flow_m3_s = timed_flow_m3_s(item, reading, setting)
    if flow_m3_s is None:
        sentence = f"{_start(item.name)}: recorded; the flow appears when the pit's diameter is known."
        return Verdict(word=NOT_POSSIBLE, sentence=sentence)
    unit = display_unit("flow", setting.system)
    judged = _by_limits(item, flow_m3_s, unit)
    if item.formula != "pump_down_flow" or not setting.inflow_m3_s:
        return judged
    return _against_inflow(item, judged, setting.inflow_m3_s, unit)


def timed_flow_m3_s(item: Item, reading: Reading, setting: Setting) -> float | None:
    """The flow that a timed test in the pit gives, in m³/s; None while the pit's diameter is not known."""
    if setting.pit_diameter_m is None:
        return None
    moved_m, seconds = _given(reading.number_si), _given(reading.seconds)
    if item.formula == "pit_rise_inflow":
        return float(inflow_from_rise_m3_s(setting.pit_diameter_m, moved_m, seconds))
    inflow = setting.inflow_m3_s or 0.0
    if moved_m == 0:  # the level stood still: the pump lifted just what ran in
        return inflow
    return float(pump_flow_from_drawdown_m3_s(setting.pit_diameter_m, moved_m, seconds, inflow))


def _against_inflow(item: Item, judged: Verdict, inflow_m3_s: float, unit: str) -> Verdict:
    """A pump must move clearly more than runs in, whatever its limits say; the worse of both judgements holds."""
    flow_m3_s = _given(judged.value_si)
    share = inflow_m3_s / flow_m3_s if flow_m3_s > 0 else 1.0
    word = BAD if share > OVERRUN_SHARE else WATCH if share > BUSY_SHARE else GOOD
    if WORDS.index(word) <= WORDS.index(judged.word):
        return judged
    flow, inflow = shown(flow_m3_s, unit), shown(inflow_m3_s, unit)
    sentence = f"{_start(item.name)}: {flow} is little against the {inflow} that runs in."
    return _with_severity(item, word, sentence, flow_m3_s)
