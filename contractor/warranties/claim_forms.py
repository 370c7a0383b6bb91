"""What the desk types about a claim after its report: a question, an answer, a visit, an appeal and its decision."""

from typing import Any

from crispy_forms.layout import Layout
from django import forms

from contractor.warranties.claim_tables import ClaimAppeal
from contractor.warranties.forms import DecideClaimForm, DeskForm, day_input, text_lines
from contractor.warranties.photo_fields import PhotosField


class AskOwnerForm(DeskForm):
    """A question back to the owner."""

    words = forms.CharField(
        label="Question to the owner",
        widget=text_lines(2),
        max_length=1000,
        help_text="Sent to them now; they answer on their page, with photos if they like.",
    )


class WriteAnswerForm(DeskForm):
    """An answer that came by telephone."""

    answer = forms.CharField(label="What the owner answered", widget=text_lines(3), max_length=2000)


class ClaimVisitForm(DeskForm):
    """When somebody should go, and what for."""

    reason = forms.CharField(
        label="What for",
        widget=text_lines(2),
        max_length=500,
        help_text="The owner reads this in the message about the appointment.",
    )
    target_on = forms.DateField(label="Wished day", widget=day_input())
    earliest_on = forms.DateField(label="Not before", widget=day_input())
    latest_on = forms.DateField(label="Not after", widget=day_input())
    minutes = forms.IntegerField(label="Minutes at the house", min_value=5, max_value=600)
    carry = forms.CharField(label="Parts to bring along (optional)", required=False, max_length=300)

    rows = (("reason",), ("target_on", "earliest_on", "latest_on"), ("minutes", "carry"))


class RecordAppealForm(DeskForm):
    """An appeal that came by letter or telephone."""

    way = forms.ChoiceField(
        label="How it came",
        choices=[choice for choice in ClaimAppeal.Way.choices if choice[0] != ClaimAppeal.Way.PAGE.value],
    )
    received_on = forms.DateField(
        label="On which day", widget=day_input(), help_text="When the letter or the call came, not when it is typed."
    )
    words = forms.CharField(label="What the owner says, in their words", widget=text_lines(4), max_length=4000)
    photos = PhotosField()

    rows = (("way", "received_on"), ("words",), ("photos",))


class DecideAppealForm(DecideClaimForm):
    """The same as for the first decision, and an answer to what the owner says."""

    found = forms.CharField(
        label="Your answer to the appeal",
        widget=text_lines(3),
        max_length=2000,
        help_text="What you looked at again and what you found. The owner reads this in the letter.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.layout = Layout("found", *self.helper.layout.fields)
