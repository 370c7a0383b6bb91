"""Tags and filters of the design: marks, the error summary, dates and figures."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django import forms
from django.template import Context, Template

from contractor.core.templatetags import marks
from contractor.core.templatetags.mark_shapes import CARES, CONDITIONS, COVERS


class Owner(forms.Form):
    name = forms.CharField(label="Name")
    way = forms.ChoiceField(label="Send <by>", choices=[("m", "mail"), ("l", "letter")], widget=forms.RadioSelect)
    house = forms.IntegerField(widget=forms.HiddenInput)


def rendered(source: str, **context: object) -> str:
    return Template("{% load marks %}" + source).render(Context(context))


@pytest.mark.parametrize(
    ("tag", "codes"),
    [("condition", CONDITIONS), ("cover", COVERS), ("care", CARES)],
    ids=["condition", "cover", "care"],
)
def test_a_mark_has_a_shape_and_a_word_of_its_own(tag: str, codes: dict[str, object]) -> None:
    texts = {code: rendered(f"{{% {tag} code %}}", code=code) for code in codes}
    assert all("<svg" in text and f"<span>{marks_word(tag, code)}</span>" in text for code, text in texts.items())
    assert len({text.split("<svg", 1)[1].split("</svg>")[0] for text in texts.values()}) == len(codes)


def marks_word(tag: str, code: str) -> str:
    return {"condition": CONDITIONS, "cover": COVERS, "care": CARES}[tag][code].word


def test_a_mark_takes_another_word_and_escapes_it() -> None:
    text = rendered("{% condition 'bad' word %}", word="<b>0.3 V short</b>")
    assert "&lt;b&gt;0.3 V short&lt;/b&gt;" in text


def test_a_standing_gives_both_answers_side_by_side() -> None:
    text = rendered("{% standing 'suspended' 'gap' %}")
    assert text.index("suspended") < text.index("check-up missed")


def test_a_code_that_no_mark_has_is_an_error_and_not_an_empty_space() -> None:
    with pytest.raises(KeyError):
        rendered("{% cover 'in_farce' %}")


def test_the_error_summary_leads_to_every_field_at_fault_and_names_hidden_ones_without_a_link() -> None:
    text = rendered("{% field_errors form %}", form=Owner({"name": ""}))
    assert "3 things to put right" in text
    assert '<a href="#id_name">Name</a>' in text
    assert '<a href="#id_way_0">Send &lt;by&gt;</a>' in text
    assert "House: This field is required." in text
    assert 'href="#id_house"' not in text


def test_the_error_summary_keeps_silent_about_good_unsent_and_missing_forms() -> None:
    good = Owner({"name": "Ruth Amberley", "way": "m", "house": "4"})
    assert rendered("{% field_errors good unsent missing %}", good=good, unsent=Owner()) == ""


def test_the_error_summary_gathers_forms_and_form_sets() -> None:
    rows = forms.formset_factory(Owner)({"form-TOTAL_FORMS": "1", "form-INITIAL_FORMS": "1", "form-0-name": ""})
    text = rendered("{% field_errors form rows %}", form=Owner({"name": "R", "way": "m", "house": "4"}), rows=rows)
    assert '<a href="#id_form-0-name">Name</a>' in text


@pytest.mark.parametrize(
    ("value", "filter_name", "shown"),
    [
        (date(2031, 5, 14), "day", "May 14, 2031"),
        (date(2026, 9, 3), "day", "September 3, 2026"),
        (date(2026, 9, 3), "short_day", "Sep 3, 2026"),
        (None, "day", ""),
        (None, "short_day", ""),
        # New York is four hours behind UTC in summer, five in winter (IANA time zone database).
        (datetime(2031, 5, 15, 2, 5, tzinfo=UTC), "day", "May 14, 2031"),
        (datetime(2031, 5, 14, 19, 5, tzinfo=UTC), "moment", "May 14, 2031, 3:05 PM EDT"),
        (datetime(2031, 12, 14, 17, 0, tzinfo=UTC), "moment", "December 14, 2031, 12:00 PM EST"),
        (datetime(2031, 12, 14, 5, 30, tzinfo=UTC), "moment", "December 14, 2031, 12:30 AM EST"),
        (12345, "number", "12,345"),
        (Decimal("-3.5"), "number:2", "−3.50"),
        (Decimal("-0.001"), "number:2", "0.00"),
        (float("nan"), "number", ""),
        ("", "number", ""),
        (0, "money", "$0.00"),
        (Decimal("1234.5"), "money", "$1,234.50"),
        (Decimal("-12"), "money", "−$12.00"),
        (None, "money", ""),
        ("(555) 555-0142", "dial", "5555550142"),
        ("+1 555 0142", "dial", "+15550142"),
    ],
)
def test_dates_and_figures_are_written_as_americans_write_them(
    value: object, filter_name: str, shown: str, settings
) -> None:  # type: ignore[no-untyped-def]
    settings.TIME_ZONE = "America/New_York"
    assert rendered("{{ value|" + filter_name + " }}", value=value) == shown


def test_money_rounds_half_a_cent_to_the_even_cent() -> None:
    """Half-even, as the claims' arithmetic does it."""
    assert [marks.money(Decimal(text)) for text in ("0.125", "0.135")] == ["$0.12", "$0.14"]
