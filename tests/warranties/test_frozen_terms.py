"""An edition that houses rely on can't be changed: not by an action, not by the code, not by SQL."""

from datetime import datetime

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from contractor.accounts.models import User
from contractor.warranties.actions import terms as actions
from contractor.warranties.errors import EditionFixed
from contractor.warranties.frozen_rows import FROZEN, freeze_rows
from contractor.warranties.models import TermsEdition, Warranty
from tests.warranties.factories import terms_data

pytestmark = pytest.mark.django_db
SENTENCE = FROZEN[0].sentence

# What somebody may try on a published row, by SQL.
ATTEMPTS = {
    "other words": "UPDATE warranties_termsedition SET title = 'Another warranty' WHERE id = %s",
    "another name": "UPDATE warranties_termsedition SET edition = 'another' WHERE id = %s",
    "a draft again": "UPDATE warranties_termsedition SET published_at = NULL WHERE id = %s",
    "another day": "UPDATE warranties_termsedition SET published_at = '2001-01-01 00:00:00+00:00' WHERE id = %s",
    "all of it": "UPDATE warranties_termsedition SET data = '{}' WHERE id = %s",
}


@pytest.mark.parametrize("sql", ATTEMPTS.values(), ids=ATTEMPTS)
def test_the_database_refuses_to_change_a_published_edition(sql: str, terms: TermsEdition) -> None:
    before = TermsEdition.objects.values().get(pk=terms.pk)
    with pytest.raises(IntegrityError, match=SENTENCE), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, [terms.pk])
    assert TermsEdition.objects.values().get(pk=terms.pk) == before


def test_code_that_saves_a_published_edition_is_refused_too(terms: TermsEdition) -> None:
    terms.title = "Another warranty"
    with pytest.raises(IntegrityError), transaction.atomic():
        terms.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        TermsEdition.objects.filter(pk=terms.pk).update(title="Another warranty")


def test_an_edition_that_a_warranty_rests_on_cannot_be_deleted_by_sql(warranty: Warranty) -> None:
    def delete() -> None:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("DELETE FROM warranties_termsedition WHERE id = %s", [warranty.terms_id])
            connection.check_constraints()

    with pytest.raises(IntegrityError):
        delete()
    assert TermsEdition.objects.filter(pk=warranty.terms_id).exists()


def test_no_action_changes_a_published_edition(terms: TermsEdition, ruth: User, at: datetime) -> None:
    with pytest.raises(EditionFixed):
        actions.change_terms(terms_id=terms.pk, data=terms_data(), by=ruth.actor, at=at)
    with pytest.raises(EditionFixed):
        actions.keep_typed(terms_id=terms.pk, typed={"title": "Another"}, by=ruth.actor, at=at)
    with pytest.raises(EditionFixed):
        actions.publish_terms(terms_id=terms.pk, by=ruth.actor, at=at)


def test_a_draft_can_be_changed_by_whatever_way(company: object, ruth: User, at: datetime) -> None:
    draft = actions.draft_terms(data=terms_data(), by=ruth.actor, at=at)
    with connection.cursor() as cursor:
        cursor.execute(ATTEMPTS["other words"], [draft.pk])
    draft.refresh_from_db()
    assert draft.title == "Another warranty"


def test_the_refusal_is_set_again_after_every_migration(terms: TermsEdition) -> None:
    with connection.cursor() as cursor:
        on_table = " ON warranties_termsedition" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER published_terms_stay{on_table}")
    TermsEdition.objects.filter(pk=terms.pk).update(title="Changed while nothing watched")
    call_command("migrate", verbosity=0)
    freeze_rows(using="default")
    with pytest.raises(IntegrityError), transaction.atomic():
        TermsEdition.objects.filter(pk=terms.pk).update(title="Another warranty")
