"""Marks of the estimates: where an input comes from, how likely a failure is, and the band of a date."""

from datetime import date

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from contractor.core.templatetags.marks import short_day
from contractor.estimates.band import Range, large_band, small_band
from contractor.estimates.models import LifeEstimate

register = template.Library()

_LINE = 'fill="none" stroke="currentColor" stroke-width="1.8"'
# A ruler, a maker's plate with its rivet, written lines, a broken wave, a broken diamond: none is a condition's shape.
_SHAPES = {
    "measured": '<path d="M.5 4.5H15.5V11.5H.5z" fill="currentColor"/>'
    '<path class="mark-cut" d="M4 5V8M8 5V9M12 5V8" fill="none" stroke="#fffefa" stroke-width="1.4"/>',
    "declared by the maker": f'<path d="M1.4 3.4H14.6V12.6H1.4z" {_LINE}/><path d="M4 7h2v2H4z" fill="currentColor"/>',
    "on record": f'<path d="M2 3.5H14M2 8H14M2 12.5H9" {_LINE}/>',
    "assumed": f'<path d="M1 10C3.5 4 6 4 8 8S12.5 12 15 6" {_LINE} stroke-dasharray="2.6 1.8"/>',
    "supposed": f'<path d="M8 1.4L14.6 8L8 14.6L1.4 8z" {_LINE} stroke-dasharray="2.6 1.8"/>',
}
# Where one likelihood's word ends and the next begins: ours, no source.
_LIKELIHOODS = ((0.05, "hardly"), (0.15, "unlikely"), (0.50, "possible"), (0.75, "likely"), (1.01, "very likely"))
_CONSEQUENCES = {1: "little is lost", 2: "some", 3: "much", 4: "very much", 5: "the basement floods"}


@register.simple_tag
def origin(code: str) -> SafeString:
    """Where an input comes from, as a shape and its word; a word without a shape stands alone."""
    shape = _SHAPES.get(code)
    if shape is None:
        return format_html("<span>{}</span>", code)
    return format_html(
        '<span class="mark origin"><svg viewBox="0 0 16 16" aria-hidden="true">{}</svg><span>{}</span></span>',
        mark_safe(shape),  # noqa: S308  (our own constant)
        code,
    )


@register.filter
def iso_day(value: str) -> str:
    """A stored day such as 2026-05-03 as narrow columns show it; nothing for none."""
    return short_day(date.fromisoformat(value)) if value else ""


@register.filter
def likelihood(probability: float) -> str:
    """How likely a failure is before the next check-up, in a word and a round percentage."""
    word = next(word for limit, word in _LIKELIHOODS if probability < limit)
    percent = "under 1%" if probability < 0.01 else f"{probability:.0%}"
    return f"{word}, {percent}"


@register.filter
def consequence(level: int) -> str:
    """How much would be lost, in words and out of five."""
    return f"{_CONSEQUENCES.get(level, '')}, {level} of 5".removeprefix(", ")


@register.simple_tag
def band(estimate: LifeEstimate, today: date, size: str = "small") -> SafeString:
    """The range of an estimate's date; ``size`` "small" for rows of a list, "large" for a page of its own."""
    days = Range(earliest=estimate.earliest, replace_by=estimate.replace_by, latest=estimate.latest, today=today)
    draw = large_band if size == "large" else small_band
    return mark_safe(draw(days, prefix=f"band-{estimate.component_id}"))  # noqa: S308  (escapes its words itself)
