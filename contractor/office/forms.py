"""What narrows the lists of the desk, and the file of an import."""

from typing import Any, Final

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms
from django.core.files.uploadedfile import UploadedFile

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
IMPORT_LISTS = (
    ("", "All rows"),
    ("good", "Good"),
    ("cautions", "With cautions"),
    ("bad", "Bad"),
    ("skipped", "Skipped"),
    ("present", "In the register"),
)
MOST_BYTES: Final = 5 * 1024 * 1024
MOST_LINES: Final = 10_000


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


class RegisterForm(forms.Form):
    """An old register to import. What stands in the file is judged by its reader."""

    register = forms.FileField(
        label="The register as a CSV file",
        help_text=f"Up to 5 MB and {MOST_LINES:,} rows. From a spreadsheet program: save as “CSV UTF-8”.",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,text/csv"}),
        error_messages={
            "required": "Choose the file that holds the register.",
            "missing": "Choose the file that holds the register.",
            "empty": "This file is empty. Choose the file that holds the register.",
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("send", "Try it out"))

    def clean_register(self) -> "UploadedFile[bytes]":
        """The file, when it is small enough to be read while somebody waits."""
        file: UploadedFile[bytes] = self.cleaned_data["register"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError(
                "This file is larger than 5 MB. Save the rows without pictures and formatting as “CSV UTF-8”, or "
                "split the file and import one half after the other."
            )
        if sum(chunk.count(b"\n") for chunk in file.chunks()) > MOST_LINES:
            raise forms.ValidationError(
                f"This file has more than {MOST_LINES:,} rows. Split it, keep the column names on top of each part, "
                "and import one part after the other."
            )
        file.seek(0)
        return file


class ImportRowsForm(forms.Form):
    """Which rows of an import's report, and which page of them."""

    show = forms.ChoiceField(required=False, choices=IMPORT_LISTS)
    page = forms.IntegerField(required=False, min_value=1)

    def asked(self) -> dict[str, Any]:
        """What was asked for; a value that cannot be read counts as not given."""
        self.is_valid()
        return {"show": self.cleaned_data.get("show") or "", "page": self.cleaned_data.get("page") or 1}
