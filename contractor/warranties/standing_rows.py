"""The stored standings: what they are derived as, and whether what is stored is what is derived."""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any, NamedTuple

from django.db import OperationalError

from contractor.warranties.models import StoredStanding, TermsEdition, Warranty
from contractor.warranties.queries import facts_of_many, overall_cover
from contractor.warranties.rules.facts import Facts
from contractor.warranties.rules.plain_data import facts_to_data, terms_from_data
from contractor.warranties.rules.standing import Standing, standings_on
from contractor.warranties.rules.terms import Terms

SUM = ""  # the part kind of the row that sums up a warranty


class Values(NamedTuple):
    """Everything in a stored standing but whose it is and its day, for comparing two."""

    cover: str
    care: str
    through_on: date | None
    next_due_on: date | None
    reasons: Sequence[str]
    restore: str
    inputs_sha256: str


class _Edition(NamedTuple):
    terms: Terms
    sha256: str


def warranties_after(pk: int, *, most: int) -> list[Warranty]:
    """The next warranties by id, without the text of their terms: the editions are few and are read by themselves."""
    return list(Warranty.objects.filter(pk__gt=pk).order_by("pk")[:most])


def derived_standings(warranties: Sequence[Warranty], on: date) -> dict[int, dict[str, Values]]:
    """What the standings of warranties are on a day, by warranty and part kind, in seven queries however many.

    The row with the empty part kind sums up. Raises what the facts or the terms of any one of them raise.
    """
    editions = _editions({warranty.terms_id for warranty in warranties})
    facts = facts_of_many(warranties)
    return {one.pk: _derived(editions[one.terms_id], facts[one.pk], on) for one in warranties}


def stored_standings(warranties: Sequence[Warranty]) -> dict[int, dict[str, tuple[date, Values]]]:
    """What is stored of warranties, each with its day."""
    rows = StoredStanding.objects.filter(warranty__in=[one.pk for one in warranties])
    stored: dict[int, dict[str, tuple[date, Values]]] = defaultdict(dict)
    for warranty_id, part_kind, on, *values in rows.values_list("warranty_id", "part_kind", "on", *Values._fields):
        stored[warranty_id][part_kind] = (on, Values(*values))
    return stored


def wrong_standings(*, after: int = 0, most: int = 2000) -> tuple[list[str], int | None]:
    """Compares a chunk of stored standings with a new derivation on the day of their last renewal.

    Returns a sentence for each difference, and the id to go on after (None at the end).
    """
    chunk = warranties_after(after, most=most)
    stored = stored_standings(chunk)
    problems = [f"{one.number}: no standing is stored." for one in chunk if SUM not in stored[one.pk]]
    renewed: dict[date, list[Warranty]] = defaultdict(list)
    for one in chunk:
        if SUM in stored[one.pk]:
            renewed[stored[one.pk][SUM][0]].append(one)
    for on in sorted(renewed):
        problems += _differences(renewed[on], stored, on)
    return problems, chunk[-1].pk if len(chunk) == most else None


def _differences(
    warranties: Sequence[Warranty], stored: dict[int, dict[str, tuple[date, Values]]], on: date
) -> Iterable[str]:
    try:
        derived = derived_standings(warranties, on)
    except OperationalError:
        raise
    except Exception as error:
        if len(warranties) == 1:
            return [f"{warranties[0].number}: no standing can be derived: {error}"]
        half = len(warranties) // 2
        return [*_differences(warranties[:half], stored, on), *_differences(warranties[half:], stored, on)]
    return [sentence for one in warranties for sentence in _differing(one, derived[one.pk], stored[one.pk], on)]


def _differing(
    warranty: Warranty, derived: dict[str, Values], stored: dict[str, tuple[date, Values]], on: date
) -> Iterable[str]:
    for part_kind, values in derived.items():
        name = f"{warranty.number} {part_kind or 'summed up'}"
        if part_kind not in stored:
            yield f"{name}: no standing is stored."
        elif stored[part_kind][1] != values:
            yield f"{name}: the stored standing of {on} is not the derived one."
    for part_kind in stored.keys() - derived.keys():
        yield f"{warranty.number} {part_kind}: a standing is stored that the terms don't promise."


def _editions(ids: Iterable[int]) -> dict[int, _Edition]:
    return {
        edition.pk: _Edition(terms_from_data(edition.data), _sha256(edition.data))
        for edition in TermsEdition.objects.filter(pk__in=ids)
    }


def _derived(edition: _Edition, facts: Facts, on: date) -> dict[str, Values]:
    inputs = _sha256([edition.sha256, facts_to_data(facts)])
    found = standings_on(edition.terms, facts, on)
    summed_up = [(SUM, _summed_up([standing for _, standing in found]))] if found else []
    return {
        part_kind: Values(
            cover=standing.cover.value,
            care=standing.care.value,
            through_on=standing.through_on,
            next_due_on=standing.next_due_on,
            reasons=list(standing.reasons),
            restore=standing.restore,
            inputs_sha256=inputs,
        )
        for part_kind, standing in [*summed_up, *found]
    }


def _summed_up(standings: Sequence[Standing]) -> Standing:
    cover = overall_cover(standings)
    alike = [standing for standing in standings if standing.cover is cover]
    last_days = [standing.through_on for standing in alike if standing.through_on is not None]
    # A life without a last day outlasts every date.
    through_on = max(last_days) if len(last_days) == len(alike) else None
    first = alike[0]
    return Standing(
        cover=cover,
        care=first.care,
        through_on=through_on,
        reasons=first.reasons,
        restore=first.restore,
        next_due_on=first.next_due_on,
        gap_days=first.gap_days,
    )


def _sha256(data: Any) -> str:
    return hashlib.sha256(json.dumps(data, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
