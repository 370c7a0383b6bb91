"""What the desk and owners type about plans. Forms only read; actions decide."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Layout, Row
from django import forms

from contractor.core.errors import Refusal
from contractor.core.templatetags.country_style import amount_in_words, in_money
from contractor.plans.models import Agreement, Payment, PlanOffer
from contractor.plans.queries import UNPAID, open_offers
from contractor.plans.rules.amounts import Balance
from contractor.plans.rules.terms import State

LISTS = (
    ("", "All"),
    (State.ACTIVE.value, "Active"),
    (State.ENDING.value, "Ending soon"),
    (UNPAID, "Overdue"),
    (State.COMING.value, "Not begun"),
    (State.LAPSED.value, "Lapsed"),
    (State.CANCELLED.value, "Cancelled"),
    (State.RENEWED.value, "Renewed"),
)


def day_input() -> forms.DateInput:
    """The browser's own date field."""
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def dollars(**more: Any) -> forms.DecimalField:
    """An amount in dollars and cents. Whether it fits is the rule's to say."""
    return forms.DecimalField(max_digits=9, decimal_places=2, **more)


class PlanForm(forms.Form):
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


def put_beside(form: PlanForm, refusal: Refusal) -> None:
    """Puts a refusal beside the field that it names, or on top of the form."""
    form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)


class OfferForm(PlanForm):
    """An edition of a plan."""

    rows = (
        ("title", "edition"),
        ("price", "tax_percent", "visits_a_year", "minor_parts_up_to"),
        ("included",),
        ("full_refund_days",),
        ("cancellation",),
        ("disclosures",),
    )
    title = forms.CharField(
        max_length=120, label="Name", help_text="Never “warranty”: a paid plan is a service contract."
    )
    edition = forms.CharField(max_length=40, label="Edition", help_text="Such as yearly-care-2027.")
    price = dollars(label=in_money("Price a year, before tax ({})"))
    tax_percent = forms.DecimalField(
        label="Tax rate (percent)",
        max_digits=5,
        decimal_places=3,
        help_text="What your state taxes of such a service. Ask your accountant.",
    )
    visits_a_year = forms.IntegerField(label="Visits a year", min_value=1, max_value=12)
    minor_parts_up_to = forms.DecimalField(
        label=in_money("Minor parts up to ({})"),
        max_digits=7,
        decimal_places=2,
        min_value=Decimal(0),
        help_text="A year; 0 for none.",
    )
    included = forms.CharField(
        label="What is included", widget=forms.Textarea(attrs={"rows": 4}), max_length=2000, help_text="One line each."
    )
    full_refund_days = forms.IntegerField(
        label="All money back within (days)",
        min_value=0,
        max_value=365,
        help_text="From the day of agreement. At least 7, so that the federal three business days are among them.",
    )
    cancellation = forms.CharField(
        label="How it is cancelled, and what is refunded",
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=2000,
        required=False,
    )
    disclosures = forms.CharField(
        label="What it does not include, and how it renews",
        widget=forms.Textarea(attrs={"rows": 4}),
        max_length=3000,
        required=False,
        help_text="Read before anybody agrees. Have a lawyer read it.",
    )


def _renews_choices() -> list[tuple[str, str]]:
    return [(str(code), str(label)) for code, label in Agreement.Renews.choices]


def offer_in_words(offer: Any) -> str:
    """A plan in a line."""
    visits = "one visit" if offer.visits_a_year == 1 else f"{offer.visits_a_year} visits"
    tax = f" plus {offer.tax_percent.normalize():f}% tax" if offer.tax_percent else ""
    return f"{offer.title}: {visits}, {amount_in_words(offer.price)} a year{tax}"


