"""The editor of terms as a form: from terms to fields and back, each fault beside its field."""

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import validate_slug
from django.forms.boundfield import BoundField

from contractor.systems.part_kinds import PART_KINDS
from contractor.warranties.rules import canada, publishing
from contractor.warranties.rules.broken import BrokenRule, Rule
from contractor.warranties.rules.plain_data import BadData, terms_from_data
from contractor.warranties.rules.terms import Terms
from contractor.warranties.terms_fields import (
    SPARE_ROWS,
    condition_fields,
    exclusion_fields,
    field_of_problem,
    form_field,
    override_field,
    plain_fields,
    promise_fields,
)
from contractor.warranties.terms_layout import editor_layout

KINDS = tuple(kind.code for kind in PART_KINDS)
LINES = ("pays_for", "not_paid", "claim_steps", "notes", "documents")
GROUPS = ("implied_limit", "consequential", "dispute")
MOST_ROWS = 40
WARNINGS = tuple(one for one in (*publishing.RULES, *canada.RULES) if one.severity == "W")


class TermsForm(forms.Form):
    """Every field of an edition of terms. Valid once they can be read as terms, whatever rules these still break."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, terms: Terms) -> None:
        # What was typed last stands for the terms; without it, they are written into the fields.
        super().__init__(data if data is not None else typed_from(terms))
        self.terms: Terms | None = None
        self.terms_data: dict[str, Any] = {}
        self.rows_read: dict[str, list[int]] = {"exclusions": [], "conditions": []}
        self.fields.update(plain_fields())
        for kind in KINDS:
            self._add(f"promise-{kind}", promise_fields(kind))
        self.exclusions = self._add_rows("exclusion", exclusion_fields)
        self.conditions = self._add_rows("condition", condition_fields)
        self._add("override", {one.code: override_field(one.code) for one in WARNINGS})
        self.let_go: list[tuple[Rule, BoundField]] = []
        for name, field in self.fields.items():
            described = f"id_{name}_helptext said-{name}" if field.help_text else f"said-{name}"
            field.widget.attrs["aria-describedby"] = described
        self.helper = editor_layout(exclusions=self.exclusions, conditions=self.conditions)

    def _add(self, prefix: str, fields: Mapping[str, forms.Field]) -> None:
        self.fields.update({f"{prefix}-{name}": field for name, field in fields.items()})

    def _add_rows(self, name: str, fields: Callable[[int], Mapping[str, forms.Field]]) -> int:
        """As many rows as were typed and a few to spare."""
        filled = [number for number in range(MOST_ROWS) if self.data.get(f"{name}-{number}-sentence", "").strip()]
        count = min(MOST_ROWS, (max(filled) + 1 if filled else 0) + SPARE_ROWS)
        for number in range(count):
            self._add(f"{name}-{number}", fields(number))
        return count

    def clean_edition(self) -> str:
        name = str(self.cleaned_data["edition"]).strip()
        if not name:
            raise forms.ValidationError("Give the edition a short name; houses will rest on it.")
        validate_slug(name)
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.errors:
            return cleaned
        promised = [kind for kind in KINDS if cleaned[f"promise-{kind}-promised"]]
        self.terms_data = self._data(cleaned, promised)
        try:
            self.terms = terms_from_data(self.terms_data)
        except BadData as bad:
            for problem in bad.problems:
                place = form_field(field_of_problem(problem), promised, self.rows_read)
                self.add_error(place if place in self.fields else None, problem.partition(": ")[2] or problem)
        return cleaned

    def put_beside(self, broken: Sequence[BrokenRule]) -> None:
        """Puts each broken rule beside its field, and asks a reason for letting each warning go."""
        kinds = [promise.part_kind for promise in self.terms.promises] if self.terms else []
        beside: dict[str, list[BrokenRule]] = {}
        for one in broken:
            beside.setdefault(form_field(one.field, kinds, self.rows_read), []).append(one)
        for name, field in self.fields.items():
            field.broken = beside.get(name, [])  # type: ignore[attr-defined]  # the field's template reads it
        warned = {one.code for one in broken if one.severity == "W"}
        self.let_go = [(one, self[f"override-{one.code}"]) for one in WARNINGS if one.code in warned]

    @property
    def overrides(self) -> dict[str, str]:
        """The reasons for letting warnings go, by the rule's code."""
        return {one.code: self.cleaned_data.get(f"override-{one.code}", "") for one in WARNINGS}

    @property
    def wrong(self) -> list[dict[str, Any]]:
        """Every field at which something is wrong, in the order of the page: what can't be read, what breaks a rule."""
        said = ((self[name], list(getattr(field, "broken", []))) for name, field in self.fields.items())
        return [
            {"id": f"id_{field.name}", "label": self._label(field.name), "errors": field.errors, "broken": broken}
            for field, broken in said
            if field.errors or broken
        ]

    def _label(self, name: str) -> str:
        label = str(self.fields[name].label)
        if name.startswith("promise-") and not name.endswith("-promised"):
            return f"{self.fields[name.rpartition('-')[0] + '-promised'].label}: {label[0].lower()}{label[1:]}"
        return label

    def _data(self, cleaned: Mapping[str, Any], promised: Sequence[str]) -> dict[str, Any]:
        """The terms as data, as rules/plain_data reads them."""
        data: dict[str, Any] = {
            name: value for name, value in cleaned.items() if "-" not in name and name not in LINES
        }
        data |= {name: _lines(cleaned[name]) for name in LINES}
        for name, first in (("jurisdiction", "US"), ("designation", "LIMITED"), ("extended_to", "every_owner")):
            data[name] = cleaned[name] or first
        data["registration"] = cleaned["registration"] or "none"
        data["promises"] = [{"part_kind": kind, **_promise(cleaned, f"promise-{kind}-")} for kind in promised]
        data["warrantor"] = _warrantor(cleaned)
        data["care"] = _care(cleaned) if cleaned["care-asked"] else None
        data["transfer"] = _transfer(cleaned)
        for name in GROUPS:
            data[name] = _group(cleaned, f"{name}-")
        for name, count in (("exclusion", self.exclusions), ("condition", self.conditions)):
            kept = [number for number in range(count) if _filled(cleaned, f"{name}-{number}-")]
            self.rows_read[f"{name}s"] = kept
            data[f"{name}s"] = [_row(cleaned, f"{name}-{number}-", number) for number in kept]
        return data


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _part(cleaned: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    return {name.removeprefix(prefix): value for name, value in cleaned.items() if name.startswith(prefix)}


def _amount(value: Any) -> str:
    return f"{value or 0:.2f}"


def _promise(cleaned: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    part = _part(cleaned, prefix)
    del part["promised"]
    part["callout_fee"] = _amount(part["callout_fee"])
    part["life_of"] = part["life_of"] or None
    return part | {"starts": part["starts"] or "issue", "classified": part["classified"] or "unknown"}


def _warrantor(cleaned: Mapping[str, Any]) -> dict[str, Any] | None:
    part = _part(cleaned, "warrantor-")
    if not any(part.values()):
        return None
    return part | {"trade_names": [name.strip() for name in part["trade_names"].split(",") if name.strip()]}


def _care(cleaned: Mapping[str, Any]) -> dict[str, Any]:
    part = _part(cleaned, "care-")
    del part["asked"]
    for name, usual in (("every_months", 12), ("early_days", 0), ("grace_days", 0)):
        part[name] = usual if part[name] is None else part[name]
    return part | {"charge": _amount(part["charge"]), "when_missed": part["when_missed"] or "judge"}


def _transfer(cleaned: Mapping[str, Any]) -> dict[str, Any] | None:
    part = _part(cleaned, "transfer-")
    way = part.pop("way") or "free"
    return None if way == "free" else part | {"allowed": way == "rule", "fee": _amount(part["fee"])}


def _group(cleaned: Mapping[str, Any], prefix: str) -> dict[str, Any] | None:
    """A group of fields that is there when one of its texts is."""
    part = _part(cleaned, prefix)
    return part if any(isinstance(value, str) and value.strip() for value in part.values()) else None


def _filled(cleaned: Mapping[str, Any], prefix: str) -> bool:
    return bool(cleaned[f"{prefix}sentence"].strip() or cleaned.get(f"{prefix}code", "").strip())


def _row(cleaned: Mapping[str, Any], prefix: str, number: int) -> dict[str, Any]:
    part = _part(cleaned, prefix)
    if "code" in part:
        return part | {"code": part["code"].strip() or f"cause_{number + 1}"}
    return part | {"charge": _amount(part["charge"]), "provider": part["provider"] or "owner"}


def typed_from(terms: Terms) -> dict[str, Any]:
    """What would have to be typed into the editor for these terms."""
    typed: dict[str, Any] = {}
    for name in plain_fields():
        if "-" not in name:
            value = getattr(terms, name)
            typed[name] = "\n".join(value) if name in LINES else list(value) if name == "provinces" else value
    for promise in terms.promises:
        prefix = f"promise-{promise.part_kind}-"
        typed[f"{prefix}promised"] = True
        typed |= {f"{prefix}{name}": _shown(getattr(promise, name)) for name in _names(promise) if name != "part_kind"}
    for name in (*GROUPS, "care", "transfer"):
        group = getattr(terms, name)
        if group is not None:
            typed |= {f"{name}-{inner}": _shown(getattr(group, inner)) for inner in _names(group)}
    typed["care-asked"] = terms.care is not None
    typed["transfer-way"] = "free" if terms.transfer is None else "rule" if terms.transfer.allowed else "no"
    if terms.warrantor is not None:
        one = terms.warrantor
        typed |= {f"warrantor-{inner}": getattr(one, inner) for inner in _names(one)}
        typed["warrantor-trade_names"] = ", ".join(one.trade_names)
    for name, rows in (("exclusion", terms.exclusions), ("condition", terms.conditions)):
        for number, row in enumerate(rows):
            typed |= {f"{name}-{number}-{inner}": _shown(getattr(row, inner)) for inner in _names(row)}
    return typed


def _names(value: Any) -> Sequence[str]:
    return tuple(value.__dataclass_fields__)


def _shown(value: Any) -> Any:
    if isinstance(value, bool):
        return value
    nothing = value is None or (isinstance(value, Decimal) and not value)
    return "" if nothing else str(value)
