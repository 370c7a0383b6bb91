"""What narrows the lists of the desk."""

from typing import Any

from django import forms

from contractor.visits.models import VisitKind

STANDINGS = (
    ("", "Any standing"),
    ("cover:in_force", "In force"),
    ("care:due", "Check-up due"),
    ("care:in_grace", "In grace"),
    ("care:gap", "Check-up missed"),
    ("cover:suspended", "Suspended"),
    ("cover:ended", "Ended"),
    ("none", "No warranty"),
)
DUE_LISTS = (("now", "Can be done now"), ("grace", "In grace"), ("later", "Later"), ("all", "All"))


class PageForm(forms.Form):
    """Which page of a list: the row before or after which it lies."""

    after = forms.IntegerField(required=False, min_value=1)
    before = forms.IntegerField(required=False, min_value=1)

    def asked(self) -> dict[str, Any]:
        """What was asked for; a value that cannot be read counts as not given."""
        self.is_valid()
        return {name: self.cleaned_data.get(name) or self.fields[name].initial or None for name in self.fields}


class HousesForm(PageForm):
    """Narrows the register by town and standing."""

    town = forms.CharField(required=False, max_length=80)
    standing = forms.ChoiceField(required=False, choices=STANDINGS)


class DueForm(PageForm):
    """Narrows the due list by time, town, kind, and whether somebody was given the visit."""

    show = forms.ChoiceField(required=False, choices=DUE_LISTS, initial="now")
    town = forms.CharField(required=False, max_length=80)
    kind = forms.ChoiceField(required=False, choices=VisitKind.choices)
    waiting = forms.BooleanField(required=False)
