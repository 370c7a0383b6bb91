"""What technicians and the office type in about check-ups. Cards are written by hand; these only read them."""

import json
import math
from typing import Any

from django import forms

from contractor.checkups.models import ChecklistItem, Finding, Signature
from contractor.core.units import UnreadableMeasurement, from_si, parse, to_si
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
        except (ValueError, TypeError, OverflowError, RecursionError) as problem:
            raise forms.ValidationError("The signature could not be read. Please sign once more.") from problem


class ItemForm(forms.Form):
    """Words and limits of one item. Limits are typed in the unit of the gauge and kept in the base unit."""

    WORDS = ("prompt", "how", "caution", "consequence", "when_watch", "what_to_do", "source")
    LIMITS = ("good_low", "good_high", "watch_low", "watch_high")

    def __init__(self, *args: Any, item: ChecklistItem, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = item.unit_us
        for name in self.WORDS:
            self.fields[name] = forms.CharField(
                required=name in {"prompt", "source"},
                initial=getattr(item, name),
                widget=forms.TextInput() if name == "prompt" else forms.Textarea(attrs={"rows": 2}),
            )
        for name in self.LIMITS if item.unit_us else ():
            value_si = getattr(item, name)
            self.fields[name] = forms.FloatField(
                required=False,
                label=f"{name.replace('_', ' ').capitalize()} ({item.unit_us})",
                initial=None if value_si is None else round(from_si(value_si, item.unit_us), 6),
            )
        self.fields["severity"] = forms.ChoiceField(choices=Finding.Severity.choices, initial=item.severity)
        self.fields["required"] = forms.BooleanField(required=False, initial=item.required)

    def values(self) -> dict[str, Any]:
        """What was typed, with limits in the base unit; a limit that was not touched keeps its exact value."""
        values = dict(self.cleaned_data)
        for name in self.LIMITS:
            if name in values:
                if name not in self.changed_data:
                    del values[name]
                elif values[name] is not None:
                    values[name] = to_si(values[name], self.unit)
        return values


class DecideForm(forms.Form):
    """The office's word on an outside record."""

    accepted = forms.ChoiceField(choices=[("yes", "Accept"), ("no", "Refuse")])
    because = forms.CharField(max_length=500)


class BecauseForm(forms.Form):
    """A reason in a few words."""

    because = forms.CharField(max_length=500, label="Why it could not be done")


def _share(value: float) -> float:
    share = float(value)
    if math.isnan(share):
        raise ValueError("A point is somewhere.")
    return round(min(max(share, 0.0), 1.0), 4)
