"""Systems, components, walls and the catalogue."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Layout, Row
from django import forms
from django.db.models import Q

from contractor.accounts.models import User
from contractor.core.units import UNITS, UnreadableMeasurement, parse
from contractor.systems import declared
from contractor.systems.declared import TypedAs
from contractor.systems.models import CatalogueModel, Component
from contractor.systems.part_kinds import choices, part_kind

YES_NO = (("no", "No, as a precaution"), ("yes", "Yes, it had failed"))


def day_input() -> forms.DateInput:
    """The browser's own date field."""
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def wall_unit(*, is_us: bool) -> str:
    """The unit code in which walls are measured."""
    return "ft" if is_us else "m"


class DeskForm(forms.Form):
    """A form whose page brings the form element and the buttons."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False


class InstallForm(DeskForm):
    """What was installed at a house, and when."""

    name = forms.CharField(label="Which part of the house", max_length=80, initial="Basement")
    installed_on = forms.DateField(label="Installed on", widget=day_input())
    notes = forms.CharField(label="Notes (optional)", required=False, widget=forms.Textarea(attrs={"rows": 3}))


class ComponentForm(DeskForm):
    """One part that went in. The kind is chosen before, so that only its models are offered."""

    model = forms.ModelChoiceField(
        queryset=CatalogueModel.objects.none(), required=False, empty_label="Not known", label="Model"
    )
    serial_number = forms.CharField(label="Serial number (optional)", max_length=60, required=False)
    place = forms.CharField(label="Place (optional)", max_length=120, required=False)
    on = forms.DateField(label="In since", widget=day_input())
    in_by = forms.ModelChoiceField(
        queryset=User.objects.none(), required=False, empty_label="Not known", label="Put in by (optional)"
    )

    def __init__(self, *args: Any, kind_code: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer_models(self, kind_code)
        self.fields["in_by"].queryset = User.objects.technicians()  # type: ignore[attr-defined]
        self.fields["place"].widget.attrs["placeholder"] = part_kind(kind_code).place
        self.helper.layout = Layout(
            Row(Column("model", css_class="col-sm-6"), Column("serial_number", css_class="col-sm-6")),
            "place",
            Row(Column("on", css_class="col-sm-6"), Column("in_by", css_class="col-sm-6")),
        )


class ReplaceForm(DeskForm):
    """The old part out with the reason, the new one in."""

    on = forms.DateField(label="Swapped on", widget=day_input())
    failed = forms.ChoiceField(label="Had the old one failed?", choices=YES_NO, widget=forms.RadioSelect)
    because = forms.CharField(label="Why it was taken out", widget=forms.Textarea(attrs={"rows": 2}), max_length=500)
    model = forms.ModelChoiceField(
        queryset=CatalogueModel.objects.none(), required=False, empty_label="Not known", label="New model"
    )
    serial_number = forms.CharField(label="New serial number (optional)", max_length=60, required=False)
    place = forms.CharField(
        label="Place (optional)", max_length=120, required=False, help_text="Left empty, the place of the old one."
    )
    swapped_by = forms.ModelChoiceField(
        queryset=User.objects.none(), required=False, empty_label="Not known", label="Swapped by (optional)"
    )

    def __init__(self, *args: Any, component: Component, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer_models(self, component.part_kind)
        self.fields["swapped_by"].queryset = User.objects.technicians()  # type: ignore[attr-defined]
        self.helper.layout = Layout(
            Row(Column("on", css_class="col-sm-6"), Column("swapped_by", css_class="col-sm-6")),
            "failed",
            "because",
            Row(Column("model", css_class="col-sm-6"), Column("serial_number", css_class="col-sm-6")),
            "place",
        )

    def clean_failed(self) -> bool:
        return bool(self.cleaned_data["failed"] == "yes")


class RetireForm(DeskForm):
    """A part taken out without a successor."""

    on = forms.DateField(label="Taken out on", widget=day_input())
    failed = forms.ChoiceField(label="Had it failed?", choices=YES_NO, widget=forms.RadioSelect)
    because = forms.CharField(label="Why it was taken out", widget=forms.Textarea(attrs={"rows": 2}), max_length=500)
    out_by = forms.ModelChoiceField(
        queryset=User.objects.none(), required=False, empty_label="Not known", label="Taken out by (optional)"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["out_by"].queryset = User.objects.technicians()  # type: ignore[attr-defined]

    def clean_failed(self) -> bool:
        return bool(self.cleaned_data["failed"] == "yes")


class CorrectForm(DeskForm):
    """What was written down of a part, put right."""

    model = forms.ModelChoiceField(
        queryset=CatalogueModel.objects.none(), required=False, empty_label="Not known", label="Model"
    )
    serial_number = forms.CharField(label="Serial number (optional)", max_length=60, required=False)
    place = forms.CharField(label="Place", max_length=120)

    def __init__(self, *args: Any, component: Component, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = Q(part_kind=component.part_kind, is_offered=True) | Q(pk=component.model_id)
        self.fields["model"].queryset = CatalogueModel.objects.filter(known)  # type: ignore[attr-defined]


class WallForm(DeskForm):
    """A treated wall; its length is typed in the company's unit or in any other that is written behind it."""

    letter = forms.CharField(max_length=3, widget=forms.TextInput(attrs={"class": "is-short"}))
    name = forms.CharField(label="Which wall", max_length=80, help_text="Such as North wall, or Stair side.")
    length = forms.CharField(max_length=40, widget=forms.TextInput(attrs={"class": "is-short"}))
    has_channel = forms.BooleanField(required=False, initial=True, label="Channel along its foot")
    has_liner = forms.BooleanField(required=False, initial=True, label="Liner on the wall")

    def __init__(self, *args: Any, is_us: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = wall_unit(is_us=is_us)
        example = "32 or 32 ft 6 in" if is_us else "9.8 or 980 cm"
        self.fields["length"].label = f"Length in {UNITS[self.unit].word}"
        self.fields["length"].help_text = f"Such as {example}."

    def clean_length(self) -> float:
        try:
            metres = parse(self.cleaned_data["length"], self.unit).si
        except UnreadableMeasurement as refusal:
            raise forms.ValidationError(refusal.sentence) from refusal
        if not 0 < metres <= 200:
            raise forms.ValidationError(
                "A wall is longer than nothing and shorter than 200 m (656 ft). Check the unit."
            )
        return metres

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("has_channel") and not cleaned.get("has_liner"):
            self.add_error("has_channel", "A treated wall has a channel, a liner or both. Tick what was done.")
        return cleaned


class CatalogueForm(DeskForm):
    """A model that can be installed, with what its maker declares; the kind is chosen before."""

    maker = forms.CharField(max_length=80)
    name = forms.CharField(label="Model", max_length=80)

    def __init__(self, *args: Any, kind_code: str, is_us: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_us = is_us
        self.asked = declared.fields_of(kind_code)
        for field in self.asked:
            self.fields[field.name] = _declared_input(field, is_us=is_us)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for field in self.asked:
            typed = cleaned.get(field.name)
            if typed in (None, ""):
                continue
            try:
                cleaned[field.name] = self._read(field, typed)
            except (UnreadableMeasurement, declared.UnreadableCurve) as refusal:
                self.add_error(field.name, refusal.sentence)
        return cleaned

    def declared_data(self) -> dict[str, Any]:
        """What the maker declares, in base units; what was left empty is left out."""
        values = {field.name: self.cleaned_data.get(field.name) for field in self.asked}
        return {name: value for name, value in values.items() if value not in (None, "")}

    def _read(self, field: declared.DeclaredField, typed: Any) -> Any:
        if field.form == TypedAs.CURVE:
            return declared.read_curve(typed, is_us=self.is_us)
        if field.form == TypedAs.MEASURE:
            return parse(typed, field.unit(is_us=self.is_us)).si / field.base_units_each
        return typed == "yes" if field.form == TypedAs.YES_NO else typed


def _declared_input(field: declared.DeclaredField, *, is_us: bool) -> forms.Field:
    """The form field in which something a maker declares is typed."""
    label = field.label
    if field.form in (TypedAs.WORDS, TypedAs.YES_NO):
        words = field.words or (("yes", "Yes"), ("no", "No"))
        offered = [("", "Not declared"), *words]
        return forms.ChoiceField(label=f"{label} (optional)", choices=offered, required=False)
    if field.form == TypedAs.CURVE:
        head, flow = (UNITS[code].word for code in declared.curve_units(is_us=is_us))
        return forms.CharField(
            label=f"{label} (optional)",
            required=False,
            widget=forms.Textarea(attrs={"rows": 5}),
            help_text=f"{field.hint} Head in {head}, flow in {flow}.",
        )
    if field.form == TypedAs.NUMBER:
        label = f"{label} in {field.counted} (optional)"
        return forms.FloatField(label=label, required=False, min_value=0.1, max_value=100_000)
    if field.form == TypedAs.MEASURE and UNITS[field.unit(is_us=is_us)].symbol:
        label = f"{label} in {UNITS[field.unit(is_us=is_us)].word}"
    return forms.CharField(label=f"{label} (optional)", required=False, max_length=60, help_text=field.hint)


class KindForm(forms.Form):
    """Which part kind a page is about; anything else than a known code is as if nothing was asked."""

    kind = forms.ChoiceField(choices=choices(), required=False)


def _offer_models(form: forms.Form, kind_code: str) -> None:
    field = form.fields["model"]
    field.queryset = CatalogueModel.objects.filter(part_kind=kind_code, is_offered=True)  # type: ignore[attr-defined]
    if not part_kind(kind_code).serial:
        form.fields["serial_number"].help_text = "Parts of this kind seldom carry one."
