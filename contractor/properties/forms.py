"""Houses, owners, and how they are reached."""

import re
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Fieldset, Layout, Row
from django import forms

from contractor.properties.models import Person

POSITION = re.compile(r"\s*(-?\d{1,2}(?:\.\d+)?)\s*[,;\s]\s*(-?\d{1,3}(?:\.\d+)?)\s*")
POSITION_HELP = "Latitude and longitude in degrees, as a map gives them, such as 40.9512, -77.2204."
ANOTHER_PERSON = "another"


def typed_position(typed: str) -> tuple[float, float] | None:
    """Latitude and longitude as somebody typed them, None for nothing; refuses anything else with a sentence."""
    if not typed:
        return None
    match = POSITION.fullmatch(typed)
    if match is None:
        raise forms.ValidationError("Type two numbers with a comma between, such as 40.9512, -77.2204.")
    latitude, longitude = float(match[1]), float(match[2])
    if abs(latitude) > 90 or abs(longitude) > 180:
        raise forms.ValidationError(
            "Latitude lies between -90 and 90 and longitude between -180 and 180. Check which comes first."
        )
    return latitude, longitude


def day_input() -> forms.DateInput:
    """The browser's own date field."""
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class HouseForm(forms.Form):
    """Where the house stands and how one gets in."""

    street = forms.CharField(
        label="Street and number", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    unit = forms.CharField(label="Unit (optional)", max_length=40, required=False)
    city = forms.CharField(label="Town", max_length=80)
    state = forms.CharField(max_length=40)
    postcode = forms.CharField(label="ZIP or postal code", max_length=12)
    access_notes = forms.CharField(
        label="Access (optional)",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What a technician must know at the door: the way in, the dog, where to park.",
    )
    position = forms.CharField(
        label="Position (optional)",
        max_length=60,
        required=False,
        help_text=f"{POSITION_HELP} Rounds are put in order by it.",
    )

    HOUSE_FIELDS = ("street", "unit", "city", "state", "postcode", "access_notes")

    def clean_position(self) -> tuple[float, float] | None:
        return typed_position(self.cleaned_data["position"])

    def house(self) -> dict[str, Any]:
        """The house as the register takes it."""
        position = self.cleaned_data["position"]
        return {
            **{name: self.cleaned_data[name] for name in self.HOUSE_FIELDS},
            "latitude": position[0] if position else None,
            "longitude": position[1] if position else None,
        }


class PositionForm(forms.Form):
    """Where a house stands, typed or put in from the map."""

    position = forms.CharField(label="Position", max_length=60, help_text=POSITION_HELP)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["position"].widget.attrs["data-map-field"] = ""
        self.helper = FormHelper()
        self.helper.form_tag = False

    def clean_position(self) -> tuple[float, float] | None:
        return typed_position(self.cleaned_data["position"])


class PersonForm(forms.Form):
    """How an owner is called and reached."""

    name = forms.CharField(
        label="Name", max_length=160, help_text="As it should stand on the warranty: a person, a couple or a firm."
    )
    phone = forms.CharField(
        label="Telephone (optional)", max_length=40, required=False, widget=forms.TextInput(attrs={"type": "tel"})
    )
    email = forms.EmailField(
        label="E-mail (optional)", required=False, help_text="Without one, every message becomes a letter to print."
    )
    mail_address = forms.CharField(
        label="Letters go elsewhere (optional)",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Only when letters should not go to the house.",
    )

    PERSON_FIELDS: tuple[str, ...] = ("name", "phone", "email", "mail_address")

    def person(self) -> dict[str, str]:
        """The person as the register takes it."""
        return {name: self.cleaned_data[name] for name in self.PERSON_FIELDS}


class KnownPersonMixin(forms.Form):
    """Asks, once there is somebody alike, whether it is the same person."""

    known_person = forms.ChoiceField(required=False, widget=forms.RadioSelect, label="Is it one of these?")

    def offer(self, people: list[Person]) -> None:
        """Offers people who may be the same; the form is shown again until one answer is chosen."""
        choices = [(str(person.pk), f"Yes: {person.name}{_houses_of(person)}") for person in people]
        self.fields["known_person"].choices = [*choices, (ANOTHER_PERSON, "No, this is somebody else")]  # type: ignore[attr-defined]
        self.fields["known_person"].required = True

    @property
    def known_person_id(self) -> int | None:
        """The person chosen; None for somebody new."""
        chosen = self.cleaned_data.get("known_person") or ANOTHER_PERSON
        return None if chosen == ANOTHER_PERSON else int(chosen)


class RegisterHouseForm(KnownPersonMixin, PersonForm, HouseForm):
    """A new house and its present owner."""

    owner_since = forms.DateField(
        label="Owner since",
        widget=day_input(),
        help_text="When the day of the purchase isn't known, the day on which your work began.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False

    def arrange(self) -> None:
        """Sets the layout; the question about known people stands only where it is asked."""
        asked = ["known_person"] if self.fields["known_person"].required else []
        self.helper.layout = Layout(
            Fieldset(
                "House",
                Row(Column("street", css_class="col-sm-8"), Column("unit", css_class="col-sm-4")),
                Row(
                    Column("city", css_class="col-sm-5"),
                    Column("state", css_class="col-sm-3"),
                    Column("postcode", css_class="col-sm-4"),
                ),
                "access_notes",
                "position",
                css_class="group",
            ),
            Fieldset(
                "Owner",
                *asked,
                "name",
                Row(Column("phone", css_class="col-sm-5"), Column("email", css_class="col-sm-7")),
                "owner_since",
                "mail_address",
                css_class="group",
            ),
        )


class ChangeHouseForm(HouseForm):
    """Address, position and access notes corrected."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(
            Row(Column("street", css_class="col-sm-8"), Column("unit", css_class="col-sm-4")),
            Row(
                Column("city", css_class="col-sm-5"),
                Column("state", css_class="col-sm-3"),
                Column("postcode", css_class="col-sm-4"),
            ),
            "access_notes",
            "position",
        )


class OwnerForm(KnownPersonMixin, PersonForm):
    """The first owner, or the next one."""

    on = forms.DateField(label="Owner since", widget=day_input())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False

    def arrange(self) -> None:
        """Sets the layout; the question about known people stands only where it is asked."""
        asked = ["known_person"] if self.fields["known_person"].required else []
        self.helper.layout = Layout(
            *asked,
            "name",
            Row(Column("phone", css_class="col-sm-5"), Column("email", css_class="col-sm-7")),
            "on",
            "mail_address",
        )


class ChangePersonForm(PersonForm):
    """Name, telephone and addresses corrected."""

    wants_email = forms.BooleanField(
        required=False, label="Messages may go by e-mail", help_text="Otherwise every message is a letter to print."
    )

    PERSON_FIELDS = (*PersonForm.PERSON_FIELDS, "wants_email")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(
            "name",
            Row(Column("phone", css_class="col-sm-5"), Column("email", css_class="col-sm-7")),
            "wants_email",
            "mail_address",
        )


def _houses_of(person: Person) -> str:
    lines = [ownership.property.street_line for ownership in getattr(person, "known_ownerships", [])]
    return f", {', '.join(lines)}" if lines else ""
