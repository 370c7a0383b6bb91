"""Rules' values as plain JSON data and back: for terms kept in a table and facts frozen into a certificate.

Days are ISO 8601 text, amounts decimal text. Reading checks every name and type and reports all that is wrong at
once, each with its place.
"""

from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from types import NoneType, UnionType
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.terms import Terms

Value = TypeVar("Value")

_KINDS: dict[type, str] = {str: "text", bool: "true or false", int: "a whole number", Decimal: "an amount as text"}


class BadData(ValueError):
    """Data that cannot be read; ``problems`` has one sentence for each fault, with its place."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__(" ".join(problems))
        self.problems = tuple(problems)


def to_data(value: Any) -> Any:
    """A value of the rules as JSON data."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_data(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [to_data(item) for item in value]
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if value is None or isinstance(value, str | bool | int):
        return value
    raise TypeError(f"{type(value).__name__} is not a value of the rules.")


def from_data(kind: type[Value], data: Any) -> Value:
    """The value of this dataclass that the data describe; BadData names everything that is wrong with them."""
    problems: list[str] = []
    value = _read(kind, data, "", problems)
    if problems:
        raise BadData(problems)
    return cast("Value", value)


def terms_from_data(data: Any) -> Terms:
    """The terms kept as JSON data."""
    return from_data(Terms, data)


def terms_to_data(terms: Terms) -> dict[str, Any]:
    """Terms as JSON data; ``terms_from_data`` gives them back."""
    return cast("dict[str, Any]", to_data(terms))


def facts_from_data(data: Any) -> Facts:
    """The facts kept as JSON data."""
    return from_data(Facts, data)


def facts_to_data(facts: Facts) -> dict[str, Any]:
    """Facts as JSON data; ``facts_from_data`` gives them back."""
    return cast("dict[str, Any]", to_data(facts))


def _read(kind: Any, data: Any, place: str, problems: list[str]) -> Any:
    origin = get_origin(kind)
    if origin in {Union, UnionType}:
        inner = next(option for option in get_args(kind) if option is not NoneType)
        return None if data is None else _read(inner, data, place, problems)
    if origin is Literal:
        if data in get_args(kind):
            return data
        options = ", ".join(str(option) for option in get_args(kind))
        return _fault(problems, place, f"must be one of {options}, not {data!r}")
    if origin is tuple:
        if not isinstance(data, list):
            return _fault(problems, place, f"must be a list, not {data!r}")
        item_kind = get_args(kind)[0]
        return tuple(_read(item_kind, item, f"{place}[{index}]", problems) for index, item in enumerate(data))
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        options = ", ".join(kind)
        return kind(data) if data in list(kind) else _fault(problems, place, f"must be one of {options}, not {data!r}")
    if is_dataclass(kind):
        return _read_dataclass(kind, data, place, problems)
    return _read_single(kind, data, place, problems)


def _read_dataclass(kind: Any, data: Any, place: str, problems: list[str]) -> Any:
    if not isinstance(data, Mapping):
        return _fault(problems, place, f"must be an object, not {data!r}")
    hints = get_type_hints(kind)
    known = {field.name: field for field in fields(kind)}
    before = len(problems)
    for name in sorted(set(map(str, data)) - set(known)):
        _fault(problems, _join(place, name), "is not a field that we know")
    values: dict[str, Any] = {}
    for name, field in known.items():
        if name in data:
            values[name] = _read(hints[name], data[name], _join(place, name), problems)
        elif not _has_default(field):
            _fault(problems, _join(place, name), "is missing")
    if len(problems) > before:
        return None
    try:
        return kind(**values)
    except ValueError as error:
        problems.append(f"{place}: {error}" if place else str(error))
        return None


def _read_single(kind: Any, data: Any, place: str, problems: list[str]) -> Any:
    if kind is date:
        try:
            return date.fromisoformat(data)
        except (TypeError, ValueError):
            return _fault(problems, place, f"must be a day such as 2026-05-14, not {data!r}")
    if kind is Decimal and isinstance(data, str):
        try:
            amount = Decimal(data)
        except InvalidOperation:
            return _fault(problems, place, f"must be an amount such as 75.00, not {data!r}")
        return amount if amount.is_finite() else _fault(problems, place, "must be an amount such as 75.00")
    # A truth value is a whole number to Python; here it is not.
    if kind is not Decimal and isinstance(data, kind) and (kind is bool or not isinstance(data, bool)):
        return data
    return _fault(problems, place, f"must be {_KINDS[kind]}, not {data!r}")


def _fault(problems: list[str], place: str, what: str) -> None:
    problems.append(f"{place or 'The data'} {what}.")


def _has_default(field: "Field[Any]") -> bool:
    return field.default is not MISSING or field.default_factory is not MISSING


def _join(place: str, name: str) -> str:
    return f"{place}.{name}" if place else name
