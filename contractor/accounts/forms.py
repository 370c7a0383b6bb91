"""Sign-in, staff and the company."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Layout, Row, Submit
from django import forms
from django.contrib.auth import password_validation
from django.contrib.auth.forms import AuthenticationForm

from contractor.accounts.models import Company, Role, User


class SignInForm(AuthenticationForm):
    """E-mail address and password."""

    error_messages = {
        "invalid_login": "E-mail address and password don't match. Check both; capitals matter in the password.",
        "inactive": "This person can no longer sign in. Ask your manager.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "E-mail address"
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("sign_in", "Sign in"))


class ForgottenForm(forms.Form):
    """Where to send a link to set a new password."""

    email = forms.EmailField(
        label="E-mail address you sign in with",
        widget=forms.EmailInput(attrs={"autocomplete": "username", "inputmode": "email"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("send", "Send me a link"))


class NewPasswordForm(forms.Form):
    """A new password, typed twice because nobody sees it."""

    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        label="New password",
        help_text="Twelve characters or more. Three or four words that have nothing to do with you are easy to keep.",
    )
    again = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}), strip=False, label="The same once more"
    )

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("set", "Set this password"))

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        password_validation.validate_password(password, self.person)
        return password

    def clean_again(self) -> str:
        again: str = self.cleaned_data["again"]
        if "password" in self.cleaned_data and again != self.cleaned_data["password"]:
            raise forms.ValidationError("The two are not the same. Type the new password twice.")
        return again


class ChangeStaffForm(forms.Form):
    """What one of the staff is called and may do."""

    name = forms.CharField(max_length=120)
    phone = forms.CharField(max_length=40, required=False)
    role = forms.ChoiceField(
        choices=Role.choices,
        help_text="Office: houses, rounds, claims. Technician: their own round. Manager: also set-up, waivers, terms.",
    )
    is_active = forms.BooleanField(required=False, initial=True, label="Can sign in")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("save", "Save"))


class AddStaffForm(forms.Form):
    """A new member of staff with a first password."""

    name = forms.CharField(max_length=120)
    email = forms.EmailField(label="E-mail address")
    phone = forms.CharField(max_length=40, required=False)
    role = forms.ChoiceField(choices=Role.choices)
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        label="First password",
        help_text="Twelve characters or more.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.add_input(Submit("add", "Add to the staff"))

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        whose = User(email=self.cleaned_data.get("email", ""), name=self.cleaned_data.get("name", ""))
        password_validation.validate_password(password, whose)
        return password


class CompanyForm(forms.ModelForm):  # type: ignore[type-arg]  # not generic at run time
    """Who the contractor is."""

    class Meta:
        model = Company
        fields = (
            "name",
            "legal_name",
            "licence",
            "street",
            "city",
            "state",
            "postcode",
            "country",
            "phone",
            "email",
            "units",
            "latitude",
            "longitude",
        )
        labels = {
            "name": "Name on pages and letters",
            "legal_name": "Legal name of the warrantor",
            "licence": "Contractor licence, if the state asks for one",
            "units": "Units people type and read",
            "latitude": "Latitude of the yard (optional)",
            "longitude": "Longitude of the yard (optional)",
        }
        help_texts = {
            "latitude": "Degrees, north above zero, such as 40.9159. Rounds begin here.",
            "longitude": "Degrees, east above zero, such as -77.3244.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(
            "name",
            "legal_name",
            "licence",
            "street",
            Row(Column("city"), Column("state"), Column("postcode")),
            "country",
            Row(Column("phone"), Column("email")),
            "units",
            Row(Column("latitude"), Column("longitude")),
        )
        self.helper.add_input(Submit("save", "Save"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        latitude, longitude = cleaned.get("latitude"), cleaned.get("longitude")
        if latitude is not None and not -90 <= latitude <= 90:
            self.add_error("latitude", "Latitude lies between -90 and 90 degrees. Check which number comes first.")
        if longitude is not None and not -180 <= longitude <= 180:
            self.add_error("longitude", "Longitude lies between -180 and 180 degrees.")
        if (latitude is None) != (longitude is None) and not {"latitude", "longitude"} & set(self.errors):
            self.add_error("longitude", "Give both degrees of the yard, or neither.")
        return cleaned
