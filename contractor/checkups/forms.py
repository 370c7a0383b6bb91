"""What technicians and the office type in about check-ups. Cards are written by hand; these only read them."""

import json
from typing import Any

from django import forms

from contractor.checkups.models import Finding, Signature
from contractor.core.units import UnreadableMeasurement, parse
from contractor.systems.models import CatalogueModel

CONDITIONS = [("good", "Good"), ("watch", "Watch"), ("bad", "Bad"), ("not_possible", "Not possible")]


class AnswerForm(forms.Form):
    """One answer, whatever its kind: an empty field is one that the kind does not ask for."""

    condition = forms.ChoiceField(choices=CONDITIONS, required=False)
    typed = forms.CharField(max_length=40, required=False)
    unit = forms.CharField(max_length=20, required=False)
    seconds = forms.CharField(max_length=20, required=False)
    text = forms.CharField(max_length=2000, required=False)
    because = forms.CharField(max_length=500, required=False)

    def clean_seconds(self) -> float | None:
        """Seconds, also typed as minutes and seconds ("1:30")."""
        text: str = self.cleaned_data["seconds"].strip()
        if not text:
            return None
        try:
            return parse(text, "s").si
        except UnreadableMeasurement as problem:
            raise forms.ValidationError(problem.sentence) from problem


class FindingForm(forms.Form):
    """Something wrong, and whether it was put right on the spot."""

    severity = forms.ChoiceField(choices=Finding.Severity.choices)
    what = forms.CharField(max_length=1000)
    what_to_do = forms.CharField(max_length=1000, required=False)
    repaired = forms.CharField(max_length=500, required=False)


class SwapForm(forms.Form):
    """The new part and why the old one came out."""

    model = forms.ModelChoiceField(
        queryset=CatalogueModel.objects.none(), label="New part", empty_label="Choose the model…"
    )
    serial_number = forms.CharField(max_length=60, required=False, label="Serial number on its plate")
    because = forms.CharField(max_length=500, label="Why the old one comes out")
    failed = forms.BooleanField(required=False, label="The old part had failed (not only old or weak)")

    def __init__(self, *args: Any, part_kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = CatalogueModel.objects.filter(part_kind=part_kind, is_offered=True)
        self.fields["model"].queryset = offered  # type: ignore[attr-defined]


class SignatureForm(forms.Form):
    """Drawn, typed, or nobody at home."""

    kind = forms.ChoiceField(choices=Signature.Kind.choices)
    name = forms.CharField(max_length=160, required=False)
    strokes = forms.CharField(required=False, max_length=400_000)

    def clean_strokes(self) -> list[list[list[float]]]:
        """Strokes as lists of points between 0 and 1; anything else is no signature."""
        text = self.cleaned_data["strokes"] or "[]"
        try:
            strokes = json.loads(text)
            return [[[_share(x), _share(y)] for x, y in stroke] for stroke in strokes]
        except (ValueError, TypeError) as problem:
            raise forms.ValidationError("The signature could not be read. Please sign once more.") from problem


class DecideForm(forms.Form):
    """The office's word on an outside record."""

    accepted = forms.ChoiceField(choices=[("yes", "Accept"), ("no", "Refuse")])
    because = forms.CharField(max_length=500)


class BecauseForm(forms.Form):
    """A reason in a few words."""

    because = forms.CharField(max_length=500, label="Why it could not be done")


def _share(value: float) -> float:
    return round(min(max(float(value), 0.0), 1.0), 4)
