"""The editor of terms as a form: from terms to fields and back, each fault beside its field."""

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import HTML, Column, Div, Field, Fieldset, Layout, Row
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
        self.helper = editor_layout(self)

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
    if way == "free":
        return None
    return {"allowed": False} if way == "no" else part | {"allowed": True, "fee": _amount(part["fee"])}


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


def _field(name: str) -> Field:
    return Field(name, template="warranties/terms_field.html")


def _row_of(*names: str) -> Row:
    return Row(*(Column(_field(name)) for name in names))


def _group_of(code: str, legend: str, *content: Any, css_class: str = "") -> Fieldset:
    return Fieldset(legend, *content, css_class=f"group {css_class}".strip(), css_id=f"group-{code}")


def _promise_layout(kind: str) -> Div:
    name = f"promise-{kind}-{{}}".format
    return Div(
        _field(name("promised")),
        Div(
            _row_of(name("life_of"), name("months"), name("full_months"), name("callout_fee")),
            _row_of(name("covers"), name("where")),
            _row_of(name("starts"), name("classified")),
            css_class="promise-fields",
        ),
        css_class="promise-row",
    )


EDITOR_GROUPS = (
    ("law", "Name and law"),
    ("parties", "Who gives it, and to whom"),
    ("promise", "What we promise"),
    ("parts", "Part by part"),
    ("care", "What the owner looks after"),
    ("sale", "When the house is sold"),
    ("not-covered", "Not covered"),
    ("claim", "If something fails"),
    ("rights", "Rights, and limits of them"),
    ("more", "Also good to know"),
    ("lawyer", "For your lawyer"),
)


def editor_layout(form: TermsForm) -> FormHelper:
    """The groups of the editor, in the order of the printed document's questions."""
    exclusions = [_row_of(f"exclusion-{n}-code", f"exclusion-{n}-sentence") for n in range(form.exclusions)]
    conditions = [
        Row(
            Column(_field(f"condition-{n}-sentence")),
            Column(_field(f"condition-{n}-provider")),
            Column(_field(f"condition-{n}-charge")),
        )
        for n in range(form.conditions)
    ]
    more = HTML('<p class="help">Two empty rows stand ready; keep the draft to get two more.</p>')
    content: dict[str, tuple[Any, ...]] = {
        "law": (
            _row_of("edition", "jurisdiction"),
            _row_of("designation", "title"),
            Div(_field("provinces"), _field("french_document"), css_class="only-canada"),
        ),
        "parties": (
            _row_of("warrantor-legal_name", "warrantor-address"),
            _row_of("warrantor-department", "warrantor-toll_free_phone"),
            _field("warrantor-trade_names"),
            _row_of("extended_to", "extended_to_words"),
        ),
        "promise": tuple(_field(n) for n in ("start_event", "remedy", "pays_for", "not_paid", "repeat_failure_remedy")),
        "parts": (
            HTML(
                '<p class="help">Until the months at full cost are over we pay all of a repair; from then on our share '
                "falls to nothing. Left empty, we pay all to the end.</p>"
            ),
            *(_promise_layout(kind) for kind in KINDS),
        ),
        "care": (
            _field("care-asked"),
            Div(
                _row_of("care-every_months", "care-early_days", "care-grace_days", "care-charge"),
                _field("care-any_provider"),
                _field("care-when_missed"),
                css_class="care-fields",
            ),
            _field("care_words"),
            _field("care_proof"),
            *conditions,
            more,
        ),
        "sale": (
            _field("transfer-way"),
            Div(
                _row_of("transfer-most", "transfer-notice_days", "transfer-fee"),
                _row_of("transfer-checkup_within_days", "transfer-months_after"),
                css_class="transfer-fields",
            ),
            _field("transfer_words"),
        ),
        "not-covered": (*exclusions, more, _field("nothing_excluded")),
        "claim": (
            _field("claim_steps"),
            _row_of("registration", "registration_words"),
            _field("dispute-mechanism"),
            _field("dispute-prior_resort"),
        ),
        "rights": (
            _field("implied_limit-text"),
            _field("implied_limit-sentence"),
            _row_of("implied_limit-months", "implied_limit-on_face"),
            _field("consequential-text"),
            _field("consequential-sentence"),
            _field("consequential-on_face"),
            _field("rights_sentence"),
        ),
        "more": (_field("notes"),),
        "lawyer": tuple(
            _field(n) for n in ("documents", "advisory_because", "ftc_waiver", "paid_separately", "implied_disclaimed")
        ),
    }
    helper = FormHelper()
    helper.form_tag = False
    groups = (_group_of(code, legend, *content[code], css_class=f"is-{code}") for code, legend in EDITOR_GROUPS)
    helper.layout = Layout(*groups)
    return helper
