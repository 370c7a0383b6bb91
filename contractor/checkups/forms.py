"""What technicians and the office type in about check-ups. Cards are written by hand; these only read them."""

import json
import math
from collections.abc import Iterable, Mapping
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db import models

from contractor.checkups.models import Checklist, ChecklistItem, Finding, Signature
from contractor.core.units import UnreadableMeasurement, from_si, parse, to_si
from contractor.systems.models import CatalogueModel

CONDITIONS = [("good", "Good"), ("watch", "Watch"), ("bad", "Bad"), ("not_possible", "Not possible")]
_HIGHEST_POSITION = 32_767  # of a small integer in PostgreSQL


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


class ChecklistFileForm(forms.Form):
    """An edition of the checklist in a file. ``cleaned_data["file"]`` is what stands in it, as plain data.

    Only what no table could keep is refused here; what an item must say is for the reader of checklists.
    """

    # The edition that ships with the project has 90 items in 92 kB.
    MOST_BYTES = 1_000_000
    MOST_EDITION = 9_999

    file = forms.FileField(
        label="Checklist file",
        help_text="A JSON file, as the page of an edition downloads it, up to 1 MB.",
        widget=forms.ClearableFileInput(attrs={"accept": ".json,application/json"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("upload", "Take it in as a draft"))

    def clean_file(self) -> dict[str, Any]:
        file: UploadedFile[Any] = self.cleaned_data["file"]
        if (file.size or 0) > self.MOST_BYTES:
            raise forms.ValidationError("This file is larger than 1 MB, which no checklist is. Choose the JSON file.")
        data = _read_json(file.read())
        name, edition, items = data.get("name"), data.get("edition"), data.get("items")
        longest = Checklist._meta.get_field("name").max_length or 0
        if not isinstance(name, str) or not 0 < len(name.strip()) <= longest:
            raise forms.ValidationError(f"Give the checklist a name under “name”, up to {longest} characters.")
        if isinstance(edition, bool) or not isinstance(edition, int) or not 0 < edition <= self.MOST_EDITION:
            raise forms.ValidationError(
                f"Give the edition its number under “edition”: a whole number from 1 to {self.MOST_EDITION:,}."
            )
        for number, item in enumerate(items if isinstance(items, list) else (), start=1):
            if isinstance(item, Mapping):
                _refuse_unkeepable(item, f"“{item['code']}”" if item.get("code") else f"number {number}")
        return data


def _read_json(content: bytes) -> dict[str, Any]:
    """An object of plain data; text with what no database takes (a zero character, half a character) is refused."""
    try:
        data = json.loads(content.decode("utf-8-sig"))
        written = json.dumps(data, ensure_ascii=False, allow_nan=False)
        written.encode()
    except (ValueError, RecursionError) as problem:
        raise forms.ValidationError(
            "This file can't be read as JSON. Download an edition, change that file in a plain text editor, and "
            f"upload it. {_where(problem)}"
        ) from problem
    if not isinstance(data, dict) or "\\u0000" in written:
        raise forms.ValidationError(
            "This file is JSON, but no checklist: it must have “name”, “edition” and “items”. Download an edition "
            "to see how one looks."
        )
    return data


def _where(problem: Exception) -> str:
    """Where the reading stopped: what somebody who typed in the file looks for."""
    if not isinstance(problem, json.JSONDecodeError):
        return ""
    return f"The reading stopped in line {problem.lineno}, character {problem.colno}."


def _refuse_unkeepable(item: Mapping[str, Any], name: str) -> None:
    """Refuses what does not fit the columns of an item: what is no text, too long a text, too high a position."""
    for column in ChecklistItem._meta.concrete_fields:
        value = item.get(column.name)
        if value is None or column.name in {"id", "checklist"}:
            continue
        if isinstance(column, models.CharField | models.TextField):
            if not isinstance(value, str):
                raise forms.ValidationError(f"Item {name}, field “{column.name}”: it must be text.")
            if column.max_length and len(value) > column.max_length:
                raise forms.ValidationError(
                    f"Item {name}, field “{column.name}”: it has {len(value)} characters; {column.max_length} fit."
                )
    position = item.get("position")
    if isinstance(position, int) and position > _HIGHEST_POSITION:
        raise forms.ValidationError(f"Item {name}, field “position”: at most {_HIGHEST_POSITION:,}.")


class DecideForm(forms.Form):
    """The office's word on an outside record."""

    accepted = forms.ChoiceField(choices=[("yes", "Accept"), ("no", "Refuse")])
    because = forms.CharField(max_length=500)


class BecauseForm(forms.Form):
    """A reason in a few words."""

    because = forms.CharField(max_length=500, label="Why it could not be done")


class DoneForm(forms.Form):
    """What was done at a visit that has no checklist."""

    work_done = forms.CharField(
        max_length=1000,
        label="What was done",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="It stays on the house's record.",
    )
    minutes_taken = forms.IntegerField(
        min_value=1,
        max_value=600,
        label="Minutes at the house",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    put_right = forms.MultipleChoiceField(
        required=False,
        label="Put right by it",
        widget=forms.CheckboxSelectMultiple,
        help_text="What stays open asks for another visit.",
    )
    left_ids = forms.TypedMultipleChoiceField(
        required=False,
        coerce=int,
        label="Not done after all: waits for another day",
        widget=forms.CheckboxSelectMultiple,
    )
    office_note = forms.CharField(
        max_length=500, required=False, label="Note for the office (optional)", help_text="Owners don't read it."
    )

    def __init__(
        self,
        *args: Any,
        findings: Iterable[tuple[str, str]],
        along: Iterable[tuple[int, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, choices in (("put_right", list(findings)), ("left_ids", list(along))):
            self.fields[name].choices = choices  # type: ignore[attr-defined]
            if not choices:
                del self.fields[name]


def _share(value: float) -> float:
    share = float(value)
    if math.isnan(share):
        raise ValueError("A point is somewhere.")
    return round(min(max(share, 0.0), 1.0), 4)
