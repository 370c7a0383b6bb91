"""Reads about the catalogue, systems and components."""

from dataclasses import dataclass
from datetime import date
from string import ascii_uppercase

from django.db.models import Count, Q, QuerySet

from contractor.systems.models import CatalogueModel, Component, System
from contractor.systems.part_kinds import PART_KINDS, PartKind

KIND_ORDER = {kind.code: place for place, kind in enumerate(PART_KINDS)}


@dataclass(frozen=True, slots=True, kw_only=True)
class KindCount:
    """A part kind and how many of it are in a system, for choosing what to add next."""

    kind: PartKind
    in_place: int


def offered_models(part_kind: str) -> QuerySet[CatalogueModel]:
    """Models of a kind that can still be installed."""
    return CatalogueModel.objects.filter(part_kind=part_kind, is_offered=True)


def catalogue(*, part_kind: str = "") -> list[CatalogueModel]:
    """Every model with ``in_houses``, the number of parts of it that are in place, as one walks the basement."""
    counted = Count("components", filter=Q(components__out_on__isnull=True))
    models = CatalogueModel.objects.annotate(in_houses=counted).order_by("maker", "name")
    if part_kind:
        models = models.filter(part_kind=part_kind)
    return sorted(models, key=lambda model: KIND_ORDER[model.part_kind])


def parts_in_place(*, system: System, on: date) -> list[Component]:
    """The parts of a system in the order in which one walks the basement."""
    parts = system.components.in_place(on).select_related("model", "in_by")
    return sorted(parts, key=lambda part: (KIND_ORDER[part.part_kind], part.in_on, part.pk))


def kinds_to_add(parts: list[Component]) -> list[KindCount]:
    """Every part kind with how many are in place already."""
    codes = [part.part_kind for part in parts]
    return [KindCount(kind=kind, in_place=codes.count(kind.code)) for kind in PART_KINDS]


def chain_of(component: Component) -> list[Component]:
    """What stood in this part's place from the first to the latest, this one among them."""
    siblings = Component.objects.filter(system_id=component.system_id, part_kind=component.part_kind)
    by_id = {part.pk: part for part in siblings.select_related("model", "in_by", "out_by")}
    followers = {part.replaces_id: part for part in by_id.values() if part.replaces_id is not None}
    first = by_id[component.pk]
    while first.replaces_id is not None:
        first = by_id[first.replaces_id]
    chain = [first]
    while (following := followers.get(chain[-1].pk)) is not None:
        chain.append(following)
    return chain


def next_wall_letter(system: System) -> str:
    """The first letter that no wall of this system has; empty when all are taken."""
    taken = set(system.walls.values_list("letter", flat=True))
    return next((letter for letter in ascii_uppercase if letter not in taken), "")
