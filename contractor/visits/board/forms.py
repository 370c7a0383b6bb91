"""Planning a stretch, putting a visit elsewhere, and saying what came up."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Layout, Row, Submit
from django import forms

from contractor.accounts.models import User

# How long to search: seconds by the clock, or steps, which give the same rounds every time.
EFFORTS: dict[str, dict[str, Any]] = {
    "quick": {"seconds": 10},
    "usual": {"seconds": 30},
    "thorough": {"seconds": 120},
    "steps": {"iterations": 1_200},
    "by_hand": {},
}
OFF = "off"


class StretchForm(forms.Form):
    """Which days to plan, and how long to search."""

    first_on = forms.DateField(
        label="First day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    weeks = forms.TypedChoiceField(label="How long", choices=[(1, "One week"), (2, "Two weeks")], coerce=int)
    effort = forms.ChoiceField(
        label="How to plan it",
        choices=[
            ("quick", "Search for 10 seconds"),
            ("usual", "Search for half a minute"),
            ("thorough", "Search for two minutes"),
            ("steps", "Search 1,200 steps: the same rounds every time"),
            ("by_hand", "By hand: begin with what stands"),
        ],
        initial="usual",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(Row(Column("first_on"), Column("weeks"), Column("effort")))
        self.helper.add_input(Submit("plan", "Plan this stretch"))


class MoveForm(forms.Form):
    """Where a visit is to stand: somebody's day, and its place in the round."""

    where = forms.ChoiceField(label="Technician and day")
    place = forms.TypedChoiceField(
        label="Place in the round",
        coerce=int,
        empty_value=None,
        required=False,
        choices=[("", "Where it costs least driving"), *[(number, f"Stop {number + 1}") for number in range(15)]],
    )

    def __init__(self, *args: Any, places: Iterable[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["where"].choices = [*places, (OFF, "Take it off the rounds")]  # type: ignore[attr-defined]
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(Row(Column("where"), Column("place")))
        self.helper.add_input(Submit("move", "Move it"))


class UpsetForm(forms.Form):
    """What came up, for whom, when and where."""

    kind = forms.ChoiceField(
        label="What came up",
        choices=[
            ("away", "A technician can't go out (ill, called away)"),
            ("van", "A van is broken: its technician can't go out"),
            ("snow", "Snow, a flood, a closed road: a town or all of them can't be reached"),
        ],
        widget=forms.RadioSelect,
        initial="away",
    )
    technician = forms.ModelChoiceField(
        label="Technician", queryset=User.objects.none(), required=False, empty_label="Choose…"
    )
    city = forms.ChoiceField(label="Town (for snow and roads)", required=False)
    first_on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    from_time = forms.TimeField(
        label="From (optional)", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    last_on = forms.DateField(
        label="Until (optional)",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    because = forms.CharField(
        label="Note (optional)", required=False, max_length=80, help_text="For the office only; owners don't read it."
    )

    def __init__(self, *args: Any, towns: Iterable[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["technician"].queryset = User.objects.technicians()  # type: ignore[attr-defined]
        self.fields["city"].choices = [("", "All towns"), *[(town, town) for town in towns]]  # type: ignore[attr-defined]
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(
            "kind",
            Row(Column("technician"), Column("city")),
            Row(Column("first_on"), Column("from_time"), Column("last_on")),
            "because",
        )
        self.helper.add_input(Submit("draft", "Note it and find new places"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("kind") in {"away", "van"} and not cleaned.get("technician") and "technician" not in self.errors:
            self.add_error("technician", "Choose who can't go out.")
        return cleaned

    @property
    def last_day(self) -> date:
        """The last day that is upset."""
        last: date = self.cleaned_data["last_on"] or self.cleaned_data["first_on"]
        return last
