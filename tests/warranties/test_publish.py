"""Editions of terms: drafted, checked against the rules, published for ever."""

from datetime import datetime

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.warranties.actions import terms as actions
from contractor.warranties.errors import EditionFixed, EditionTaken, ManagersOnly, TermsBreakRules, TermsUnreadable
from contractor.warranties.models import TermsEdition
from tests.warranties.factories import terms_data

pytestmark = pytest.mark.django_db


@pytest.fixture
def draft(company: object, office: Actor, at: datetime) -> TermsEdition:
    return actions.draft_terms(data=terms_data(), by=office, at=at)


def test_the_terms_that_ship_are_publishable_with_the_company_as_warrantor(
    draft: TermsEdition, ruth: User, at: datetime
) -> None:
    edition = actions.publish_terms(terms_id=draft.pk, by=ruth.actor, at=at, published_by=ruth)
    assert edition.published_at == at
    assert edition.published_by == ruth
    assert edition.data["warrantor"]["legal_name"] == "Harrow Creek Dry Basements LLC"
    assert edition.data["warrantor"]["address"] == "14 Foundry Row, Larkmere, PA 17099"


def test_a_published_edition_can_neither_be_changed_nor_published_again(
    draft: TermsEdition, ruth: User, at: datetime
) -> None:
    published = actions.publish_terms(terms_id=draft.pk, by=ruth.actor, at=at, published_by=ruth)
    other = terms_data(title="Limited warranty, changed")
    with pytest.raises(EditionFixed):
        actions.change_terms(terms_id=draft.pk, data=other, by=ruth.actor, at=at)
    with pytest.raises(EditionFixed):
        actions.publish_terms(terms_id=draft.pk, by=ruth.actor, at=at, published_by=ruth)
    draft.refresh_from_db()
    assert draft.data == published.data


def test_a_draft_can_be_changed(draft: TermsEdition, ruth: User, at: datetime) -> None:
    data = terms_data(title="Limited warranty for a dry run")
    changed = actions.change_terms(terms_id=draft.pk, data=data, by=ruth.actor, at=at)
    assert changed.title == "Limited warranty for a dry run"


# Which rule stops which terms: 15 U.S.C. 2302(c) and 2308(a), 16 CFR 700.10, 701.3(a)(9), 703.
CARE = terms_data()["care"]
BROKEN = {
    "paid check-ups by this company alone": ({"care": {**CARE, "any_provider": False}}, "MM23", "care.any_provider"),
    "no sentence on specific legal rights": ({"rights_sentence": ""}, "MM21", "rights_sentence"),
    "implied warranties disclaimed": ({"implied_disclaimed": True}, "MM19", "implied_disclaimed"),
    "a title without its designation": ({"title": "Our promise"}, "MM01", "title"),
    "one step for a claim": ({"claim_steps": ["Call us."]}, "MM15", "claim_steps"),
}


@pytest.mark.parametrize(("changes", "code", "field"), BROKEN.values(), ids=BROKEN)
def test_publishing_is_refused_with_each_broken_rule_at_its_field(
    changes: dict[str, object], code: str, field: str, company: object, ruth: User, at: datetime
) -> None:
    draft = actions.draft_terms(data=terms_data(**changes), by=ruth.actor, at=at)
    with pytest.raises(TermsBreakRules) as refused:
        actions.publish_terms(terms_id=draft.pk, by=ruth.actor, at=at, published_by=ruth)
    assert [(rule.code, rule.field) for rule in refused.value.broken] == [(code, field)]  # type: ignore[attr-defined]
    assert field in str(refused.value)
    draft.refresh_from_db()
    assert draft.published_at is None


def test_a_warning_is_let_go_with_a_reason_that_is_kept_and_nothing_else_is(
    company: object, ruth: User, at: datetime
) -> None:
    dispute = {"mechanism": "The county's mediation board.", "prior_resort": True}
    draft = actions.draft_terms(data=terms_data(dispute=dispute), by=ruth.actor, at=at)
    with pytest.raises(TermsBreakRules):
        actions.publish_terms(
            terms_id=draft.pk, by=ruth.actor, at=at, published_by=ruth, overrides={"MM17": " ", "MM23": "no matter"}
        )
    actions.publish_terms(
        terms_id=draft.pk, by=ruth.actor, at=at, published_by=ruth, overrides={"MM17": "Counsel agreed on May 2."}
    )
    kept = AuditEntry.objects.get(verb="terms published").body["after"]
    assert kept["overrides"] == {"MM17": "Counsel agreed on May 2."}


def test_an_error_is_not_let_go_by_any_reason(company: object, ruth: User, at: datetime) -> None:
    draft = actions.draft_terms(data=terms_data(rights_sentence=""), by=ruth.actor, at=at)
    with pytest.raises(TermsBreakRules):
        actions.publish_terms(
            terms_id=draft.pk, by=ruth.actor, at=at, published_by=ruth, overrides={"MM21": "We like it better so."}
        )


def test_only_a_manager_publishes(draft: TermsEdition, nora: User, at: datetime) -> None:
    with pytest.raises(ManagersOnly):
        actions.publish_terms(terms_id=draft.pk, by=nora.actor, at=at, published_by=nora)


def test_unreadable_data_are_refused_with_every_fault_and_its_place(office: Actor, at: datetime) -> None:
    data = terms_data(designation="GOOD", promises=[{"part_kind": "moat", "months": 12}])
    with pytest.raises(TermsUnreadable) as refused:
        actions.draft_terms(data=data, by=office, at=at)
    assert len(refused.value.problems) == 2
    assert "designation" in str(refused.value)
    assert "moat" in str(refused.value)
    assert not TermsEdition.objects.exists()


def test_the_name_of_an_edition_is_taken_once(draft: TermsEdition, office: Actor, at: datetime) -> None:
    with pytest.raises(EditionTaken):
        actions.draft_terms(data=terms_data(), by=office, at=at)
