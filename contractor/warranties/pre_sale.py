"""Whether the terms of a warranty were shown before the sale: the record beside the rule."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from contractor.core import clock
from contractor.warranties.models import TermsEdition, TermsShown
from contractor.warranties.rules.broken import BrokenRule
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.publishing import Sale, broken_at_issue


@dataclass(frozen=True, slots=True, kw_only=True)
class PreSaleProof:
    """An edition, the first time that it was shown at a house (None: never), and the rules broken at issue."""

    edition: TermsEdition
    shown: TermsShown | None
    broken: tuple[BrokenRule, ...]


def pre_sale_proof(*, edition: TermsEdition, shown: Iterable[TermsShown], signed_by_on: date) -> PreSaleProof:
    """The proof for one edition; ``shown`` are the records of a house, ``signed_by_on`` the day of the contract."""
    first = min((one for one in shown if one.terms_id == edition.pk), key=lambda one: one.shown_at, default=None)
    sale = Sale(
        signed_on=signed_by_on,
        terms_shown_on=clock.day_of(first.shown_at) if first is not None else None,
        shown_edition=edition.edition if first is not None else "",
    )
    return PreSaleProof(edition=edition, shown=first, broken=broken_at_issue(terms_from_data(edition.data), sale))


def pre_sale_proofs(*, property_id: int, signed_by_on: date) -> list[PreSaleProof]:
    """The proof for every published edition, in two queries."""
    records = list(TermsShown.objects.at_house(property_id))
    editions = TermsEdition.objects.published()
    return [pre_sale_proof(edition=one, shown=records, signed_by_on=signed_by_on) for one in editions]
