"""What a draft was made from: a mark of every visit and working day, to tell later which of them changed. Pure."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

from contractor.visits.board.arrangement import Arrangement
from contractor.visits.routing.ground import Key
from contractor.visits.routing.problem import Problem

# The urgency of a visit rises by itself as its last day comes nearer; nobody changed anything.
BY_ITSELF = frozenset({"priority"})
LENGTH = 16


def book_of(problem: Problem) -> dict[str, str]:
    """A mark for each visit and each working day of a problem, the same for the same facts on every machine."""
    marks = {job.id: _mark(job) for job in problem.jobs}
    return marks | {day_name(shift.key): _mark(shift) for shift in problem.shifts}


def sha256_of(book: Mapping[str, str]) -> str:
    """One mark of all together."""
    return hashlib.sha256(json.dumps(book, sort_keys=True).encode()).hexdigest()


def day_name(key: Key) -> str:
    """The name of a working day among the marks."""
    return f"day:{key[0]}:{key[1].isoformat()}"


def changed_since(book: Mapping[str, str], problem: Problem, arrangement: Arrangement) -> list[str]:
    """What is not as it was, of the visits and days in an arrangement and the visits that an owner was told of."""
    now = book_of(problem)
    about = {name for order in arrangement.orders.values() for name in order}
    about |= {day_name(key) for key, order in arrangement.orders.items() if order}
    about |= {job.id for job in problem.jobs if job.told is not None or job.locked_to is not None}
    return sorted(name for name in about if book.get(name) != now.get(name))


def _mark(value: Any) -> str:
    return hashlib.sha256(json.dumps(_plain(value), sort_keys=True).encode()).hexdigest()[:LENGTH]


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        named = [field.name for field in fields(value) if field.name not in BY_ITSELF]
        return {name: _plain(getattr(value, name)) for name in named}
    if isinstance(value, frozenset):
        return sorted((_plain(each) for each in value), key=str)
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if isinstance(value, date):
        return value.isoformat()
    return value
