"""What a moved closing day means for a buyer who has accepted already."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenLine:
    """One promise as a buyer would take it over: whether it is in force, and its last day, None for a life."""

    is_covered: bool
    through_on: date | None


def acceptance_stands(accepted: Sequence[TakenLine], now: Sequence[TakenLine]) -> bool:
    """Whether what the buyer accepted is still theirs in full, promise by promise in the order of the terms.

    They took the warranty over "on its terms from the closing day", so another day alone changes nothing. Where a
    promise that they read as in force would be over by then, or would end sooner, they have to read again.
    """
    return all(
        not before.is_covered or (after.is_covered and _lasts_as_long(before.through_on, after.through_on))
        for before, after in zip(accepted, now, strict=True)
    )


def _lasts_as_long(before: date | None, after: date | None) -> bool:
    return after is None or (before is not None and after >= before)
