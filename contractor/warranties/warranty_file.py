"""Everything on one warranty's page, gathered in a fixed number of queries."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from contractor.checkups.queries import CareEntry, care_record
from contractor.properties.models import Ownership
from contractor.properties.queries import present_ownership
from contractor.warranties.models import Certificate, Claim, TermsShown, Transfer, Waiver, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.pre_sale import PreSaleProof, pre_sale_proof
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import (
    CARE_KINDS,
    PromiseStanding,
    facts_of,
    holder_of,
    overall_cover,
    standings_under,
    terms_of,
)
from contractor.warranties.rules.care import CareOn, care_on
from contractor.warranties.rules.cover import Cover
from contractor.warranties.rules.terms import Terms


@dataclass(frozen=True, slots=True, kw_only=True)
class IssuedCertificate:
    """A certificate with its printed number and what became of it."""

    certificate: Certificate
    number: str
    state: str
    tone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WarrantyFile:
    """One warranty with its standing, its care and its history. ``owner`` is who owns the house now.

    ``terms_shown`` are the times that its edition was shown at this house, and ``pre_sale`` whether that was in time.
    """

    warranty: Warranty
    number: str
    terms: Terms
    cover: Cover
    care: CareOn
    promises: Sequence[PromiseStanding]
    checkups: Sequence[CareEntry]
    waivers: Sequence[Waiver]
    transfers: Sequence[Transfer]
    claims: Sequence[Claim]
    certificates: Sequence[IssuedCertificate]
    holder: Ownership
    owner: Ownership | None
    terms_shown: Sequence[TermsShown]
    pre_sale: PreSaleProof

    @property
    def is_owner_holder(self) -> bool:
        """Whether the present owner is the one whom the warranty belongs to."""
        return self.owner is not None and self.owner.pk == self.holder.pk

    @property
    def signed_by_on(self) -> date:
        """The day by which the terms must have been shown: that of the contract, else that of the installation."""
        return self.warranty.signed_on or self.warranty.system.installed_on

    @property
    def open_transfer(self) -> Transfer | None:
        """The transfer that is under way."""
        return next((one for one in self.transfers if one.state == Transfer.State.ASKED), None)


def warranty_file(warranty: Warranty, *, on: date) -> WarrantyFile:
    """Gathers the page of a warranty as it stands on a day."""
    terms, facts = terms_of(warranty), facts_of(warranty)
    promises = standings_under(terms=terms, facts=facts, on=on)
    transfers = warranty.transfers.select_related("seller__person", "buyer", "certificate").order_by("-closing_on")
    shown = list(TermsShown.objects.at_house(warranty.system.property_id).filter(terms_id=warranty.terms_id))
    certificates = warranty.certificates.select_related("issued_to__person", "superseded_by").order_by("-pk")
    return WarrantyFile(
        warranty=warranty,
        number=display_warranty_number(warranty.number),
        terms=terms,
        cover=overall_cover(one.standing for one in promises),
        care=care_on(terms.care, facts, on),
        promises=promises,
        checkups=[one for one in reversed(care_record(warranty.system_id)) if one.kind in CARE_KINDS],
        waivers=list(warranty.waivers.select_related("by").order_by("-from_on")),
        transfers=list(transfers),
        claims=list(warranty.claims.select_related("component")),
        certificates=[_issued(certificate) for certificate in certificates],
        holder=holder_of(warranty),
        owner=present_ownership(property_id=warranty.system.property_id),
        terms_shown=shown[::-1],
        pre_sale=pre_sale_proof(
            edition=warranty.terms,
            shown=shown,
            signed_by_on=warranty.signed_on or warranty.system.installed_on,
        ),
    )


def _issued(certificate: Certificate) -> IssuedCertificate:
    state, tone = "valid", "good"
    if getattr(certificate, "superseded_by", None) is not None:
        state, tone = "superseded", "unknown"
    if certificate.revoked_at is not None:
        state, tone = "revoked", "bad"
    return IssuedCertificate(certificate=certificate, number=display_number(certificate.number), state=state, tone=tone)
