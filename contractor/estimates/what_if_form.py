"""What is asked in a what-if: read from the address, so that an answer can be sent on and printed."""

from typing import Any

from crispy_forms.helper import FormHelper
from django import forms

from contractor.estimates.what_if import Part, Question
from contractor.systems.models import CatalogueModel
from contractor.systems.queries import offered_models

AS_TODAY = "As it is today"


class WhatIfForm(forms.Form):
    """Other models from the catalogue, more water, a longer power cut; what is left alone stays as it is today."""

    primary = forms.ModelChoiceField(
        queryset=CatalogueModel.objects.none(), required=False, empty_label=AS_TODAY, label="Primary pump"
    )
    standby = forms.ModelChoiceField(
        queryset=CatalogueModel.objects.none(), required=False, empty_label=AS_TODAY, label="Standby pump"
    )
    battery = forms.ModelChoiceField(
        queryset=CatalogueModel.objects.none(), required=False, empty_label=AS_TODAY, label="Battery"
    )
    line = forms.ModelChoiceField(
        queryset=CatalogueModel.objects.none(), required=False, empty_label=AS_TODAY, label="Discharge line"
    )
    inflow_times = forms.FloatField(
        required=False,
        min_value=0.1,
        max_value=10.0,
        error_messages=dict.fromkeys(("min_value", "max_value"), "Type a number from 0.1 to 10; 1 is today’s."),
        label="Water coming in, times today’s",
        widget=forms.NumberInput(attrs={"step": "0.1"}),
    )
    outage_h = forms.FloatField(
        required=False,
        min_value=0.5,
        max_value=240.0,
        error_messages=dict.fromkeys(("min_value", "max_value"), "Type hours from 0.5 to 240."),
        label="Power cut to carry, hours",
        widget=forms.NumberInput(attrs={"step": "0.5"}),
    )

    def __init__(self, *args: Any, storm_h: float, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.storm_h = storm_h
        for name, kind in (("primary", "primary_pump"), ("standby", "standby_pump"), ("battery", "battery")):
            self._choice(name).queryset = offered_models(kind)
        self._choice("line").queryset = offered_models("discharge_line").filter(data__bore_m__gt=0)
        self.fields["inflow_times"].initial = 1
        self.fields["outage_h"].initial = round(storm_h, 1)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.disable_csrf = True  # a question changes nothing, and its address is sent on

    def _choice(self, name: str) -> Any:
        return self.fields[name]

    def question(self) -> Question:
        """What is asked; everything as it is today where nothing usable was typed."""
        typed = self.cleaned_data if self.is_bound and self.is_valid() else {}
        return Question(
            primary=_part(typed.get("primary")),
            standby=_part(typed.get("standby")),
            battery=_part(typed.get("battery")),
            line=_part(typed.get("line")),
            inflow_times=typed.get("inflow_times") or 1.0,
            outage_h=typed.get("outage_h") or self.storm_h,
        )


def _part(model: CatalogueModel | None) -> Part | None:
    return None if model is None else Part(model_id=model.pk, name=str(model), declared=model.data)
