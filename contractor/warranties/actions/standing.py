"""Writes of the stored standing: a copy for lists, renewed after facts change and every night."""

from datetime import date

from django.db import transaction

from contractor.warranties.models import StoredStanding, Warranty
from contractor.warranties.queries import (
    derived_rows,
    facts_of_many,
    standing_values,
    terms_by_edition,
    warranty_chunk,
)

CHUNK = 300


def refresh_standing(*, warranty_id: int, on: date) -> None:
    """Derives and stores the standing of one warranty."""
    _refresh(list(Warranty.objects.filter(pk=warranty_id).select_related("terms")), on)


def refresh_house_standings(*, property_id: int, on: date) -> None:
    """Derives and stores the standing of every warranty of a house."""
    _refresh(list(Warranty.objects.filter(system__property_id=property_id).select_related("terms")), on)


def refresh_all_standings(*, on: date) -> int:
    """Derives and stores the standing of every warranty; returns how many. Safe to run twice and to break off."""
    after, count = 0, 0
    while chunk := warranty_chunk(after=after, most=CHUNK):
        _refresh(chunk, on)
        after, count = chunk[-1].pk, count + len(chunk)
    return count


@transaction.atomic
def _refresh(warranties: list[Warranty], on: date) -> None:
    # The warranties are locked before their facts are read: of two refreshes at once, the later one reads later
    # facts and so is the one that stays.
    locked = Warranty.objects.select_for_update().filter(pk__in=[warranty.pk for warranty in warranties])
    list(locked.order_by("pk").values_list("pk", flat=True))
    facts, terms = facts_of_many(warranties), terms_by_edition(warranties)
    stored = {(row.warranty_id, row.part_kind): row for row in StoredStanding.objects.filter(warranty__in=warranties)}
    changed: list[StoredStanding] = []
    same: list[int] = []
    for warranty in warranties:
        for row in derived_rows(warranty=warranty, terms=terms[warranty.terms_id], facts=facts[warranty.pk], on=on):
            known = stored.get((row.warranty_id, row.part_kind))
            if known is not None and standing_values(known) == standing_values(row):
                same.append(known.pk)
            else:
                changed.append(row)
    StoredStanding.objects.filter(pk__in=same).exclude(on=on).update(on=on)
    StoredStanding.objects.bulk_create(
        changed,
        update_conflicts=True,
        unique_fields=["warranty", "part_kind"],
        update_fields=["cover", "care", "through_on", "next_due_on", "reasons", "restore", "on", "inputs_sha256"],
    )
