"""What owners and the public type in."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms


class _Form(forms.Form):
    submit = "Send"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("send", self.submit))


class AskLinkForm(_Form):
    """Where to send a new link."""

    submit = "Send me a link"
    email = forms.EmailField(
        label="Your e-mail address", widget=forms.EmailInput(attrs={"autocomplete": "email", "inputmode": "email"})
    )


class CheckForm(_Form):
    """A certificate's number and the second code printed on it."""

    submit = "Check this certificate"
    number = forms.CharField(
        max_length=30, label="Certificate number", help_text="As printed; spaces, hyphens and capitals don't matter."
    )
    code = forms.CharField(max_length=20, label="Check code", help_text="Six characters, printed beside the number.")


class OutsideRecordForm(_Form):
    """A check-up that another qualified provider did."""

    submit = "Send this record"
    provider = forms.CharField(max_length=160, label="Who did the check-up")
    done_on = forms.DateField(label="On which day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    what = forms.CharField(
        label="What was checked or replaced", widget=forms.Textarea(attrs={"rows": 4}), max_length=2000
    )
    document = forms.FileField(
        label="Invoice or report", help_text="A PDF or a photo, up to 10 MB. A phone photo of the paper is fine."
    )
