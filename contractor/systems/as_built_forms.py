"""What was measured of a line and pit, typed in the company's units or in any that is written behind the number."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Fieldset, Layout, Row
from django import forms

from contractor.core.units import UnreadableMeasurement, parse
from contractor.systems.measures import MEASURES, Group, Measure
from contractor.systems.models import AsBuilt

ANSWERS = (("", "Not looked at"), ("yes", "Yes"), ("no", "No"))


class AsBuiltForm(forms.Form):
    """Sixteen measures, each of which may stay empty: nobody has measured it."""

    measured_on = forms.DateField(
        label="Measured on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: Any, is_us: bool, built: AsBuilt | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_us = is_us
        self.kept: dict[str, Any] = {name: getattr(built, name, None) for name in (one.name for one in MEASURES)}
        for measure in MEASURES:
            self.fields[measure.name] = _input(measure, is_us=is_us)
            self.fields[measure.name].initial = self._as_typed(measure)
        self.helper = FormHelper()
        self.helper.form_tag = False
        groups = [
            Fieldset(
                group.value,
                Row(*(Column(measure.name, css_class="col-sm-6") for measure in MEASURES if measure.group == group)),
                css_class="group",
            )
            for group in Group
        ]
        self.helper.layout = Layout(*groups, "measured_on")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for measure in MEASURES:
            if measure.name not in cleaned or measure.is_count:
                continue
            try:
                cleaned[measure.name] = self._read(measure, str(cleaned[measure.name]).strip())
            except UnreadableMeasurement as refusal:
                self.add_error(measure.name, refusal.sentence)
        return cleaned

    def values(self) -> dict[str, float | int | bool | None]:
        """What was measured, in metres, under the columns' names; None for what was not."""
        return {measure.name: self.cleaned_data[measure.name] for measure in MEASURES}

    def _read(self, measure: Measure, typed: str) -> float | bool | None:
        if not typed:
            return None
        unit = measure.unit(is_us=self.is_us)
        if not unit:
            return typed == "yes"
        # What is on record is shown rounded: left as it stands, it stays what it is.
        if self.kept[measure.name] is not None and typed == self._as_typed(measure):
            return float(self.kept[measure.name])
        return parse(typed, unit).si

    def _as_typed(self, measure: Measure) -> str:
        return measure.in_words(self.kept[measure.name], is_us=self.is_us)


def _input(measure: Measure, *, is_us: bool) -> forms.Field:
    label = measure.field_label(is_us=is_us)
    if measure.is_count:
        return forms.IntegerField(label=label, required=False, help_text=measure.hint)
    if not measure.unit(is_us=is_us):
        return forms.ChoiceField(label=label, choices=ANSWERS, required=False, help_text=measure.hint)
    return forms.CharField(label=label, required=False, max_length=40, help_text=measure.hint)
