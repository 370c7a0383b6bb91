"""What a whole check-up comes to: what is missing, whether it passed, which findings it raises, what it teaches.

A check-up passes when every required line is answered, or "not possible" with a reason, its photos are there, and
nothing bad or urgent is left open.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from contractor.checkups.rules.items import SEVERITIES
from contractor.checkups.rules.verdicts import (
    BAD,
    GOOD,
    NOT_POSSIBLE,
    WATCH,
    Reading,
    Setting,
    Verdict,
    is_answered,
    verdict,
)
from contractor.checkups.rules.walk import ComponentId, Line, LineKey, diameter_m, pit_of

BLOCKING: Final = ("bad", "urgent")
UNKNOWN: Final = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something wrong or worth watching that was written down; ``done`` when it has been put right."""

    severity: str
    what: str
    what_to_do: str = ""
    done: bool = False
    item_code: str = ""
    component_id: ComponentId | None = None

    @property
    def is_blocking(self) -> bool:
        """Whether it keeps a check-up from passing."""
        return not self.done and self.severity in BLOCKING


@dataclass(frozen=True, slots=True, kw_only=True)
class ToRaise:
    """A finding that a verdict asks for and that nobody has written down yet."""

    line: Line
    severity: str
    what: str
    what_to_do: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A line that still asks for something, with the sentence that says what."""

    line: Line
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """The result of a check-up: ``sentence`` says it in words and what a person must still do."""

    complete: bool
    missing: tuple[Missing, ...]
    passed: bool
    findings_to_raise: tuple[ToRaise, ...]
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """How a component stands: "good", "watch", "bad", or "unknown" when nothing has been judged."""

    word: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """A value that estimates keep: ``feed`` names it, ``value_si`` is in base units (a check counts 1 or 0)."""

    feed: str
    component_id: ComponentId | None
    value_si: float


def verdicts_of(
    lines: Sequence[Line], answers: Mapping[LineKey, Reading], system: str = "US"
) -> dict[LineKey, Verdict]:
    """The verdict of every answered line; temperature and inflow that others depend on come from the answers."""
    parts = tuple({line.part.component_id: line.part for line in lines if line.part}.values())
    temperature_c = _temperature_c(lines, answers)
    judged: dict[LineKey, Verdict] = {}
    inflow_m3_s: dict[ComponentId, float] = {}
    for line in sorted(lines, key=lambda line: line.item.formula != "pit_rise_inflow"):
        reading = answers.get(line.key)
        if reading is None or not is_answered(line.item, reading):
            continue
        pit = pit_of(line, parts)
        setting = Setting(
            basement_temperature_c=temperature_c,
            pit_diameter_m=diameter_m(pit),
            inflow_m3_s=inflow_m3_s.get(pit.component_id) if pit else None,
            system=system,
        )
        result = judged[line.key] = verdict(line.item, reading, setting=setting)
        if pit and line.item.formula == "pit_rise_inflow" and result.value_si is not None:
            inflow_m3_s[pit.component_id] = result.value_si
    return judged


def _temperature_c(lines: Iterable[Line], answers: Mapping[LineKey, Reading]) -> float | None:
    for line in lines:
        if line.item.feeds == "basement.temperature_c" and line.key in answers:
            return answers[line.key].number_si
    return None


def outcome(
    lines: Sequence[Line],
    answers: Mapping[LineKey, Reading],
    findings: Sequence[Finding],
    system: str = "US",
) -> Outcome:
    """Whether a check-up is complete and passed, given its lines, the current answers by line key, its findings."""
    judged = verdicts_of(lines, answers, system)
    missing = tuple(_missing(lines, answers, judged))
    to_raise = tuple(_to_raise(lines, judged, findings))
    still_open = [f"{found.what} {found.what_to_do}".strip() for found in findings if found.is_blocking]
    still_open += [found.what for found in to_raise if found.severity in BLOCKING]
    passed = not missing and not still_open
    return Outcome(
        complete=not missing,
        missing=missing,
        passed=passed,
        findings_to_raise=to_raise,
        sentence=_in_words(missing, still_open),
    )


def _named(line: Line, parts_of_kind: int) -> str:
    number = f" ({line.part.part_kind.replace('_', ' ')} {line.part.component_id})" if line.part else ""
    return f"“{line.item.prompt}”{number if parts_of_kind > 1 else ''}"


def _missing(
    lines: Sequence[Line], answers: Mapping[LineKey, Reading], judged: Mapping[LineKey, Verdict]
) -> Iterable[Missing]:
    asked = Counter(line.item.code for line in lines)
    for line in lines:
        reading, name = answers.get(line.key), _named(line, asked[line.item.code])
        if line.key not in judged:
            if reading is not None and reading.condition == NOT_POSSIBLE:
                yield Missing(line=line, sentence=f"Say why {name} was not possible.")
            elif line.item.required:
                yield Missing(line=line, sentence=f"Answer {name}.")
        elif reading and _lacks_photo(line, reading, judged[line.key]):
            yield Missing(line=line, sentence=f"Take a photo for {name}, or say why there is none.")


def _lacks_photo(line: Line, reading: Reading, result: Verdict) -> bool:
    rule = line.item.photo
    due = (rule == "always" and result.word != NOT_POSSIBLE) or (rule == "when_bad" and result.word == BAD)
    return due and not reading.photos and not reading.no_photo_because.strip()


def _to_raise(
    lines: Sequence[Line], judged: Mapping[LineKey, Verdict], findings: Sequence[Finding]
) -> Iterable[ToRaise]:
    weights: dict[LineKey, int] = {}
    for found in findings:
        key = (found.item_code, found.component_id)
        weights[key] = max(weights.get(key, 0), _weight(found.severity))
    for line in lines:
        result = judged.get(line.key)
        if result and _weight(result.severity) > weights.get(line.key, 0):
            yield ToRaise(line=line, severity=result.severity, what=result.sentence, what_to_do=result.to_do)


def _weight(severity: str) -> int:
    return ("", *SEVERITIES).index(severity)


def _in_words(missing: Sequence[Missing], still_open: Sequence[str]) -> str:
    if not missing and not still_open:
        return "Passed: everything was checked and nothing bad is left open."
    sentences = ["Not passed yet."]
    if missing:
        many = "1 thing is" if len(missing) == 1 else f"{len(missing)} things are"
        sentences.append(f"{many} still to do: {missing[0].sentence}")
    if still_open:
        many = "1 finding is" if len(still_open) == 1 else f"{len(still_open)} findings are"
        sentences.append(f"{many} still to be put right: {still_open[0]}")
    return " ".join(sentences)


def component_condition(verdicts: Iterable[Verdict], open_findings: Iterable[Finding]) -> Condition:
    """How a component stands after its verdicts and the findings that are still open.

    The worst speaks. What weighs no more than "watch" is worth watching even when its answer was bad; nothing
    judged at all is "unknown". Leave out the verdicts whose findings have been put right.
    """
    said = [(_word(found.severity), found.what) for found in open_findings if not found.done]
    for result in verdicts:
        if result.word != NOT_POSSIBLE:
            said.append((_word(result.severity), result.sentence))
    if not said:
        return Condition(word=UNKNOWN, sentence="Not checked yet.")
    word, sentence = max(said, key=lambda one: (GOOD, WATCH, BAD).index(one[0]))
    return Condition(word=word, sentence="Nothing wrong was found." if word == GOOD else sentence)


def _word(severity: str) -> str:
    return BAD if severity in BLOCKING else WATCH if severity else GOOD


def remembered(lines: Sequence[Line], answers: Mapping[LineKey, Reading], system: str = "US") -> tuple[Remembered, ...]:
    """What estimates keep of a check-up: the judged number of every item that feeds one, in walking order.

    A check feeds 1 when good and 0 when watch or bad; "not possible" feeds nothing.
    """
    kept: list[Remembered] = []
    judged = verdicts_of(lines, answers, system)
    for line in lines:
        result = judged.get(line.key)
        if not line.item.feeds or result is None or result.word == NOT_POSSIBLE:
            continue
        value_si = float(result.word == GOOD) if line.item.kind == "check" else result.value_si
        if value_si is not None:
            component_id = line.part.component_id if line.part else None
            kept.append(Remembered(feed=line.item.feeds, component_id=component_id, value_si=value_si))
    return tuple(kept)
