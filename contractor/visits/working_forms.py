"""Usual weeks, leave, days of one's own, and the company's days."""

from datetime import time
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Fieldset, Layout, Row, Submit
from django import forms

from contractor.properties.forms import POSITION_HELP, day_input, typed_position
from contractor.visits.models import Leave, WorkingPattern
from contractor.visits.skills import WORDS
from contractor.visits.working import Depot, Hours, Rest

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
PLACES = ("start", "end")


def hour_input() -> forms.TimeInput:
    """The browser's own time field."""
    return forms.TimeInput(attrs={"type": "time"}, format="%H:%M")


class UsualWeekForm(forms.Form):
    """Hours by weekday, the break, where the day begins and ends, skills and room in the van."""

    valid_from = forms.DateField(
        label="Holds from", widget=day_input(), help_text="The week before it holds until the day before."
    )
    rest_minutes = forms.IntegerField(
        label="Minutes of break (optional)", required=False, min_value=1, max_value=240, initial=30
    )
    rest_from = forms.TimeField(label="begins from", required=False, widget=hour_input(), initial=time(11, 30))
    rest_until = forms.TimeField(label="at the latest", required=False, widget=hour_input(), initial=time(13, 30))
    start_at = forms.ChoiceField(label="The day begins at", choices=WorkingPattern.Place.choices)
    start_name = forms.CharField(label="What the place is called (optional)", required=False, max_length=120)
    start_position = forms.CharField(label="Its position", required=False, max_length=60, help_text=POSITION_HELP)
    end_at = forms.ChoiceField(label="The day ends at", choices=WorkingPattern.Place.choices)
    end_name = forms.CharField(label="What the place is called (optional)", required=False, max_length=120)
    end_position = forms.CharField(label="Its position", required=False, max_length=60, help_text=POSITION_HELP)
    skills = forms.MultipleChoiceField(
        label="Can do",
        required=False,
        choices=[(str(code), word) for code, word in WORDS.items()],
        widget=forms.CheckboxSelectMultiple,
    )
    room = forms.IntegerField(
        label="Parts that fit into the van (optional)",
        required=False,
        min_value=0,
        max_value=500,
        help_text="Leave it empty when room never runs out.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number, name in enumerate(WEEKDAYS):
            self.fields[f"begins_{number}"] = forms.TimeField(label=name, required=False, widget=hour_input())
            self.fields[f"ends_{number}"] = forms.TimeField(label="until", required=False, widget=hour_input())
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(
            "valid_from",
            Fieldset(
                "Hours",
                *(Row(Column(f"begins_{number}"), Column(f"ends_{number}")) for number in range(len(WEEKDAYS))),
                css_class="week-hours",
            ),
            Fieldset("Break", Row(Column("rest_minutes"), Column("rest_from"), Column("rest_until"))),
            Fieldset("Beginning of the day", "start_at", Row(Column("start_name"), Column("start_position"))),
            Fieldset("End of the day", "end_at", Row(Column("end_name"), Column("end_position"))),
            Fieldset("Work", "skills", "room"),
        )
        self.helper.add_input(Submit("save", "Keep this week"))

    def clean_start_position(self) -> tuple[float, float] | None:
        return typed_position(self.cleaned_data["start_position"])

    def clean_end_position(self) -> tuple[float, float] | None:
        return typed_position(self.cleaned_data["end_position"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for number, name in enumerate(WEEKDAYS):
            begins, ends = cleaned.get(f"begins_{number}"), cleaned.get(f"ends_{number}")
            if bool(begins) != bool(ends) and not {f"begins_{number}", f"ends_{number}"} & set(self.errors):
                self.add_error(f"ends_{number}", f"Give both hours of {name}, or neither.")
            elif begins and ends and begins >= ends:
                self.add_error(f"ends_{number}", f"{name} must end after it begins.")
        rest = [cleaned.get("rest_minutes"), cleaned.get("rest_from"), cleaned.get("rest_until")]
        if any(rest) and not all(rest):
            self.add_error("rest_until", "A break needs its minutes and both times. Empty all three for none.")
        return cleaned

    def pattern(self) -> dict[str, Any]:
        """The week as the action takes it."""
        data = self.cleaned_data
        hours: dict[int, Hours] = {
            number: (data[f"begins_{number}"], data[f"ends_{number}"])
            for number in range(len(WEEKDAYS))
            if data[f"begins_{number}"]
        }
        rest = None
        if data["rest_minutes"]:
            rest = Rest(minutes=data["rest_minutes"], earliest=data["rest_from"], latest=data["rest_until"])
        return {
            "valid_from": data["valid_from"],
            "hours": hours,
            "rest": rest,
            "skills": data["skills"],
            "room": data["room"],
            **{place: self._depot(place) for place in PLACES},
        }

    def _depot(self, place: str) -> Depot:
        position = self.cleaned_data[f"{place}_position"] or (None, None)
        return Depot(
            at=self.cleaned_data[f"{place}_at"],
            name=self.cleaned_data[f"{place}_name"],
            latitude=position[0],
            longitude=position[1],
        )


class LeaveForm(forms.Form):
    """When a technician is away."""

    first_on = forms.DateField(label="First day away", widget=day_input())
    last_on = forms.DateField(label="Last day away", widget=day_input())
    part = forms.ChoiceField(label="How much of it", choices=Leave.Part.choices)
    reason = forms.CharField(
        label="Reason (optional)",
        required=False,
        max_length=300,
        help_text="Only the office reads it. Everybody else sees that somebody is on leave.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(Row(Column("first_on"), Column("last_on")), "part", "reason")
        self.helper.add_input(Submit("save", "Note this leave"))


class OwnDayForm(forms.Form):
    """One day that differs from the usual week."""

    on = forms.DateField(label="Day", widget=day_input())
    begins = forms.TimeField(label="Works from (optional)", required=False, widget=hour_input())
    ends = forms.TimeField(label="until (optional)", required=False, widget=hour_input())
    because = forms.CharField(
        label="Why",
        max_length=200,
        help_text="Such as: starts late, van broken, works the Saturday. Leave both hours empty when nobody goes out.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout("on", Row(Column("begins"), Column("ends")), "because")
        self.helper.add_input(Submit("save", "Keep this day"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if bool(cleaned.get("begins")) != bool(cleaned.get("ends")):
            self.add_error("ends", "Give both hours, or neither.")
        return cleaned

    def day(self) -> dict[str, Any]:
        """The day as the action takes it."""
        data = self.cleaned_data
        hours = (data["begins"], data["ends"]) if data["begins"] else None
        return {"on": data["on"], "hours": hours, "because": data["because"]}


class CompanyDayForm(forms.Form):
    """A day that the company closes, or works although it is a holiday."""

    on = forms.DateField(label="Day", widget=day_input())
    is_closed = forms.TypedChoiceField(
        label="The company",
        choices=[("yes", "is closed"), ("no", "works")],
        coerce=lambda value: value == "yes",
    )
    name = forms.CharField(label="What day it is", max_length=80, help_text="Such as: stock-taking, company picnic.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(Row(Column("on"), Column("is_closed")), "name")
        self.helper.add_input(Submit("save", "Keep this day"))
