"""What a manager types about the liability: the days, and costs and lives where the records don't tell."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import forms

from contractor.core.templatetags.country_style import in_money
from contractor.systems.part_kinds import PART_KINDS
from contractor.warranties.errors import PeriodAhead, PeriodBackwards, PeriodTooLong
from contractor.warranties.forms import day_input
from contractor.warranties.liability_assumed import Typed
from contractor.warranties.models import LiabilityYear
from contractor.warranties.rules.counting import ONE_DAY
from contractor.warranties.rules.liability import refuse_bad_period, year_through
from contractor.warranties.rules.liability_data import assumptions_from_data
from contractor.warranties.rules.liability_reserve import CostSource, LifeSource

PERIOD_FORM = "liability"
LINES = ("opening", "payments", "issued", "changes", "closing")


class LiabilityForm(forms.Form):
    """The period, and by part kind what a repair costs and how many years half of the parts last."""

    from_on = forms.DateField(label="First day", widget=day_input())
    until_on = forms.DateField(label="Last day, included", widget=day_input())

    def __init__(self, data: Mapping[str, Any], *, on: date) -> None:
        super().__init__(data)
        self.on = on
        for kind in PART_KINDS:
            self.fields[f"cost_{kind.code}"] = forms.DecimalField(
                label=in_money(f"Cost of a repair of a {kind.word}, in {{}}"),
                required=False,
                min_value=0,
                max_digits=9,
                decimal_places=2,
            )
            self.fields[f"years_{kind.code}"] = forms.DecimalField(
                label=f"Years that half of the {kind.plural} last",
                required=False,
                min_value=Decimal("0.5"),
                max_value=200,
                decimal_places=1,
            )
        for name, field in self.fields.items():
            field.widget.attrs["class"] = "form-control"
            if name not in {"from_on", "until_on"}:
                # They stand in the table of assumptions, outside the form that asks for the period.
                field.widget.attrs |= {"form": PERIOD_FORM, "inputmode": "decimal"}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("from_on") and cleaned.get("until_on"):
            try:
                refuse_bad_period(cleaned["from_on"], cleaned["until_on"], self.on)
            except (PeriodAhead, PeriodBackwards, PeriodTooLong) as refusal:
                self.add_error(refusal.field, refusal.sentence)
        return cleaned

    @property
    def typed(self) -> Typed:
        """The costs and years that were typed."""
        return Typed(costs=self._by_kind("cost"), years=self._by_kind("years"))

    @property
    def query(self) -> str:
        """What was typed, as the query of an address."""
        return urlencode({name: str(value) for name, value in self.cleaned_data.items() if value is not None})

    def _by_kind(self, what: str) -> dict[str, Decimal]:
        found = {kind.code: self.cleaned_data.get(f"{what}_{kind.code}") for kind in PART_KINDS}
        return {code: value for code, value in found.items() if value is not None}


class LiabilityRowsForm(forms.Form):
    """Which rows of a liability: those of a line, or of a cohort (kind and issue years)."""

    line = forms.ChoiceField(choices=[(line, line) for line in LINES], required=False)
    kind = forms.ChoiceField(choices=[(kind.code, kind.word) for kind in PART_KINDS], required=False)
    year = forms.IntegerField(min_value=1900, max_value=9999, required=False)


class CloseYearForm(forms.Form):
    """The word of the manager that the figures were looked at."""

    is_read = forms.BooleanField(
        widget=forms.CheckboxInput(attrs={"class": "form-check-input"}),
        label="An accountant has looked at these figures. I close the year; it can't be changed afterwards.",
        required=False,
    )


def asked(query: Mapping[str, Any], *, last: LiabilityYear | None, on: date) -> dict[str, Any]:
    """What is asked for, with what stands in for the rest.

    The days are those of the year after the last closed one, as far as it has come, else of this calendar year; costs
    and lives are those typed for the last closed year.
    """
    from_on = date(on.year, 1, 1)
    if last is not None:
        from_on = last.until_on + ONE_DAY if last.until_on < on else last.from_on
    until_on = min(year_through(from_on), on)
    if last is not None and from_on == last.from_on:
        until_on = last.until_on
    found: dict[str, Any] = {"from_on": from_on.isoformat(), "until_on": until_on.isoformat()}
    for one in assumptions_from_data(last.table) if last is not None else ():
        if one.cost_source is CostSource.TYPED:
            found[f"cost_{one.part_kind}"] = str(one.cost)
        if one.life_source is LifeSource.TYPED:
            found[f"years_{one.part_kind}"] = f"{one.median_years:.1f}"
    return {**found, **{name: query[name] for name in query}}
