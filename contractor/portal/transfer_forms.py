"""What seller and buyer type in a sale."""

from typing import Any

from django import forms

from contractor.portal.forms import PortalForm
from contractor.warranties.acceptance_paper import INTENT
from contractor.warranties.forms import SignedPaper, day_input


class StartSaleForm(PortalForm):
    """Who buys the house, when it changes hands, and who closes the sale."""

    submit = "Start the transfer"
    name = forms.CharField(max_length=160, label="Buyer", help_text="The names as they will stand on the deed.")
    email = forms.EmailField(
        label="Buyer's e-mail address", help_text="We write there with a link to read and accept the warranty."
    )
    closing_on = forms.DateField(
        label="Closing day",
        widget=day_input(),
        help_text="The day on which the house changes hands. You can move it later.",
    )
    agent_name = forms.CharField(
        max_length=160,
        required=False,
        label="Agent or lawyer (optional)",
        help_text="They see how far it is and what is missing, and nothing else.",
    )
    agent_email = forms.EmailField(required=False, label="Their e-mail address (optional)")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        has_name, has_email = bool(cleaned.get("agent_name")), bool(cleaned.get("agent_email"))
        if has_name and not has_email and "agent_email" not in self.errors:
            self.add_error("agent_email", "Give the agent's e-mail address as well, or leave both empty.")
        if has_email and not has_name:
            self.add_error("agent_name", "Give the agent's name as well, or leave both empty.")
        return cleaned

    @property
    def agent(self) -> dict[str, str] | None:
        """The agent as typed; None when there is none."""
        if not self.cleaned_data["agent_email"]:
            return None
        return {"name": self.cleaned_data["agent_name"], "email": self.cleaned_data["agent_email"]}


class ClosingForm(PortalForm):
    """The new closing day."""

    submit = "Move the closing day"
    closing_on = forms.DateField(label="New closing day", widget=day_input())


class WithdrawForm(PortalForm):
    """Why the seller calls it off."""

    submit = "Call the transfer off"
    because = forms.CharField(
        label="Why", max_length=500, widget=forms.Textarea(attrs={"rows": 3}), help_text="A few words for our record."
    )


class AcceptForm(PortalForm):
    """The buyer's consent, intent and name."""

    submit = "Accept the warranty"
    consent = forms.BooleanField(label="I agree to do this electronically, as told above.")
    intent = forms.BooleanField(label=INTENT)
    name = forms.CharField(
        max_length=160,
        label="Your name, typed as your signature",
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )


class SignedPaperForm(SignedPaper, PortalForm):
    """The paper that the buyer has signed."""

    submit = "Send the signed paper"
