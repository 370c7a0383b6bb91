"""What an owner types about an appointment."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.utils.dateparse import parse_date, parse_time

from contractor.portal.forms import PortalForm
from contractor.visits.actions.owner_answers import Shown
from contractor.visits.arrival import hours_in_words
from contractor.visits.days_offered import DayOffered


class YesForm(forms.Form):
    """The day and hours that the page showed, so that nobody says yes to something unseen."""

    on = forms.CharField(max_length=10, required=False)
    arrive_from = forms.CharField(max_length=8, required=False)
    arrive_until = forms.CharField(max_length=8, required=False)

    def shown(self) -> Shown | None:
        """What was shown; None for a page that nobody was sent."""
        try:
            on = parse_date(self.data.get("on", ""))
            hours = [parse_time(self.data.get(name, "") or "") for name in ("arrive_from", "arrive_until")]
        except ValueError:
            return None
        return (on, hours[0], hours[1]) if on is not None else None


class DayForm(PortalForm):
    """One of the days that fit."""

    submit = "Take this day"
    day = forms.TypedChoiceField(
        label="Days that are free",
        widget=forms.RadioSelect,
        coerce=date.fromisoformat,
        error_messages={
            "required": "Choose one of these days first.",
            "invalid_choice": "This day is taken meanwhile. Choose one of these.",
        },
    )

    def __init__(self, *args: Any, days: Iterable[DayOffered], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["day"].choices = [(day.code, _words(day)) for day in days]  # type: ignore[attr-defined]


class WishForm(PortalForm):
    """Days or hours in the owner's own words."""

    submit = "Send my wish"
    words = forms.CharField(
        label="Which days or hours suit you?",
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=500,
        help_text="For instance: a Friday in June, or any day after 4 PM. The office answers you.",
        error_messages={"required": "Write in a few words which days or hours suit you."},
    )


class CallMeForm(PortalForm):
    """What the office should know before it calls."""

    submit = "Please call me"
    words = forms.CharField(
        label="When do we reach you best? (optional)",
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=500,
        required=False,
    )


class CallOffForm(PortalForm):
    """Why nobody is to come."""

    submit = "Call the visit off"
    because = forms.CharField(
        label="Why?",
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=500,
        help_text="In a few words, so that we know whether to come another time.",
        error_messages={"required": "Say why in a few words, so that we know whether to come another time."},
    )


def _words(day: DayOffered) -> str:
    hours = hours_in_words(day.arrive_from, day.arrive_until).replace("-", " to ")
    return f"{day.on:%A}, {day.on:%B} {day.on.day}, from {hours}"
