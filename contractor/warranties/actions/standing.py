"""Writes of the stored standing: a copy for lists, renewed after facts change and every night."""

import logging
from collections.abc import Sequence
from datetime import date

from django.db import OperationalError, transaction

from contractor.warranties.models import StoredStanding, Warranty
from contractor.warranties.standing_rows import SUM, Values, derived_standings, stored_standings, warranties_after

AT_ONCE = 2000
ROWS_AT_ONCE = 5000  # in one statement

logger = logging.getLogger(__name__)


def refresh_standing(*, warranty_id: int, on: date) -> None:
    """Derives and stores the standing of one warranty."""
    _refresh(list(Warranty.objects.filter(pk=warranty_id)), on)


def refresh_house_standings(*, property_id: int, on: date) -> None:
    """Derives and stores the standing of every warranty of a house."""
    _refresh(list(Warranty.objects.filter(system__property_id=property_id)), on)


def refresh_all_standings(*, on: date, at_once: int = AT_ONCE) -> int:
    """Derives the standing of every warranty and stores what changed; returns how many could be derived.

    A warranty that can't be derived keeps what is stored, and is logged. Safe to run twice and to break off.
    """
    after, count = 0, 0
    while chunk := warranties_after(after, most=at_once):
        count += _refresh_what_can_be(chunk, on)
        after = chunk[-1].pk
    return count


def _refresh_what_can_be(warranties: Sequence[Warranty], on: date) -> int:
    """Refreshes all at once; when that fails, each half by itself, down to the one at fault."""
    try:
        _refresh(warranties, on)
    except OperationalError:
        raise  # the database itself: trying again with fewer would only hide it
    except Exception:
        if len(warranties) == 1:
            logger.exception("The standing of warranty %s can't be derived; the stored one stays.", warranties[0])
            return 0
        half = len(warranties) // 2
        return _refresh_what_can_be(warranties[:half], on) + _refresh_what_can_be(warranties[half:], on)
    return len(warranties)


@transaction.atomic
def _refresh(warranties: Sequence[Warranty], on: date) -> None:
    # The warranties are locked before their facts are read: of two refreshes at once, the later one reads later
    # facts and so is the one that stays.
    locked = Warranty.objects.select_for_update().filter(pk__in=[warranty.pk for warranty in warranties])
    list(locked.order_by("pk").values_list("pk", flat=True))
    derived, stored = derived_standings(warranties, on), stored_standings(warranties)
    changed: list[StoredStanding] = []
    same: list[int] = []
    for warranty_id, standings in derived.items():
        known = stored[warranty_id]
        differing = {
            part_kind: values
            for part_kind, values in standings.items()
            if part_kind not in known or known[part_kind][1] != values
        }
        changed += [_row(warranty_id, part_kind, values, on) for part_kind, values in differing.items()]
        if SUM in known and SUM not in differing and known[SUM][0] != on:
            same.append(warranty_id)
    # The row that sums up says on which day a warranty was derived last; the others when they last changed.
    StoredStanding.objects.filter(warranty__in=same, part_kind=SUM).update(on=on)
    StoredStanding.objects.bulk_create(
        changed,
        batch_size=ROWS_AT_ONCE,
        update_conflicts=True,
        unique_fields=["warranty", "part_kind"],
        update_fields=["on", *Values._fields],
    )


def _row(warranty_id: int, part_kind: str, values: Values, on: date) -> StoredStanding:
    return StoredStanding(warranty_id=warranty_id, part_kind=part_kind, on=on, **values._asdict())
