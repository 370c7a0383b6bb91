"""Estimates as their tables keep them: what is written, how it is hashed, and what a stored row says."""

import hashlib
import json
from datetime import date
from typing import Any, Final

from contractor.estimates.models import LifeEstimate, SystemEstimate
from contractor.estimates.rules.results import Estimates, Input, PartEstimate, Step, SystemResult

LIFE_FIELDS: Final = (
    "replace_by",
    "earliest",
    "latest",
    "governing",
    "reason",
    "inputs",
    "cautions",
    "steps",
    "probability",
    "consequence",
    "consequence_reason",
    "urgency",
)
SYSTEM_FIELDS: Final = ("results",)

Content = dict[str, Any]


def life_content(part: PartEstimate) -> Content:
    """What is stored of one part's estimate."""
    return {
        "replace_by": part.replace_by,
        "earliest": part.earliest,
        "latest": part.latest,
        "governing": part.governing,
        "reason": part.reason,
        "inputs": [_input(one) for one in part.inputs],
        "cautions": list(part.cautions),
        "steps": [_step(one) for one in part.steps],
        "probability": part.probability,
        "consequence": part.consequence,
        "consequence_reason": part.consequence_reason,
        "urgency": part.urgency,
    }


def system_content(estimates: Estimates) -> Content:
    """What is stored of the system as a whole."""
    return {"results": [_result(one) for one in estimates.results]}


def _input(one: Input) -> dict[str, str]:
    return {
        "name": one.name,
        "value": one.value,
        "unit": one.unit,
        "origin": one.origin,
        "on": one.on,
        "note": one.note,
    }


def _step(one: Step) -> dict[str, str]:
    return {"name": one.name, "formula": one.formula, "with_numbers": one.with_numbers, "result": one.result}


def _result(one: SystemResult) -> Content:
    return {
        "code": one.code,
        "level": one.level,
        "sentence": one.sentence,
        "reasons": list(one.reasons),
        "inputs": [_input(given) for given in one.inputs],
        "steps": [_step(line) for line in one.steps],
        "cautions": list(one.cautions),
    }


def stored_content(row: LifeEstimate | SystemEstimate) -> Content:
    """What a stored row says, in the same form."""
    names = LIFE_FIELDS if isinstance(row, LifeEstimate) else SYSTEM_FIELDS
    return {name: getattr(row, name) for name in names}


def digest(content: Content) -> str:
    """The hash of everything in an estimate: its inputs, its steps, and what the rules make of them.

    Equal inputs give equal hashes; a changed rule changes them, so that what was stored under the old one is renewed.
    """
    text = json.dumps(content, sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def life_row(component_id: int, content: Content, *, on: date) -> LifeEstimate:
    """The row of one part's estimate, made on a day."""
    return LifeEstimate(component_id=component_id, inputs_sha256=digest(content), made_on=on, **content)


def system_row(system_id: int, content: Content, *, on: date) -> SystemEstimate:
    """The row of a system's estimate, made on a day."""
    return SystemEstimate(system_id=system_id, inputs_sha256=digest(content), made_on=on, **content)
