"""What was done to one warranted system: the facts from which its standing is derived.

Every value refuses what cannot be, so that no rule need ask again. A fact that a later record corrects is simply
handed in corrected: to know what the office knew on an earlier day, hand in only what was recorded by then.
"""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from contractor.systems.part_kinds import BY_CODE

CheckupKind = Literal["yearly", "reinstatement", "transfer"]
Provider = Literal["us", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentSpan:
    """One component's time in service: from ``in_on``; ``out_on`` is the first day on which it no longer served."""

    part_kind: str
    in_on: date
    out_on: date | None = None

    def __post_init__(self) -> None:
        if self.part_kind not in BY_CODE:
            raise ValueError(f"There is no part kind {self.part_kind!r}.")
        if self.out_on is not None and self.out_on < self.in_on:
            raise ValueError(f"A {self.part_kind} put in on {self.in_on} cannot be taken out on {self.out_on}.")

    def serves(self, on: date) -> bool:
        """Whether the component is in service on this day."""
        return self.in_on <= on and (self.out_on is None or on < self.out_on)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckupDone:
    """A check-up on the day it was done; ``passed`` once nothing it found is open.

    A record of another qualified provider is a fact (``by="other"``) from the moment the office accepted it.
    """

    on: date
    kind: CheckupKind = "yearly"
    passed: bool = True
    by: Provider = "us"


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferDone:
    """The warranty was carried over to the next owner, whose day ``on`` is already."""

    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """Days that count as cared for by a manager's decision: from ``from_on``, up to but without ``until_on``."""

    from_on: date
    until_on: date
    because: str

    def __post_init__(self) -> None:
        if self.until_on <= self.from_on:
            raise ValueError(f"A waiver from {self.from_on} until {self.until_on} has no day in it.")
        if not self.because.strip():
            raise ValueError("A waiver needs its reason.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """All that happened to one warranty; kept in the order of time, whatever the order in which it came."""

    issued_on: date
    components: tuple[ComponentSpan, ...] = ()
    checkups: tuple[CheckupDone, ...] = ()
    transfers: tuple[TransferDone, ...] = ()
    waivers: tuple[Waiver, ...] = ()
    voided_on: date | None = None
    voided_because: str = ""

    def __post_init__(self) -> None:
        # The order is settled here, once, so that equal facts are equal and freeze to the same bytes.
        ordered = {
            "components": tuple(
                sorted(self.components, key=lambda part: (part.part_kind, part.in_on, part.out_on or date.max))
            ),
            "checkups": tuple(sorted(self.checkups, key=lambda done: (done.on, done.kind, done.by, done.passed))),
            "transfers": tuple(sorted(self.transfers, key=lambda done: done.on)),
            "waivers": tuple(sorted(self.waivers, key=lambda waiver: (waiver.from_on, waiver.until_on))),
        }
        for name, value in ordered.items():
            object.__setattr__(self, name, value)
        if self.transfers and self.transfers[0].on < self.issued_on:
            raise ValueError(f"A transfer on {self.transfers[0].on} lies before the issue day {self.issued_on}.")
        if self.voided_on is not None:
            if self.voided_on < self.issued_on:
                raise ValueError(f"Voided on {self.voided_on}, before the issue day {self.issued_on}.")
            if not self.voided_because.strip():
                raise ValueError("A void warranty needs the clause and the reason.")

    def components_of(self, part_kind: str) -> tuple[ComponentSpan, ...]:
        """Every component of one kind, oldest first."""
        return tuple(part for part in self.components if part.part_kind == part_kind)
