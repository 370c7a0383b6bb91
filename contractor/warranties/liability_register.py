"""Reads for the warranty liability: every warranty and part of some years as arrays, in three queries.

A liability looks at all of them on two days. A row for each in Python would take most of the time, so the columns go
from the database into arrays as they are; days travel as text (ISO 8601), which both databases write alike.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from django.db.models import CharField, F, Min, Q, QuerySet, Value
from django.db.models.functions import Cast, Coalesce
from numpy.typing import NDArray

from contractor.systems.models import Component
from contractor.warranties.models import TermsEdition, Transfer, Warranty
from contractor.warranties.rules.liability_reserve import CoveredParts
from contractor.warranties.rules.liability_terms import Days, PartTerms, part_terms
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.terms import Promise, Terms

Numbers = NDArray[np.int64]
AT_ONCE = 10_000
_DAY, _KIND = "S10", "S30"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Register:
    """Warranties and parts, a part for every warranty of its system: one place in each array for each pair.

    Days that there are not are NaT.
    """

    editions: dict[int, Terms]
    warranty_id: Numbers
    terms_id: Numbers
    issued_on: Days
    voided_on: Days
    transferred_on: Days
    component_id: Numbers
    part_kind: NDArray[np.bytes_]
    in_on: Days
    out_on: Days

    def covered(self, on: date) -> Iterator[CoveredParts]:
        """The parts covered on the evening of a day, promise by promise. What happened later is not known on that day.

        Suspended cover counts: a check-up would bring it back.
        """
        day = np.datetime64(on, "D")
        there = (self.issued_on <= day) & (self.in_on <= day)
        there &= np.isnat(self.voided_on) | (self.voided_on > day)
        there &= np.isnat(self.out_on) | (self.out_on > day)
        for terms_id, terms in self.editions.items():
            of_edition = there & (self.terms_id == terms_id)
            if not of_edition.any():
                continue
            for promise in terms.promises:
                which = np.flatnonzero(of_edition & (self.part_kind == promise.part_kind.encode()))
                if which.size:
                    yield self._under(terms, promise, which, day)

    def _under(self, terms: Terms, promise: Promise, which: Numbers, day: np.datetime64) -> CoveredParts:
        moved = self.transferred_on[which]
        found = part_terms(
            terms,
            promise,
            issued_on=self.issued_on[which],
            in_on=self.in_on[which],
            transferred_on=np.where(moved <= day, moved, np.datetime64("NaT")),
        )
        holds = found.holds(day)
        which = which[holds]
        return CoveredParts(
            part_kind=promise.part_kind,
            months=promise.months,
            full_months=promise.full_months,
            warranty_id=self.warranty_id[which],
            component_id=self.component_id[which],
            issue_year=self.issued_on[which].astype("datetime64[Y]").astype(np.int64) + 1970,
            age_days=(day - self.in_on[which]).astype(np.int64),
            counted_days=(day - found.counted_from_on[holds]).astype(np.int64),
            left_days=_left(found, holds, day),
        )


def read_register(*, before_on: date, until_on: date) -> Register:
    """Everything that can be covered on one of two days, or on a day between them."""
    warranties = _warranties(until_on)
    parts = _parts(before_on, until_on)
    # Each warranty with the parts of its system: the parts are sorted by it, so they lie between two places.
    first = np.searchsorted(parts["system"], warranties["system"], "left")
    counts = np.searchsorted(parts["system"], warranties["system"], "right") - first
    which = np.repeat(np.arange(warranties.size), counts)
    place = np.arange(which.size) + np.repeat(first - (np.cumsum(counts) - counts), counts)
    transfers = _first_transfers()
    return Register(
        editions={one.pk: terms_from_data(one.data) for one in TermsEdition.objects.published()},
        warranty_id=warranties["pk"][which],
        terms_id=warranties["terms"][which],
        issued_on=_days(warranties["issued_on"])[which],
        voided_on=_days(warranties["voided_on"])[which],
        transferred_on=_days(np.array([transfers.get(pk, b"") for pk in warranties["pk"]], dtype=_DAY))[which],
        component_id=parts["pk"][place],
        part_kind=parts["part_kind"][place],
        in_on=_days(parts["in_on"])[place],
        out_on=_days(parts["out_on"])[place],
    )


def _warranties(until_on: date) -> NDArray[np.void]:
    rows = Warranty.objects.filter(issued_on__lte=until_on).order_by("pk")
    columns = {"pk": "i8", "system": "i8", "terms": "i8", "issued_on": _DAY, "voided_on": _DAY}
    names = ("pk", "system_id", "terms_id", _text("issued_on"), _text("voided_on"))
    return _read(rows, columns, names)


def _parts(before_on: date, until_on: date) -> NDArray[np.void]:
    """Parts by system; one that came out on the first of the two days or before is on neither in place."""
    still_there = Q(out_on__isnull=True) | Q(out_on__gt=before_on)
    rows = Component.objects.filter(still_there, in_on__lte=until_on).order_by("system_id", "pk")
    columns = {"pk": "i8", "system": "i8", "part_kind": _KIND, "in_on": _DAY, "out_on": _DAY}
    return _read(rows, columns, ("pk", "system_id", "part_kind", _text("in_on"), _text("out_on")))


def _first_transfers() -> dict[int, bytes]:
    issued = Transfer.objects.filter(state=Transfer.State.ISSUED).order_by()
    return {
        warranty_id: first_on.isoformat().encode()
        for warranty_id, first_on in issued.values_list("warranty_id").annotate(first_on=Min("closing_on"))
    }


def _text(name: str) -> Coalesce:
    return Coalesce(Cast(F(name), CharField()), Value(""))


def _read(rows: QuerySet[Any], columns: dict[str, str], names: tuple[Any, ...]) -> NDArray[np.void]:
    return np.fromiter(rows.values_list(*names).iterator(chunk_size=AT_ONCE), dtype=list(columns.items()))


def _days(text: NDArray[Any]) -> Days:
    return text.astype("datetime64[D]")


def _left(found: PartTerms, holds: NDArray[np.bool_], day: np.datetime64) -> NDArray[np.float64]:
    through_on = found.through_on[holds]
    left = (through_on - day).astype("timedelta64[D]").astype(np.float64)
    return np.where(np.isnat(through_on), np.nan, left)
