"""Template tags and filters of the design: marks (shape + word + colour), the error summary, dates and figures.

Words and styles are those of the United States; on papers and pages of a company elsewhere those of ``country_style``.
"""

from __future__ import annotations  # Django's form sets take a type only when it is not evaluated

from collections.abc import Iterator
from datetime import date, datetime
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation

from django import template
from django.forms import BaseForm, BaseFormSet
from django.forms.boundfield import BoundField
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from contractor.core.templatetags.country_style import foreign_amount, foreign_day, foreign_hour, money_sign
from contractor.core.templatetags.mark_shapes import CARES, CONDITIONS, COVERS, TONE_COLOURS, TONES, Mark

register = template.Library()
register.simple_tag(money_sign)


def _mark(mark: Mark, word: str) -> SafeString:
    return format_html(
        '<span class="mark is-{}"><svg viewBox="0 0 16 16" color="{}" aria-hidden="true">{}</svg>'
        "<span>{}</span></span>",
        mark.tone,
        TONE_COLOURS[mark.tone],
        mark_safe(mark.shape),  # noqa: S308  (our own constant)
        word,
    )


@register.simple_tag
def condition(code: str, word: str = "") -> SafeString:
    """The mark of a condition: good, watch, bad, unknown, not_possible; ``word`` replaces the usual word."""
    mark = CONDITIONS[code or "unknown"]
    return _mark(mark, word or mark.word)


@register.simple_tag
def cover(code: str, word: str = "") -> SafeString:
    """The mark of a promise's cover: not_started, in_force, suspended, ended, void."""
    mark = COVERS[code]
    return _mark(mark, word or mark.word)


@register.simple_tag
def care(code: str, word: str = "") -> SafeString:
    """The mark of a warranty's care: not_asked, current, due, in_grace, gap."""
    mark = CARES[code]
    return _mark(mark, word or mark.word)


@register.simple_tag
def standing(cover_code: str, care_code: str) -> SafeString:
    """The two answers of a standing side by side: cover, then care."""
    return format_html('<span class="standing">{} {}</span>', cover(cover_code), care(care_code))


@register.simple_tag
def tone(code: str, word: str) -> SafeString:
    """The mark of any other state, in its own word: tone good, watch, bad, unknown or water (open, under way)."""
    return _mark(TONES[code], word)


def _field_id(field: BoundField) -> str:
    # A group of radio buttons or boxes has no id of its own; its first one has.
    return field.id_for_label or f"{field.auto_id}_0"


def _form_errors(form: BaseForm) -> Iterator[tuple[str, str, str]]:
    for sentence in form.non_field_errors():
        yield "", "", str(sentence)
    for name in form.fields:
        field = form[name]
        for sentence in field.errors:
            # A box's label is a whole sentence; its full stop would stand before the colon.
            label = str(field.label or name).rstrip(".:")
            yield ("" if field.is_hidden else _field_id(field)), label, str(sentence)


def _all_errors(forms: tuple[BaseForm | BaseFormSet[BaseForm], ...]) -> list[tuple[str, str, str]]:
    found: list[tuple[str, str, str]] = []
    for form in forms:
        if isinstance(form, BaseFormSet):
            found += [("", "", str(sentence)) for sentence in form.non_form_errors()]
            for single in form.forms:
                found += _form_errors(single)
        else:
            found += _form_errors(form)
    return found


@register.simple_tag
def field_errors(*forms: BaseForm | BaseFormSet[BaseForm], begins: str = "Nothing was saved yet.") -> SafeString:
    """The error summary of bound forms and formsets: it takes the focus, its lines lead to the fields."""
    bound = tuple(form for form in forms if form and form.is_bound)
    errors = _all_errors(bound)
    if not errors:
        return SafeString("")
    lines = (
        format_html('<a href="#{}">{}</a>: {}', target, label, sentence)
        if target
        else format_html("{}", f"{label}: {sentence}" if label else sentence)
        for target, label, sentence in errors
    )
    heading = f"{begins} One thing to put right:"
    if len(errors) > 1:
        heading = f"{begins} {len(errors)} things to put right:"
    return format_html(
        '<div class="error-summary" role="alert" tabindex="-1" data-error-summary><h2>{}</h2><ul>{}</ul></div>',
        heading,
        format_html_join("", "<li>{}</li>", ((line,) for line in lines)),
    )


@register.filter
def day(value: date | datetime | None) -> str:
    """A date as Americans write it: May 14, 2031. A moment is taken where the company is; nothing for None."""
    if value is None or value == "":
        return ""
    if isinstance(value, datetime):
        value = timezone.localtime(value).date()
    return f"{value:%B} {value.day}, {value.year}"


@register.filter
def short_day(value: date | datetime | None) -> str:
    """A date for narrow columns: Sep 3, 2026."""
    if value is None or value == "":
        return ""
    if isinstance(value, datetime):
        value = timezone.localtime(value).date()
    return foreign_day(value) or f"{value:%b} {value.day}, {value.year}"


@register.filter
def moment(value: datetime | None) -> str:
    """A moment with its zone: May 14, 2031, 3:05 PM EDT."""
    if value is None or value == "":
        return ""
    local = timezone.localtime(value)
    hour = foreign_hour(local.time()) or f"{local.hour % 12 or 12}:{local:%M} {local:%p}"
    return f"{day(local.date())}, {hour} {local.tzname()}"


@register.filter
def number(value: Decimal | float | str | None, decimals: int = 0) -> str:
    """A figure with thousands separated and a real minus sign: 12,345 or −3.50; nothing for None or no number."""
    exact = _exact(value, decimals)
    return "" if exact is None else f"{exact:,f}".replace("-", "−")


def _exact(value: Decimal | float | str | None, decimals: int) -> Decimal | None:
    """The figure, rounded half to even and never minus zero; None for no number."""
    if value is None or value == "":
        return None
    try:
        exact = Decimal(str(value)).quantize(Decimal(1).scaleb(-int(decimals)), rounding=ROUND_HALF_EVEN)
    except InvalidOperation:
        return None
    return (exact or abs(exact)) if exact.is_finite() else None


@register.filter
def dial(value: str | None) -> str:
    """A telephone number as a ``tel:`` address takes it: digits and a leading plus, nothing else."""
    return "".join(sign for sign in value or "" if sign.isdigit() or sign == "+")


@register.filter
def money(value: Decimal | int | str | None) -> str:
    """An amount in dollars and cents: $1,234.50, −$12.00; for a Canadian company CA$1,234.50."""
    exact = _exact(value, 2)
    figure = "" if exact is None else foreign_amount(exact)
    if figure is not None:
        return figure
    figure = number(value, 2)
    return figure and (f"−${figure[1:]}" if figure.startswith("−") else f"${figure}")
