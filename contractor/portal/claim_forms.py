"""What an owner types about a failure, a question back, and a decision."""

from collections.abc import Iterable
from typing import Any

from django import forms

from contractor.portal.forms import PortalForm
from contractor.systems.models import Component
from contractor.systems.part_kinds import choices
from contractor.warranties.photo_fields import PhotosField


class OwnClaimForm(PortalForm):
    """Which part, since when, what happened, photos."""

    submit = "Send this report"
    part_kind = forms.ChoiceField(
        label="Which part failed", help_text="Not sure? Choose the nearest one; we look at all of it."
    )
    lost_on = forms.DateField(
        label="Since which day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    what = forms.CharField(label="What happened", widget=forms.Textarea(attrs={"rows": 5}), max_length=2000)
    photos = PhotosField()

    def __init__(self, *args: Any, parts: Iterable[Component], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        there = {part.part_kind for part in parts}
        kinds = [("", "Choose…"), *((code, word) for code, word in choices() if code in there)]
        self.fields["part_kind"].choices = kinds  # type: ignore[attr-defined]


class AnswerForm(PortalForm):
    """An answer to a question of the office."""

    submit = "Send this answer"
    answer = forms.CharField(label="Your answer", widget=forms.Textarea(attrs={"rows": 5}), max_length=2000)
    photos = PhotosField()


class AppealForm(PortalForm):
    """What a decision got wrong or missed."""

    submit = "Send this appeal"
    words = forms.CharField(
        label="What do you see otherwise?",
        widget=forms.Textarea(attrs={"rows": 6}),
        max_length=4000,
        help_text="What the decision missed or got wrong, and anything new: what somebody else found, a bill, a date.",
    )
    photos = PhotosField()
