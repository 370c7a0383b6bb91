"""How the editor of terms is laid out: groups of fields, in the order of the printed document's questions."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import HTML, Column, Div, Field, Fieldset, Layout, Row

from contractor.systems.part_kinds import PART_KINDS

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
CONDITION = ("sentence", "provider", "charge")
MORE_ROWS = '<p class="help">Two empty rows stand ready; keep the draft to get two more.</p>'
FULL_COST = (
    '<p class="help">Until the months at full cost are over we pay all of a repair; from then on our share falls to '
    "nothing. Left empty, we pay all to the end.</p>"
)


def editor_layout(*, exclusions: int, conditions: int) -> FormHelper:
    """The form's groups; ``exclusions`` and ``conditions`` are the numbers of their rows."""
    content = _beginning() | _parts_and_care(conditions) | _sale_and_limits(exclusions) | _end()
    groups = (
        Fieldset(legend, *content[code], css_class=f"group is-{code}", css_id=f"group-{code}")
        for code, legend in EDITOR_GROUPS
    )
    helper = FormHelper()
    helper.form_tag = False
    helper.layout = Layout(*groups)
    return helper


def _field(name: str) -> Field:
    return Field(name, template="warranties/terms_field.html")


def _fields(*names: str) -> tuple[Field, ...]:
    return tuple(_field(name) for name in names)


def _row(*names: str) -> Row:
    return Row(*(Column(_field(name)) for name in names))


def _beginning() -> dict[str, tuple[Any, ...]]:
    return {
        "law": (
            _row("edition", "jurisdiction"),
            _row("designation", "title"),
            Div(*_fields("provinces", "french_document"), css_class="only-canada"),
        ),
        "parties": (
            _row("warrantor-legal_name", "warrantor-address"),
            _row("warrantor-department", "warrantor-toll_free_phone"),
            _field("warrantor-trade_names"),
            _row("extended_to", "extended_to_words"),
        ),
        "promise": _fields("start_event", "remedy", "pays_for", "not_paid", "repeat_failure_remedy"),
    }


def _parts_and_care(conditions: int) -> dict[str, tuple[Any, ...]]:
    return {
        "parts": (HTML(FULL_COST), *(_promise(kind.code) for kind in PART_KINDS)),
        "care": (
            _field("care-asked"),
            Div(
                _row("care-every_months", "care-early_days", "care-grace_days", "care-charge"),
                *_fields("care-any_provider", "care-when_missed"),
                css_class="care-fields",
            ),
            *_fields("care_words", "care_proof"),
            *(_row(*(f"condition-{n}-{name}" for name in CONDITION)) for n in range(conditions)),
            HTML(MORE_ROWS),
        ),
    }


def _promise(kind: str) -> Div:
    name = f"promise-{kind}-{{}}".format
    return Div(
        _field(name("promised")),
        Div(
            _row(name("life_of"), name("months"), name("full_months"), name("callout_fee")),
            _row(name("covers"), name("where")),
            _row(name("starts"), name("classified")),
            css_class="promise-fields",
        ),
        css_class="promise-row",
    )


def _sale_and_limits(exclusions: int) -> dict[str, tuple[Any, ...]]:
    return {
        "sale": (
            _field("transfer-way"),
            Div(
                _row("transfer-most", "transfer-notice_days", "transfer-fee"),
                _row("transfer-checkup_within_days", "transfer-months_after"),
                css_class="transfer-fields",
            ),
            _field("transfer_words"),
        ),
        "not-covered": (
            *(_row(f"exclusion-{n}-code", f"exclusion-{n}-sentence") for n in range(exclusions)),
            HTML(MORE_ROWS),
            _field("nothing_excluded"),
        ),
    }


def _end() -> dict[str, tuple[Any, ...]]:
    return {
        "claim": (
            _field("claim_steps"),
            _row("registration", "registration_words"),
            *_fields("dispute-mechanism", "dispute-prior_resort"),
        ),
        "rights": (
            *_fields("implied_limit-text", "implied_limit-sentence"),
            _row("implied_limit-months", "implied_limit-on_face"),
            *_fields("consequential-text", "consequential-sentence", "consequential-on_face", "rights_sentence"),
        ),
        "more": _fields("notes"),
        "lawyer": _fields("documents", "advisory_because", "ftc_waiver", "paid_separately", "implied_disclaimed"),
    }
