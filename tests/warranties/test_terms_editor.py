"""The editor's pages: begin a copy, lose nothing that was typed, be told each broken rule at its field, publish."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from contractor.accounts.models import User
from contractor.core.models import AuditEntry
from contractor.warranties.models import TermsEdition
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.terms_forms import typed_from

pytestmark = pytest.mark.django_db

SignIn = Callable[[User], Client]


@pytest.fixture
def client(terms: TermsEdition, ruth: User, signed_in_as: SignIn) -> Client:
    """The manager, with one published edition."""
    return signed_in_as(ruth)


@pytest.fixture
def draft(client: Client) -> TermsEdition:
    client.post(reverse("warranties:draft_terms"), {"source": "template-us-limited", "edition": "limited-2027-1"})
    return TermsEdition.objects.get(edition="limited-2027-1")


def address(draft: TermsEdition, name: str = "change_terms") -> str:
    return reverse(f"warranties:{name}", args=[draft.pk])


def typed(draft: TermsEdition, **changes: Any) -> dict[str, Any]:
    """What the browser sends: ticked boxes alone, everything else as text."""
    filled = typed_from(terms_from_data(draft.data)) | {key.replace("__", "-"): one for key, one in changes.items()}
    return {name: "on" if value is True else value for name, value in filled.items() if value is not False}


@pytest.mark.parametrize("source", ["template-us-full", "template-us-limited", "template-canada-written", "edition"])
def test_a_draft_begins_as_a_copy(source: str, client: Client, terms: TermsEdition) -> None:
    chosen = f"edition-{terms.pk}" if source == "edition" else source
    answer = client.post(reverse("warranties:draft_terms"), {"source": chosen, "edition": "next-1"})
    made = TermsEdition.objects.get(edition="next-1")
    assert answer["Location"] == address(made)
    assert made.published_at is None
    assert made.data["warrantor"] is None
    page = client.get(answer["Location"]).content.decode()
    assert "Nothing stands in the way" in page
    assert made.data["title"] in page


def test_a_name_that_is_taken_is_refused_with_what_was_chosen(client: Client, terms: TermsEdition) -> None:
    asked = {"source": "template-us-full", "edition": terms.edition}
    page = client.post(reverse("warranties:draft_terms"), asked).content.decode()
    assert "There is an edition called" in page
    chosen = page.partition('value="template-us-full"')[2].partition(">")[0]
    assert "checked" in chosen


def test_an_edition_offers_itself_as_the_start_of_the_next(client: Client, terms: TermsEdition) -> None:
    page = client.get(reverse("warranties:terms_edition", args=[terms.pk])).content.decode()
    assert f"{reverse('warranties:draft_terms')}?from=edition-{terms.pk}" in page


def test_what_is_typed_is_kept_and_found_again(client: Client, draft: TermsEdition) -> None:
    client.post(address(draft), typed(draft, title="Limited warranty, second thoughts", keep="1"))
    draft.refresh_from_db()
    assert draft.title == draft.data["title"] == "Limited warranty, second thoughts"
    assert not draft.is_half_typed
    assert "Limited warranty, second thoughts" in client.get(address(draft)).content.decode()


def test_what_cannot_be_read_is_kept_all_the_same(client: Client, draft: TermsEdition) -> None:
    before = draft.data
    sent = typed(draft, promise__pit__months="about twenty", title="Limited warranty, second thoughts", keep="1")
    page = client.post(address(draft), sent).content.decode()
    assert "Kept as you typed it" in page
    assert '<a href="#id_promise-pit-months">Pit: months</a>: Enter a whole number.' in page
    draft.refresh_from_db()
    assert draft.is_half_typed
    assert draft.data == before
    again = client.get(address(draft)).content.decode()
    for text in ("about twenty", "Limited warranty, second thoughts", "Enter a whole number."):
        assert text in again


def test_a_draft_that_is_half_typed_is_not_published(client: Client, draft: TermsEdition) -> None:
    client.post(address(draft), typed(draft, promise__pit__months="about twenty", publish="1"))
    draft.refresh_from_db()
    assert draft.published_at is None
    assert draft.is_half_typed


def test_an_edition_name_that_is_taken_meanwhile_loses_nothing(
    client: Client, draft: TermsEdition, terms: TermsEdition
) -> None:
    page = client.post(address(draft), typed(draft, edition=terms.edition, remedy="We come.", keep="1"))
    assert "There is an edition called" in page.content.decode()
    draft.refresh_from_db()
    assert draft.is_half_typed
    assert draft.typed["remedy"] == "We come."


# What is taken out or put in, the rule, the field it is told at, and how the field is named in the summary.
BROKEN = {
    "no sentence on rights": ({"rights_sentence": ""}, "MM21", "rights_sentence", "Your rights"),
    "a changed prescribed sentence": (
        {"consequential__sentence": "Some States allow all."},
        "MM32",
        "consequential-sentence",
        "Its prescribed sentence",
    ),
    "a part without its place": ({"promise__pit__where": ""}, "MM09", "promise-pit-where", "Pit: where"),
    "a title without its designation": ({"title": "Our promise"}, "MM01", "title", "Title"),
    "one step": ({"claim_steps": "Call us."}, "MM15", "claim_steps", "Steps, in order"),
    "full with a limit on implied warranties": (
        {"designation": "FULL", "title": "Full two-year warranty"},
        "MM05",
        "implied_limit-text",
        "Limit on implied warranties (optional)",
    ),
}


@pytest.mark.parametrize(("changes", "code", "field", "label"), BROKEN.values(), ids=BROKEN)
def test_publishing_tells_every_broken_rule_at_its_field_and_links_to_it(
    changes: dict[str, str], code: str, field: str, label: str, client: Client, draft: TermsEdition
) -> None:
    answer = client.post(address(draft), typed(draft, **changes, publish="1"))
    assert "Not published yet." in answer.content.decode()
    page = answer.content.decode()
    assert f'<a href="#id_{field}">{escape(label)}</a>' in page
    beside = page.partition(f'id="said-{field}"')[2].partition("</div>")[0]
    rule = next(one for one in answer.context["form"].fields[field].broken if one.code == code)
    assert code in beside
    assert escape(rule.sentence) in beside
    assert escape(rule.citation) in beside
    draft.refresh_from_db()
    assert draft.published_at is None


def test_a_warning_is_let_go_with_a_reason_beside_it(client: Client, draft: TermsEdition) -> None:
    refused = client.post(address(draft), typed(draft, care_proof="", publish="1"))
    assert 'name="override-MM24"' in refused.content.decode()
    sent = typed(draft, care_proof="", override__MM24="Counsel agreed on May 2.", publish="1")
    assert "is published" in client.post(address(draft), sent, follow=True).content.decode()
    kept = AuditEntry.objects.filter(verb="terms published").latest("pk").body["after"]
    assert kept["overrides"] == {"MM24": "Counsel agreed on May 2."}


def test_once_published_the_editor_leads_to_the_edition(client: Client, draft: TermsEdition) -> None:
    client.post(address(draft), typed(draft, publish="1"))
    draft.refresh_from_db()
    assert draft.published_at is not None
    assert draft.typed == {}
    assert draft.data["warrantor"]["legal_name"] == "Harrow Creek Dry Basements LLC"
    for method in (client.get, client.post):
        answer = method(address(draft), follow=True)
        assert "is published and stays as it is" in answer.content.decode()
    assert TermsEdition.objects.get(pk=draft.pk).data == draft.data


def test_a_draft_leads_from_its_page_to_the_editor(client: Client, draft: TermsEdition) -> None:
    assert client.get(address(draft, "terms_edition"))["Location"] == address(draft)


def test_while_typing_the_standing_and_the_document_follow_and_nothing_is_kept(
    client: Client, draft: TermsEdition
) -> None:
    entries = AuditEntry.objects.count()
    sent = typed(draft, rights_sentence="", remedy="We come and put it right, whatever it takes.")
    answer = client.post(address(draft, "check_terms"), sent).content.decode()
    assert "1 rule still broken" in answer
    assert 'id="said-rights_sentence" hx-swap-oob="true"><p class="is-bad">' in answer
    assert 'id="said-title" hx-swap-oob="true">\n</div>' in answer
    assert "We come and put it right, whatever it takes." in answer
    assert "<html" not in answer
    draft.refresh_from_db()
    assert draft.data["remedy"] not in answer
    assert AuditEntry.objects.count() == entries


def test_while_something_cannot_be_read_the_last_document_stays(client: Client, draft: TermsEdition) -> None:
    answer = client.post(address(draft, "check_terms"), typed(draft, promise__pit__months="many")).content.decode()
    assert "1 field can’t be read yet" in answer
    assert 'id="terms-paper"' not in answer


def test_for_canada_the_canadian_rules_are_run_and_quebec_asks_for_french(client: Client) -> None:
    client.post(reverse("warranties:draft_terms"), {"source": "template-canada-written", "edition": "written-1"})
    made = TermsEdition.objects.get(edition="written-1")
    answer = client.post(address(made, "check_terms"), typed(made, provinces=["ON", "QC"])).content.decode()
    assert "CA19" in answer
    assert "In Quebec the French text comes first" in answer
    american = client.post(address(made, "check_terms"), typed(made, jurisdiction="US")).content.decode()
    assert "MM21" not in american  # the sentence is there, though not the prescribed one
    assert "MM32" in american


def test_two_editions_are_compared_field_by_field(client: Client, draft: TermsEdition, terms: TermsEdition) -> None:
    path = reverse("warranties:compare_terms")
    page = client.get(path, {"before": terms.pk, "after": draft.pk}).content.decode()
    for said in ("Battery", "months", "$145.00", "$0.00", terms.edition, draft.edition):
        assert said in page
    assert client.get(path).context["after"] == draft


def test_with_one_edition_there_is_nothing_to_compare(client: Client) -> None:
    assert "nothing to compare yet" in client.get(reverse("warranties:compare_terms")).content.decode()


EDITOR_QUERIES = 6  # session, user, the draft; the company for the page, as warrantor and on the paper


def test_the_editor_asks_the_database_no_more_than_it_needs(
    client: Client, draft: TermsEdition, django_assert_num_queries: Any
) -> None:
    client.get(address(draft))
    with django_assert_num_queries(EDITOR_QUERIES):
        client.get(address(draft))
