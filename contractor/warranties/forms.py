"""What the desk types about terms, warranties, claims and transfers. Forms only read; actions decide."""

from collections.abc import Sequence
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Layout, Row
from django import forms
from django.db.models import QuerySet

from contractor.checkups.errors import UnreadableDocument
from contractor.checkups.photos import DOCUMENT_BYTES
from contractor.properties.forms import KnownPersonMixin, PersonForm
from contractor.systems.models import Component
from contractor.systems.part_kinds import choices
from contractor.warranties.models import TermsEdition, TermsShown
from contractor.warranties.photo_fields import PhotosField


def day_input() -> forms.DateInput:
    """The browser's own date field."""
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def text_lines(rows: int = 3) -> forms.Textarea:
    """A field for a few sentences."""
    return forms.Textarea(attrs={"rows": rows})


class DeskForm(forms.Form):
    """A form whose page brings the form element and the buttons. ``rows`` puts fields side by side."""

    rows: tuple[tuple[str, ...], ...] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        if self.rows:
            self.helper.layout = Layout(
                *(names[0] if len(names) == 1 else Row(*(Column(name) for name in names)) for names in self.rows)
            )


class DraftForm(DeskForm):
    """From which terms a new edition starts, and what it is called."""

    source = forms.ChoiceField(label="Start from", widget=forms.RadioSelect)
    edition = forms.SlugField(
        label="Name of the new edition", max_length=40, help_text="Short, without spaces, such as limited-2027-1."
    )

    def __init__(self, *args: Any, sources: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["source"].choices = sources  # type: ignore[attr-defined]


class ShowTermsForm(DeskForm):
    """To whom an edition is shown before the sale, and how."""

    terms = forms.ModelChoiceField(queryset=TermsEdition.objects.none(), empty_label=None, label="Edition")
    name = forms.CharField(label="Shown to", max_length=160)
    way = forms.ChoiceField(label="How", choices=TermsShown.Way.choices, widget=forms.RadioSelect)
    email = forms.EmailField(label="E-mail", required=False, help_text="Needed for a link.")

    rows = (("terms",), ("name", "email"), ("way",))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["terms"].queryset = TermsEdition.objects.published()  # type: ignore[attr-defined]


class IssueForm(DeskForm):
    """Which edition is issued, on which day, and when the contract was signed."""

    terms = forms.ModelChoiceField(queryset=TermsEdition.objects.none(), empty_label=None, label="Terms")
    issued_on = forms.DateField(label="Issue day", widget=day_input(), help_text="Cover starts on this day.")

    signed_on = forms.DateField(
        label="Contract signed on (optional)",
        widget=day_input(),
        required=False,
        help_text="The terms must have been shown by this day. Left empty, by the day of installation.",
    )

    rows = (("terms",), ("issued_on", "signed_on"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["terms"].queryset = TermsEdition.objects.published()  # type: ignore[attr-defined]


class VoidForm(DeskForm):
    """From which day, by which clause and why a warranty is void."""

    voided_on = forms.DateField(label="Void from", widget=day_input())
    clause = forms.CharField(label="Clause of the terms", max_length=120, help_text="As the owner can find it there.")
    because = forms.CharField(label="Why", widget=text_lines(), max_length=1000, help_text="The owner can read it.")


class WaiveForm(DeskForm):
    """Days that count as cared for."""

    from_on = forms.DateField(label="First day", widget=day_input())
    last_on = forms.DateField(label="Last day, included", widget=day_input())
    because = forms.CharField(
        label="Why", widget=text_lines(), max_length=500, help_text="Such as: the road was washed out."
    )

    rows = (("from_on", "last_on"), ("because",))


class ReportClaimForm(DeskForm):
    """What the owner says."""

    part_kind = forms.ChoiceField(label="What failed", choices=[("", "Choose…"), *choices()])
    component = forms.ModelChoiceField(
        queryset=Component.objects.none(),
        required=False,
        empty_label="Not known yet",
        label="Which one (optional)",
        help_text="It must be of the kind chosen beside it.",
    )
    lost_on = forms.DateField(label="Day of the loss", widget=day_input())
    reported_on = forms.DateField(label="Reported to us on", widget=day_input())
    cause = forms.ChoiceField(label="Cause, as far as known")
    what = forms.CharField(label="What happened, in the owner's words", widget=text_lines(4), max_length=2000)
    photos = PhotosField()

    rows = (("part_kind", "component"), ("lost_on", "reported_on"), ("cause",), ("what",), ("photos",))

    def __init__(
        self, *args: Any, components: QuerySet[Component], causes: Sequence[tuple[str, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["component"].queryset = components  # type: ignore[attr-defined]
        self.fields["cause"].choices = causes  # type: ignore[attr-defined]


class DecideClaimForm(DeskForm):
    """The cost, what was seen, and the judgement where the record asks for one."""

    cost = forms.DecimalField(label="Cost of the repair", min_value=0, max_digits=10, decimal_places=2)
    component = forms.ModelChoiceField(
        queryset=Component.objects.none(), required=False, empty_label="Not known", label="Which part failed"
    )
    cause = forms.ChoiceField(label="Cause, as seen")
    caused = forms.ChoiceField(
        label="Did the missing care cause the loss?",
        choices=(("", "Not asked or not answered"), ("no", "No"), ("yes", "Yes, and here is the evidence")),
        required=False,
        help_text="Only when the record has a gap. Without evidence that it did, the loss is covered.",
    )
    evidence = forms.CharField(label="Evidence", widget=text_lines(2), max_length=1000, required=False)
    because = forms.CharField(label="Reason for this judgement", widget=text_lines(2), max_length=1000, required=False)

    rows = (("cost", "component"), ("cause",), ("caused",), ("evidence", "because"))

    def __init__(
        self,
        *args: Any,
        components: QuerySet[Component],
        causes: Sequence[tuple[str, str]],
        has_gap: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["component"].queryset = components  # type: ignore[attr-defined]
        self.fields["cause"].choices = causes  # type: ignore[attr-defined]
        if not has_gap:
            for name in ("caused", "evidence", "because"):
                del self.fields[name]
            self.helper.layout = Layout(Row(Column("cost"), Column("component")), "cause")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("caused") and not (cleaned.get("because") or "").strip():
            self.add_error("because", "Say why; the reason stays with the claim.")
        if cleaned.get("caused") == "yes" and not (cleaned.get("evidence") or "").strip():
            self.add_error("evidence", "Without evidence the loss is covered. Say what shows it, or answer no.")
        return cleaned


class BecauseForm(DeskForm):
    """A reason in a few words."""

    because = forms.CharField(label="Why", widget=text_lines(), max_length=500)


class DeclineInquiryForm(DeskForm):
    """Why a transfer is not begun, as the asker reads it."""

    because = forms.CharField(
        label="Why, as they read it",
        widget=text_lines(),
        max_length=500,
        help_text="Whole sentences. They may be strangers to the owner: name nobody and say nothing of the house.",
    )


class AskTransferForm(KnownPersonMixin, PersonForm):
    """Who buys the house, when, and who closes the sale."""

    closing_on = forms.DateField(
        label="Closing day", widget=day_input(), help_text="The day on which the house changes hands."
    )
    notified_on = forms.DateField(label="We were told on", widget=day_input())
    agent_name = forms.CharField(label="Agent or lawyer (optional)", max_length=160, required=False)
    agent_email = forms.EmailField(
        label="Their e-mail (optional)", required=False, help_text="They see how far it is, and nothing else."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].label = "Buyer"
        self.fields["name"].help_text = "The names as they stand on the deed."
        self.fields["email"].help_text = "With one, the buyer gets a link to read and accept the warranty."
        self.helper = FormHelper()
        self.helper.form_tag = False

    def arrange(self) -> None:
        """Sets the layout; the question about known people stands only where it is asked."""
        asked = ["known_person"] if self.fields["known_person"].required else []
        self.helper.layout = Layout(
            Row(Column("closing_on"), Column("notified_on")),
            *asked,
            "name",
            Row(Column("phone", css_class="col-sm-5"), Column("email", css_class="col-sm-7")),
            "mail_address",
            Row(Column("agent_name", css_class="col-sm-5"), Column("agent_email", css_class="col-sm-7")),
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if bool(cleaned.get("agent_name")) != bool(cleaned.get("agent_email")) and "agent_email" not in self.errors:
            self.add_error("agent_email", "Give the agent's name and e-mail address both, or leave both empty.")
        return cleaned

    @property
    def agent(self) -> dict[str, str] | None:
        """The agent as typed; None when there is none."""
        if not self.cleaned_data["agent_email"]:
            return None
        return {"name": self.cleaned_data["agent_name"], "email": self.cleaned_data["agent_email"]}


class AgentForm(DeskForm):
    """Somebody who closes the sale and may see how far it is."""

    name = forms.CharField(label="Name", max_length=160)
    email = forms.EmailField(label="E-mail")

    rows = (("name", "email"),)


class ClosingForm(DeskForm):
    """The new closing day."""

    closing_on = forms.DateField(label="New closing day", widget=day_input())


class FeeForm(DeskForm):
    """When the transfer fee came in."""

    paid_on = forms.DateField(label="Fee paid on", widget=day_input())


class SignedPaper(forms.Form):
    """A paper that the buyer signed: from the desk or from the buyer's own page."""

    name = forms.CharField(
        label="Name as signed", max_length=160, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    accepted_on = forms.DateField(label="Signed on", widget=day_input())
    document = forms.FileField(
        label="The signed paper",
        help_text="A scan or a photo of the page with the signature: PDF, JPEG, PNG or WebP, up to 10 MB.",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/jpeg,image/png,image/webp"}),
    )

    def clean_document(self) -> bytes:
        """The bytes; refused by size before they are read, so that a huge file costs no memory."""
        document: Any = self.cleaned_data["document"]
        if document.size > DOCUMENT_BYTES:
            raise forms.ValidationError(UnreadableDocument().sentence)
        return bytes(document.read())


class AcceptForm(SignedPaper, DeskForm):
    """The same at the desk."""

    rows = (("name", "accepted_on"), ("document",))


class LetGoForm(DeskForm):
    """A requirement that a manager lets go, and why."""

    code = forms.CharField(widget=forms.HiddenInput, max_length=40)
    because = forms.CharField(label="Why", widget=text_lines(2), max_length=500)
