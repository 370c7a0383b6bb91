"""A region's climate, typed in the company's units or in any that is written behind a number."""

from calendar import month_name
from dataclasses import dataclass
from typing import Any, Final

from django import forms

from contractor.core.errors import Refusal
from contractor.core.units import UNITS, UnreadableMeasurement, from_si, parse
from contractor.estimates.models import ClimateNormals
from contractor.estimates.rules.normals import MONTHS, Normals, prefixes_in


@dataclass(frozen=True, slots=True)
class TypedIn:
    """How a kind of figure is typed: units for US and metric companies, decimals shown, and base units in one kept."""

    us: str
    metric: str
    decimals: int
    base_units_each: float = 1.0

    def unit(self, *, is_us: bool) -> str:
        """The unit code for such a company."""
        return self.us if is_us else self.metric


RAIN: Final = TypedIn("in", "mm", 2, 0.001)  # kept in millimetres
TEMPERATURE: Final = TypedIn("degF", "degC", 1)
DEPTH: Final = TypedIn("in", "cm", 1)
OUTAGE: Final = TypedIn("h", "h", 2, 3600.0)  # kept in hours
FIGURES: Final[dict[str, TypedIn]] = {
    **{f"rain_{month}": RAIN for month in range(1, MONTHS + 1)},
    **{f"temperature_{month}": TEMPERATURE for month in range(1, MONTHS + 1)},
    "frost_depth_m": DEPTH,
    "snow_depth_m": DEPTH,
    "ordinary_outage_h": OUTAGE,
    "storm_outage_h": OUTAGE,
}
LABELS: Final = {
    "frost_depth_m": "Depth of frost in a hard winter",
    "snow_depth_m": "Usual deepest snow",
    "ordinary_outage_h": "An ordinary power cut lasts",
    "storm_outage_h": "A power cut in a storm lasts",
}
HINTS: Final = {
    "frost_depth_m": "In open ground, as the building authority states it. Lines that lie less deep can freeze.",
    "snow_depth_m": "An outlet below it can be buried.",
    "ordinary_outage_h": "The mean, as the electric company reports it without its worst days.",
    "storm_outage_h": "The mean of its worst days: the reserve of a battery is judged by it.",
}


class ClimateForm(forms.Form):
    """Name, where it holds, twelve months, depths, power cuts and source."""

    name = forms.CharField(label="Region", max_length=80, help_text="Such as the county.")
    postcode_prefixes = forms.CharField(
        label="Beginnings of its postcodes (optional)",
        required=False,
        max_length=2000,
        help_text="With commas between, such as 170, 171. The longest that fits a house decides. Left empty, the "
        "region is for every house that no other fits.",
    )
    latitude_deg = forms.FloatField(
        label="Latitude in degrees",
        help_text="Of its middle, such as 40.9. It gives the length of the days.",
        widget=forms.NumberInput(attrs={"step": "any"}),
    )
    source = forms.CharField(
        label="Whose figures these are",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The body and the years, such as the weather service's normals of 1991 to 2020.",
    )

    def __init__(self, *args: Any, is_us: bool, region: ClimateNormals | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_us = is_us
        self.kept = _figures_of(region) if region else {}
        for name in FIGURES:
            self.fields[name] = self._input(name)
        for name in ("name", "latitude_deg", "source"):
            self.fields[name].initial = getattr(region, name, None)
        self.fields["postcode_prefixes"].initial = ", ".join(region.postcode_prefixes) if region else ""
        for name in FIGURES:
            self.fields[name].widget.attrs["class"] = "form-control is-short"

    @property
    def months(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        """A row for each month: its name, the field for rain and the one for temperature."""
        return [(month_name[month], self[f"rain_{month}"], self[f"temperature_{month}"]) for month in _months()]

    @property
    def units(self) -> dict[str, str]:
        """The symbols that stand over the columns."""
        figures = {"rain": RAIN, "temperature": TEMPERATURE}
        return {name: UNITS[typed.unit(is_us=self.is_us)].symbol for name, typed in figures.items()}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name in FIGURES:
            if name not in cleaned:
                continue
            try:
                cleaned[name] = self._read(name, cleaned[name].strip())
            except UnreadableMeasurement as refusal:
                self.add_error(name, refusal.sentence)
        return cleaned

    def refuse(self, refusal: Refusal) -> None:
        """Puts a refusal beside its field, or above them all."""
        self.add_error(refusal.field if refusal.field in self.fields else None, refusal.sentence)

    def normals(self) -> Normals:
        """What was typed, as the rule takes it."""
        given = self.cleaned_data
        return Normals(
            name=given["name"].strip(),
            postcode_prefixes=prefixes_in(given["postcode_prefixes"]),
            latitude_deg=given["latitude_deg"],
            rain_mm=tuple(given[f"rain_{month}"] for month in _months()),
            temperature_c=tuple(given[f"temperature_{month}"] for month in _months()),
            source=given["source"].strip(),
            **{name: given[name] for name in LABELS},
        )

    def _input(self, name: str) -> forms.CharField:
        unit = UNITS[FIGURES[name].unit(is_us=self.is_us)]
        kind, _, month = name.partition("_")
        label = LABELS.get(name) or f"{kind.capitalize()} in {month_name[int(month)]}"
        field = forms.CharField(
            label=f"{label}, in {unit.word}",
            max_length=40,
            help_text=HINTS.get(name, ""),
            error_messages={"required": "Type a figure; 0 where there is none."},
        )
        field.initial = self._as_typed(name)
        field.widget.attrs["inputmode"] = "decimal"
        if name not in LABELS:
            field.widget.attrs.update({"aria-label": f"{label}, in {unit.word}"})
        return field

    def _as_typed(self, name: str) -> str:
        if name not in self.kept:
            return ""
        typed = FIGURES[name]
        value = from_si(self.kept[name] * typed.base_units_each, typed.unit(is_us=self.is_us))
        return f"{round(value, typed.decimals) + 0.0:g}"

    def _read(self, name: str, written: str) -> float:
        # What is on record is shown rounded: left as it stands, it stays what it is.
        if name in self.kept and written == self._as_typed(name):
            return self.kept[name]
        typed = FIGURES[name]
        return parse(written, typed.unit(is_us=self.is_us)).si / typed.base_units_each


def _months() -> range:
    return range(1, MONTHS + 1)


def _figures_of(region: ClimateNormals) -> dict[str, float]:
    """The kept figures of a region under the names of their fields."""
    rain = {f"rain_{month}": region.rain_mm[month - 1] for month in _months()}
    temperature = {f"temperature_{month}": region.temperature_c[month - 1] for month in _months()}
    return {**rain, **temperature, **{name: getattr(region, name) for name in LABELS}}
