"""Planning a stretch, putting a visit elsewhere, and saying what came up."""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Layout, Row, Submit
from django import forms

from contractor.accounts.models import User

# How long to search two weeks: seconds by the clock, or steps, which give the same rounds every time.
EFFORTS: dict[str, dict[str, int]] = {
    "quick": {"seconds": 10},
    "usual": {"seconds": 30},
    "thorough": {"seconds": 120},
    "steps": {"iterations": 1_200},
    "by_hand": {},
}
# A background worker gives up on anything longer.
LONGEST_SECONDS = 180
WEEKS = [(1, "One week"), (2, "Two weeks"), (3, "Three weeks"), (4, "Four weeks"), (5, "Five weeks")]
OFF = "off"


def budget_of(effort: str, weeks: int) -> dict[str, Any]:
    """The seconds or steps to search so many weeks: twice as many for three or four of them, three times for five."""
    times = -(-weeks // 2)
    budget = {name: amount * times for name, amount in EFFORTS[effort].items()}
    return {name: min(amount, LONGEST_SECONDS) if name == "seconds" else amount for name, amount in budget.items()}


class StretchForm(forms.Form):
    """Which days to plan, and how long to search."""

    first_on = forms.DateField(
        label="First day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    weeks = forms.TypedChoiceField(label="How long", choices=WEEKS, coerce=int)
    effort = forms.ChoiceField(
        label="How to plan it",
        choices=[
            ("quick", "Search 10 seconds"),
            ("usual", "Search half a minute"),
            ("thorough", "Search two minutes"),
            ("steps", "Search by steps"),
            ("by_hand", "By hand"),
        ],
        initial="usual",
        help_text="More than two weeks are searched longer, up to three minutes. By steps the same book gives the same "
        "rounds. By hand begins with what stands.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(Row(Column("first_on"), Column("weeks"), Column("effort")))
        self.helper.add_input(Submit("plan", "Plan this stretch"))


class MoveForm(forms.Form):
    """Where a visit is to stand: somebody's day, and its place in the round."""

    where = forms.ChoiceField(label="Technician and day")
    place = forms.TypedChoiceField(
        label="Place in the round",
        coerce=int,
        empty_value=None,
        required=False,
        choices=[("", "Where it costs least driving"), *[(number, f"Stop {number + 1}") for number in range(15)]],
    )

    def __init__(self, *args: Any, places: Iterable[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["where"].choices = [*_by_week(places), (OFF, "Take it off the rounds")]  # type: ignore[attr-defined]
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(Row(Column("where"), Column("place")))
        self.helper.add_input(Submit("move", "Move it"))


def _by_week(places: Iterable[tuple[str, str]]) -> list[tuple[str, Any]]:
    """Places as ``technician/day``, with a heading for each week where there are several."""
    weeks: dict[date, list[tuple[str, str]]] = {}
    for where, words in places:
        day = date.fromisoformat(where.partition("/")[2])
        weeks.setdefault(day - timedelta(days=day.weekday()), []).append((where, words))
    if len(weeks) == 1:
        return [place for listed in weeks.values() for place in listed]
    return [(f"Week of {monday:%B} {monday.day}", listed) for monday, listed in weeks.items()]


class UpsetForm(forms.Form):
    """What came up, for whom, when and where."""

    kind = forms.ChoiceField(
        label="What came up",
        choices=[
            ("away", "A technician can't go out (ill, called away)"),
            ("van", "A van is broken: its technician can't go out"),
            ("snow", "Snow, a flood, a closed road: a town or all of them can't be reached"),
        ],
        widget=forms.RadioSelect,
        initial="away",
    )
    technician = forms.ModelChoiceField(
        label="Technician", queryset=User.objects.none(), required=False, empty_label="Choose…"
    )
    city = forms.ChoiceField(label="Town (for snow and roads)", required=False)
    first_on = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    from_time = forms.TimeField(
        label="From (optional)", required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    last_on = forms.DateField(
        label="Until (optional)",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    because = forms.CharField(
        label="Note (optional)", required=False, max_length=80, help_text="For the office only; owners don't read it."
    )

    def __init__(self, *args: Any, towns: Iterable[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["technician"].queryset = User.objects.technicians()  # type: ignore[attr-defined]
        self.fields["city"].choices = [("", "All towns"), *[(town, town) for town in towns]]  # type: ignore[attr-defined]
        self.helper = FormHelper()
        self.helper.form_tag = False
        self.helper.layout = Layout(
            "kind",
            Row(Column("technician"), Column("city")),
            Row(Column("first_on"), Column("from_time"), Column("last_on")),
            "because",
        )
        self.helper.add_input(Submit("draft", "Note it and find new places"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("kind") in {"away", "van"} and not cleaned.get("technician") and "technician" not in self.errors:
            self.add_error("technician", "Choose who can't go out.")
        return cleaned

    @property
    def last_day(self) -> date:
        """The last day that is upset."""
        last: date = self.cleaned_data["last_on"] or self.cleaned_data["first_on"]
        return last
