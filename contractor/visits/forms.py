"""Giving out, moving and asking for visits."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Layout, Row, Submit
from django import forms

from contractor.accounts.models import User
from contractor.visits.models import VisitKind
from contractor.visits.skills import WORDS


class AppointmentForm(forms.Form):
    """Who goes on which day, and when the owner may expect them."""

    technician = forms.ModelChoiceField(queryset=User.objects.none(), empty_label="Choose…")
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    arrive_from = forms.TimeField(
        label="Arrives from (optional)", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    arrive_until = forms.TimeField(
        label="until (optional)",
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="Leave both empty when any time of the day is right.",
    )

    def __init__(self, *args: Any, submit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["technician"].queryset = User.objects.technicians()  # type: ignore[attr-defined]
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout("technician", Row(Column("on"), Column("arrive_from"), Column("arrive_until")))
        self.helper.add_input(Submit("save", submit))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("arrive_from"), cleaned.get("arrive_until")
        if bool(first) != bool(last):
            self.add_error("arrive_until", "Give both hours, or neither.")
        elif first and last and first >= last:
            self.add_error("arrive_until", "This hour must be after the first.")
        return cleaned


class BecauseForm(forms.Form):
    """A reason in a few words."""

    because = forms.CharField(label="Why", widget=forms.Textarea(attrs={"rows": 3}), max_length=500)

    def __init__(self, *args: Any, submit: str, help_text: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["because"].help_text = help_text
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("save", submit))


class AskForm(forms.Form):
    """A visit asked for by hand."""

    kind = forms.ChoiceField(choices=VisitKind.choices, initial=VisitKind.REPAIR)
    reason = forms.CharField(
        label="What for",
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=500,
        help_text="The owner reads this in the message about the appointment.",
    )
    target_on = forms.DateField(label="Wished day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    earliest_on = forms.DateField(label="Not before", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    latest_on = forms.DateField(label="Not after", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    minutes = forms.IntegerField(label="Minutes at the house", min_value=5, max_value=600, initial=60)
    carry = forms.CharField(
        label="Parts to bring along (optional)",
        required=False,
        max_length=300,
        help_text="With a semicolon between them: each takes room in the van.",
    )
    skills = forms.MultipleChoiceField(
        label="Asks for (optional)",
        required=False,
        choices=[(str(code), word) for code, word in WORDS.items()],
        widget=forms.CheckboxSelectMultiple,
        help_text="Only somebody who can do all of it is planned.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(
            "kind",
            "reason",
            Row(Column("target_on"), Column("earliest_on"), Column("latest_on")),
            Row(Column("minutes"), Column("carry")),
            "skills",
        )
        self.helper.add_input(Submit("ask", "Ask for this visit"))
