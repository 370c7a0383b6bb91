"""What people type about the costs of a claim and about goodwill. Forms only read; actions decide."""

from datetime import date
from typing import Any
from urllib.parse import urlencode

from django import forms

from contractor.core.templatetags.country_style import in_money
from contractor.warranties.claim_costs import ClaimCosts
from contractor.warranties.claim_money import ClaimCost
from contractor.warranties.errors import PeriodBackwards
from contractor.warranties.forms import DeskForm, day_input, text_lines

WARRANTY, GOODWILL = "warranty", "goodwill"
KINDS = [(kind.value, kind.label) for kind in ClaimCost.Kind if kind is not ClaimCost.Kind.CARRIED]


def _amount(label: str, help_text: str = "") -> forms.DecimalField:
    # Decimals beyond cents come through, so that the rule can say its sentence.
    widget = forms.NumberInput(attrs={"step": "0.01", "inputmode": "decimal"})
    return forms.DecimalField(label=label, max_digits=12, help_text=help_text, widget=widget, max_value=10**8 - 1)


class BookCostForm(DeskForm):
    """One cost: what it was, how much, on which day, and under what where there is a choice."""

    kind = forms.ChoiceField(label="What it was", choices=KINDS, widget=forms.RadioSelect)
    amount = _amount(in_money("Amount, {}"), "In kind: hours at what they cost us, parts at what we paid.")
    on = forms.DateField(label="Day", widget=day_input(), help_text="When it was spent or done.")
    under = forms.ChoiceField(label="Booked under", widget=forms.RadioSelect)
    note = forms.CharField(
        label="Note", max_length=300, help_text="Hours, parts, or the number of the invoice. Stays on record."
    )
    is_last = forms.BooleanField(label="This was the last of it: no more is to come", required=False)

    def __init__(self, *args: Any, costs: ClaimCosts, **kwargs: Any) -> None:
        self.unders = [
            (code, word)
            for code, word, sum_of in (
                (WARRANTY, "The warranty, as decided", costs.money.decided),
                (GOODWILL, "Goodwill, beyond the terms", costs.money.goodwill),
            )
            if sum_of
        ]
        has_choice = len(self.unders) > 1
        self.rows = (("kind",), ("amount", "on"), *((("under",),) if has_choice else ()), ("note",), ("is_last",))
        super().__init__(*args, **kwargs)
        if has_choice:
            self.fields["under"].choices = self.unders  # type: ignore[attr-defined]
        else:
            del self.fields["under"]

    @property
    def typed(self) -> dict[str, Any]:
        """What ``book_cost`` takes."""
        cleaned = dict(self.cleaned_data)
        only = self.unders[0][0] if self.unders else WARRANTY
        return {"is_goodwill": cleaned.pop("under", only) == GOODWILL, **cleaned}


class UndoCostForm(DeskForm):
    """The day of a counter-entry, and why."""

    on = forms.DateField(label="Day of the counter-entry", widget=day_input())
    because = forms.CharField(label="What was wrong", widget=text_lines(2), max_length=300)

    rows = (("on",), ("because",))


class GoodwillForm(DeskForm):
    """How much a manager gives beyond the terms, and why."""

    amount = _amount(in_money("Amount, {}"))
    because = forms.CharField(
        label="Reason", widget=text_lines(2), max_length=300, help_text="The owner reads it in the letter."
    )

    rows = (("amount",), ("because",))


class TakeBackForm(DeskForm):
    """Why goodwill is taken back."""

    because = forms.CharField(
        label="What was wrong", widget=text_lines(2), max_length=300, help_text="The owner reads it: they were told."
    )


class CostPeriodForm(forms.Form):
    """The days whose entries are listed."""

    from_on = forms.DateField(label="First day", widget=day_input())
    until_on = forms.DateField(label="Last day, included", widget=day_input())

    def __init__(self, query: dict[str, Any], *, today: date) -> None:
        usual = {"from_on": date(today.year, 1, 1).isoformat(), "until_on": today.isoformat()}
        super().__init__({**usual, **query})
        for field in self.fields.values():
            field.widget.attrs["class"] = "form-control"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        first, last = cleaned.get("from_on"), cleaned.get("until_on")
        if first and last and last < first:
            self.add_error("until_on", PeriodBackwards().sentence)
        return cleaned

    @property
    def period(self) -> dict[str, date]:
        """First and last day."""
        return {"from_on": self.cleaned_data["from_on"], "until_on": self.cleaned_data["until_on"]}

    @property
    def query(self) -> str:
        """The period as the query of an address."""
        return urlencode({name: day.isoformat() for name, day in self.period.items()})
