"""What differs between two editions of terms, field by field, in the words in which people read them."""

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from decimal import Decimal
from typing import Any

from contractor.warranties.rules.terms import Terms
from contractor.warranties.rules.wording import money_in_words, part_in_words

# Lists whose entries have a name of their own are compared by it; others line by line.
_NAMED = {"promises": "part_kind", "exclusions": "code"}
# Says nothing about what is promised.
_LEFT_OUT = {"edition"}
_MONEY = {"callout_fee", "fee", "charge"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One field that differs; ``subject`` is the part or the cause it belongs to. Empty text: it is not there."""

    field: str
    subject: str
    before: str
    after: str

    @property
    def label(self) -> str:
        """The field in words: "care, grace days"."""
        return self.field.replace("callout", "call-out").replace("_", " ").replace(".", ", ")


def changes(before: Terms, after: Terms) -> tuple[Change, ...]:
    """Every field that differs, in the order of the terms. Promises and exclusions that only moved do not differ."""
    paid_in = (before.jurisdiction, after.jurisdiction)
    found: list[Change] = []
    for field in fields(Terms):
        if field.name in _LEFT_OUT:
            continue
        one, other = getattr(before, field.name), getattr(after, field.name)
        if one == other:
            continue
        if field.name in _NAMED:
            found += _named(field.name, _NAMED[field.name], one, other, paid_in)
        else:
            found += _single(field.name, "", one, other, paid_in)
    return tuple(found)


def _named(
    name: str, key: str, before: tuple[Any, ...], after: tuple[Any, ...], paid_in: tuple[str, str]
) -> Iterator[Change]:
    one = {getattr(item, key): item for item in before}
    other = {getattr(item, key): item for item in after}
    for code in [*one, *(code for code in other if code not in one)]:
        subject = part_in_words(code) if name == "promises" else code
        if one.get(code) != other.get(code):
            yield from _single(name, subject, one.get(code), other.get(code), paid_in)


def _single(name: str, subject: str, before: Any, after: Any, paid_in: tuple[str, str]) -> Iterator[Change]:
    """A value, or each field of a group of values; a group that is on one side only is told as a whole."""
    if is_dataclass(before) and is_dataclass(after):
        for field in fields(before):
            one, other = getattr(before, field.name), getattr(after, field.name)
            if one != other:
                yield Change(
                    field=f"{name}.{field.name}",
                    subject=subject,
                    before=_said(field.name, one, paid_in[0]),
                    after=_said(field.name, other, paid_in[1]),
                )
    else:
        said, says = _said(name, before, paid_in[0]), _said(name, after, paid_in[1])
        yield Change(field=name, subject=subject, before=said, after=says)


def _said(name: str, value: Any, paid_in: str) -> str:
    """A value in words; amounts in the money of the jurisdiction ``paid_in``."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return money_in_words(value, paid_in) if name in _MONEY else str(value)
    if isinstance(value, tuple):
        return "\n".join(_said(name, item, paid_in) for item in value)
    if is_dataclass(value):
        parts = ((field.name, _said(field.name, getattr(value, field.name), paid_in)) for field in fields(value))
        return "; ".join(f"{part.replace('_', ' ')}: {text}" for part, text in parts if text)
    return str(value)