class OfferField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A choice of plans, each in a line."""

    def label_from_instance(self, obj: Any) -> str:
        return offer_in_words(obj)


class ConsentForm(PlanForm):
    """A plan, how it renews, and the owner's yes to both."""

    offer = OfferField(PlanOffer.objects.none(), label="Plan", widget=forms.RadioSelect, empty_label=None)
    renews = forms.ChoiceField(
        label="After the year", choices=_renews_choices, widget=forms.RadioSelect, initial=Agreement.Renews.ASKS
    )
    consent = forms.BooleanField(required=False, label="I have read the plan and agree to it and to its price.")
    consent_renewal = forms.BooleanField(
        required=False,
        label="Only if it renews by itself: I agree to that too, each year after you have written to me, "
        "until I say stop.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offers = open_offers()
        field = self.fields["offer"]
        assert isinstance(field, OfferField)  # noqa: S101
        field.queryset = offers
        if len(offers) == 1:
            self.initial.setdefault("offer", offers[0].pk)


class AgreeForm(ConsentForm):
    """What the desk writes down while the owner says yes."""

    rows = (("offer",), ("from_on", "through_on"), ("renews",), ("consent",), ("consent_renewal",))
    from_on = forms.DateField(label="First day", widget=day_input())
    through_on = forms.DateField(
        label="Last day, included (optional)",
        widget=day_input(),
        required=False,
        help_text="Empty for a whole year. A shorter time costs its share.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["consent"].label = "The owner has been told what it includes and how to cancel, and said yes."
        self.fields["consent_renewal"].label = "Only if it renews by itself: the owner said yes to that too."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        last = cleaned.get("through_on")
        cleaned["until_on"] = last + timedelta(days=1) if last else None
        return cleaned


class CancelForm(PlanForm):
    """Now, with the refund; or at the end of the year, without a renewal."""

    when = forms.ChoiceField(
        label="When",
        choices=(("now", "Today"), ("end", "On its last day: it does not renew")),
        widget=forms.RadioSelect,
        initial="now",
    )
    because = forms.CharField(
        label="Why (optional)", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, can_stop: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not can_stop:
            self.fields["when"].widget = forms.HiddenInput()
            self.fields["when"].initial = "now"


class YesForm(PlanForm):
    """A yes to something that the page says above it."""

    consent = forms.BooleanField(required=False, label="I have read this and agree to it and to its price.")
    consent_renewal = forms.BooleanField(
        required=False, label="It may go on renewing by itself, each year after you have written to me."
    )

    def __init__(self, *args: Any, asks_renewal: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not asks_renewal:
            del self.fields["consent_renewal"]


class PaymentForm(PlanForm):
    """Money that came or was given back."""

    rows = (("amount", "way"), ("on", "reference"))
    amount = dollars(label=in_money("Amount ({})"), widget=forms.NumberInput(attrs={"inputmode": "decimal"}))
    way = forms.ChoiceField(label="How", choices=Payment.Way.choices)
    on = forms.DateField(label="On", widget=day_input())
    reference = forms.CharField(
        label="Reference (optional)",
        max_length=80,
        required=False,
        help_text="Such as a check number. Never a card number.",
    )

    @staticmethod
    def what_stands(balance: Balance) -> Decimal:
        """The amount to begin with: what is owed, else what is to be given back."""
        return balance.owed or balance.to_refund


class BecauseForm(PlanForm):
    """A reason in a few words."""

    because = forms.CharField(label="Why", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))


class NoticeDaysForm(PlanForm):
    """When the renewal notice goes out."""

    rows = (("first_days", "last_days"), ("source",))
    first_days = forms.IntegerField(label="At most this many days before")
    last_days = forms.IntegerField(label="At least this many days before")
    source = forms.CharField(
        label="Where that stands", max_length=200, help_text="The section of the law, and who read it for you."
    )


class ListForm(forms.Form):
    """Which agreements, and which page of them."""

    show = forms.ChoiceField(required=False, choices=LISTS)
    after = forms.IntegerField(required=False, min_value=1)
    before = forms.IntegerField(required=False, min_value=1)

    def asked(self) -> dict[str, Any]:
        """What was asked for; a value that cannot be read counts as not given."""
        self.is_valid()
        return {name: self.cleaned_data.get(name) or None for name in self.fields}


class PeriodForm(forms.Form):
    """The days of the revenue table, both included."""

    from_on = forms.DateField(label="First day", widget=day_input())
    until_on = forms.DateField(label="Last day, included", widget=day_input())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.widget.attrs["class"] = "form-control"
