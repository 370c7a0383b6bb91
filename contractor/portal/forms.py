"""What owners and the public type in."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms
from django.core.files.uploadedfile import UploadedFile

from contractor.warranties.check_upload import LARGEST_BYTES
from contractor.warranties.forms import day_input
from contractor.warranties.inquiry_tables import TransferInquiry
from contractor.warranties.numbers import read_number

# A telephone number of North America with its area code has ten.
LEAST_DIGITS = 10

TOO_LARGE = (
    f"This file is larger than {LARGEST_BYTES // 1024**2} MB, and no certificate of ours is. Choose the certificate’s "
    "own PDF, or type its number and check code instead."
)


class PortalForm(forms.Form):
    """A form with one button; its page brings the form element."""

    submit = "Send"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("send", self.submit))


class AskLinkForm(PortalForm):
    """Where to send a new link."""

    submit = "Send me a link"
    email = forms.EmailField(
        label="Your e-mail address", widget=forms.EmailInput(attrs={"autocomplete": "email", "inputmode": "email"})
    )


class CheckForm(PortalForm):
    """A certificate's number and the second code printed on it."""

    submit = "Check this certificate"
    number = forms.CharField(
        max_length=30, label="Certificate number", help_text="As printed; spaces, hyphens and capitals don't matter."
    )
    code = forms.CharField(max_length=20, label="Check code", help_text="Six characters, printed beside the number.")


    def clean_number(self) -> str:
        """A slip of the keys is told from the number alone, by its check character; the register isn't asked."""
        typed = read_number(self.cleaned_data["number"])
        if typed.number is None:
            raise forms.ValidationError(typed.slip)
        return typed.number


class SaleForm(CheckForm):
    """Who asks for the transfer of a warranty, and what they know of the sale.

    ``is_proven``: number and code were right on the page before, which ``held`` says under our signature.
    """

    submit = "Send this to the office"
    held = forms.CharField(max_length=400, required=False, widget=forms.HiddenInput)
    role = forms.ChoiceField(label="You are the", choices=TransferInquiry.Role.choices, widget=forms.RadioSelect)
    name = forms.CharField(
        label="Your name", max_length=160, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    email = forms.EmailField(
        label="E-mail address",
        required=False,
        help_text="We write there that it came, and how it goes on.",
        widget=forms.EmailInput(attrs={"autocomplete": "email", "inputmode": "email"}),
    )
    phone = forms.CharField(
        label="Telephone",
        max_length=40,
        required=False,
        help_text="With area code. One of the two is enough.",
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "tel"}),
    )
    closing_on = forms.DateField(
        label="Closing day, if you know it",
        required=False,
        widget=day_input(),
        help_text="The day on which the house changes hands.",
    )
    message = forms.CharField(
        label="What else should we know? (optional)",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="An agent may put here who buys, with the names as they will stand on the deed.",
    )

    def __init__(self, *args: Any, is_proven: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if is_proven:
            del self.fields["number"], self.fields["code"]
        self.order_fields(["held", "number", "code", "role"])

    def clean_phone(self) -> str:
        phone: str = self.cleaned_data["phone"].strip()
        if phone and sum(sign.isdigit() for sign in phone) < LEAST_DIGITS:
            raise forms.ValidationError("This number is too short. Type it with its area code.")
        return phone

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("email") and not cleaned.get("phone") and not {"email", "phone"} & self.errors.keys():
            self.add_error("email", "Give an e-mail address or a telephone number, so that we can answer.")
        return cleaned

    @property
    def key(self) -> dict[str, str]:
        """Number and code as typed."""
        return {name: self.cleaned_data[name] for name in ("number", "code")}

    @property
    def words(self) -> dict[str, Any]:
        """What is asked, as the office takes it in."""
        names = ("role", "name", "email", "phone", "closing_on", "message")
        return {name: self.cleaned_data[name] for name in names}


class CheckFileForm(PortalForm):
    """The file of a certificate."""

    submit = "Check this file"
    file = forms.FileField(
        label="The certificate’s PDF",
        max_length=200,
        help_text="The file as you received it, neither printed anew nor scanned. It is compared and not kept.",
        error_messages={
            "required": "Choose the certificate’s PDF first.",
            "empty": "This file is empty. Ask for it to be sent again, and choose the new one.",
            "max_length": "The name of this file is too long. Give it a shorter one and choose it again.",
        },
        widget=forms.FileInput(
            attrs={
                "accept": "application/pdf,.pdf",
                "data-largest-bytes": LARGEST_BYTES,
                "data-too-large": TOO_LARGE,
            }
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Two forms stand on the page, and no two buttons may bear one id.
        self.helper.inputs = [Submit("send", self.submit, css_id="send-file")]

    def clean_file(self) -> "UploadedFile[bytes]":
        """No certificate is larger than the limit, so a larger file isn't looked at."""
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        if (file.size or 0) > LARGEST_BYTES:
            raise forms.ValidationError(TOO_LARGE)
        return file


class OutsideRecordForm(PortalForm):
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
