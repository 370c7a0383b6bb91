"""Which items are asked at a house: the checklist laid over the parts that are there, in walking order."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from contractor.checkups.rules.items import Item, walking_order

ComponentId = int | str
LineKey = tuple[str, ComponentId | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One installed component: its kind and its model's catalogue data.

    ``pit_id`` is the pit that a pump stands in; it is needed only where a system has several.
    """

    component_id: ComponentId
    part_kind: str
    data: Mapping[str, Any] = field(default_factory=dict)
    pit_id: ComponentId | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One item as asked at this house: for one component, or for the house when ``part`` is None."""

    item: Item
    part: Part | None = None

    @property
    def key(self) -> LineKey:
        """The item's code and the component's id (None for the house): what an answer refers to."""
        return self.item.code, self.part.component_id if self.part else None


def lines_for(items: Sequence[Item], parts: Sequence[Part]) -> tuple[Line, ...]:
    """The lines of a check-up in walking order.

    Items for kinds that are not there are left out, and so are items whose ``applies_to`` the component does not
    meet. Where a kind is there more than once, its neighbouring items are walked through for one component
    before the next; components keep the order in which ``parts`` lists them.
    """
    lines: list[Line] = []
    ordered = sorted(items, key=walking_order)
    for (_, part_kind), run in groupby(ordered, key=lambda item: (item.step, item.part_kind)):
        neighbours = tuple(run)
        if not part_kind:
            lines.extend(Line(item=item) for item in neighbours)
            continue
        for part in parts:
            if part.part_kind == part_kind:
                lines.extend(Line(item=item, part=part) for item in neighbours if applies(item, part))
    return tuple(lines)


def applies(item: Item, part: Part) -> bool:
    """Whether the component's catalogue data meets every key of the item's ``applies_to``.

    A key that the data does not hold counts as None ("not recorded"), which an item may list among its values.
    """
    return all(part.data.get(key) in accepted for key, accepted in item.applies_to)


def pit_of(line: Line, parts: Sequence[Part]) -> Part | None:
    """The pit that a line's test is made in: its own component, the one that its pump stands in, or the only one.

    None when there is none, or when there are several and nothing says which.
    """
    pits = [part for part in parts if part.part_kind == "pit"]
    if line.part and len(pits) > 1:
        wanted = line.part.component_id if line.part.part_kind == "pit" else line.part.pit_id
        pits = [pit for pit in pits if pit.component_id == wanted]
    return pits[0] if len(pits) == 1 else None


def diameter_m(pit: Part | None) -> float | None:
    """The inside diameter of a pit from its catalogue data; None when it is not declared."""
    value = pit.data.get("diameter_m") if pit else None
    return float(value) if value else None
