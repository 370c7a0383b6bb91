"""What the office types about tablets."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms


class BecauseForm(forms.Form):
    """A reason in a few words."""

    because = forms.CharField(label="Why", widget=forms.Textarea(attrs={"rows": 2}), max_length=200)

    def __init__(self, *args: Any, submit: str, help_text: str = "", name: str = "save", **kwargs: Any) -> None:
        # Two of them may stand on one page.
        super().__init__(*args, **{**kwargs, "auto_id": f"id_{name}_%s"})
        self.fields["because"].help_text = help_text
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit(name, submit))


class ImportForm(forms.Form):
    """A file that a tablet saved."""

    MOST_BYTES = 1024 * 1024 * 1024

    file = forms.FileField(
        label="File from the tablet",
        help_text="The tablet saves it under “This tablet”, “Save to a file”. It ends in .ndjson.",
        widget=forms.ClearableFileInput(attrs={"accept": ".ndjson,application/x-ndjson"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("take", "Hand it in"))

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if (file.size or 0) > self.MOST_BYTES:
            raise forms.ValidationError("This file is larger than 1 GB, which no tablet saves. Choose another.")
        return file
