"""Writes about editions of terms: draft, correct a draft, publish."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db import transaction

from contractor.accounts.models import Role, User
from contractor.accounts.queries import the_company
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.warranties.errors import (
    DraftHalfTyped,
    EditionFixed,
    EditionTaken,
    ManagersOnly,
    TermsBreakRules,
    TermsUnreadable,
)
from contractor.warranties.models import TermsEdition
from contractor.warranties.rules.broken import BrokenRule
from contractor.warranties.rules.plain_data import BadData, terms_from_data, terms_to_data
from contractor.warranties.rules.publishing import blocking, broken_rules
from contractor.warranties.rules.terms import Terms, Warrantor

LONGEST_EDITION = 40


@transaction.atomic
def draft_terms(*, data: Mapping[str, Any], by: Actor, at: datetime) -> TermsEdition:
    """Keeps a new draft. Raises TermsUnreadable or EditionTaken."""
    terms = _read(data)
    if TermsEdition.objects.filter(edition=terms.edition).exists():
        raise EditionTaken(terms.edition)
    edition = TermsEdition.objects.create(
        edition=terms.edition, title=_title(terms), data=terms_to_data(terms), created_at=at
    )
    _record(edition, verb="terms drafted", by=by, at=at, after=audit.snapshot(edition))
    return edition


@transaction.atomic
def change_terms(
    *, terms_id: int, data: Mapping[str, Any], by: Actor, at: datetime, typed: Mapping[str, Any] | None = None
) -> TermsEdition:
    """Replaces the words of a draft; ``typed`` is what the editor held.

    Raises EditionFixed once published, TermsUnreadable or EditionTaken.
    """
    edition = TermsEdition.objects.select_for_update().get(pk=terms_id)
    if edition.published_at is not None:
        raise EditionFixed(edition.edition)
    terms = _read(data)
    if TermsEdition.objects.filter(edition=terms.edition).exclude(pk=terms_id).exists():
        raise EditionTaken(terms.edition)
    before = audit.snapshot(edition)
    edition.edition, edition.title, edition.data = terms.edition, _title(terms), terms_to_data(terms)
    edition.typed, edition.is_half_typed = dict(typed or {}), False
    edition.save()
    _record(edition, verb="draft terms changed", by=by, at=at, before=before, after=audit.snapshot(edition))
    return edition


@transaction.atomic
def keep_typed(*, terms_id: int, typed: Mapping[str, Any], by: Actor, at: datetime) -> TermsEdition:
    """Keeps what was typed into a draft although it can't be read as terms yet. Raises EditionFixed."""
    edition = TermsEdition.objects.select_for_update().get(pk=terms_id)
    if edition.published_at is not None:
        raise EditionFixed(edition.edition)
    before = audit.snapshot(edition)
    edition.typed, edition.is_half_typed = dict(typed), True
    edition.save()
    _record(edition, verb="draft terms kept half typed", by=by, at=at, before=before, after=audit.snapshot(edition))
    return edition


@transaction.atomic
def publish_terms(
    *,
    terms_id: int,
    by: Actor,
    at: datetime,
    published_by: User | None = None,
    overrides: Mapping[str, str] | None = None,
) -> TermsEdition:
    """Publishes a draft for ever, with the company as warrantor.

    ``overrides`` gives a manager's reason for each warning (rule code) that is let go; it is kept in the trail.
    Raises EditionFixed, ManagersOnly, DraftHalfTyped or TermsBreakRules, which names every rule that stands in the way.
    """
    edition = TermsEdition.objects.select_for_update().get(pk=terms_id)
    if edition.published_at is not None:
        raise EditionFixed(edition.edition)
    if published_by is not None and published_by.role != Role.MANAGER:
        raise ManagersOnly("publish terms")
    if edition.is_half_typed:
        raise DraftHalfTyped
    terms = with_warrantor(terms_from_data(edition.data))
    reasons = {code: reason.strip() for code, reason in (overrides or {}).items() if reason.strip()}
    stopping = blocking(broken_rules(terms), overridden=reasons.keys())
    if stopping:
        raise TermsBreakRules(stopping, [_sentence(rule) for rule in stopping])
    before = audit.snapshot(edition)
    edition.data, edition.published_at, edition.published_by = terms_to_data(terms), at, published_by
    edition.typed = {}
    edition.save()
    after = {**audit.snapshot(edition), "overrides": reasons}
    _record(edition, verb="terms published", by=by, at=at, before=before, after=after)
    return edition


def with_warrantor(terms: Terms) -> Terms:
    """The terms with this company as warrantor, where they don't name one."""
    if terms.warrantor is not None:
        return terms
    company = the_company()
    lines = (company.street, f"{company.city}, {company.state} {company.postcode}".strip(", "))
    address = ", ".join(line for line in lines if line.strip())
    names = (company.name,) if company.name != company.legal_name else ()
    return replace(terms, warrantor=Warrantor(legal_name=company.legal_name, address=address, trade_names=names))


def _read(data: Mapping[str, Any]) -> Terms:
    try:
        terms = terms_from_data(data)
    except BadData as bad:
        raise TermsUnreadable(bad.problems) from bad
    if not terms.edition.strip() or len(terms.edition) > LONGEST_EDITION:
        raise TermsUnreadable([f"edition must be a short name of at most {LONGEST_EDITION} letters."])
    return terms


def _title(terms: Terms) -> str:
    return terms.title[:120] or terms.edition


def _sentence(rule: BrokenRule) -> str:
    return f"{rule.field}: {rule.sentence}"


def _record(edition: TermsEdition, **entry: Any) -> None:
    audit.record(subject=edition, property_id=None, **entry)
