"""What comes out: dates, levels and sentences, each with inputs, steps and cautions enough to do it again by hand."""

from dataclasses import dataclass
from datetime import date

GOOD, WATCH, BAD, UNKNOWN = "good", "watch", "bad", "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One thing a result was made from, as people read it; ``on`` is an ISO day or "", ``note`` whose figure it is."""

    name: str
    value: str
    unit: str
    origin: str
    on: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of the computation: the formula, the same with this system's numbers (base units), and the result."""

    name: str
    formula: str
    with_numbers: str
    result: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """When one part should be replaced and why, before it is weighed how urgent that is.

    ``shape`` is the Weibull shape of its life. ``has_failed`` tells that a test or measurement has found it at its end.
    """

    component_id: int
    installed_on: date
    replace_by: date
    earliest: date
    latest: date
    governing: str
    reason: str
    inputs: tuple[Input, ...]
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]
    shape: float
    has_failed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PartEstimate:
    """By when one battery or pump should be replaced; the fields of the table ``LifeEstimate``."""

    component_id: int
    replace_by: date
    earliest: date
    latest: date
    governing: str
    reason: str
    inputs: tuple[Input, ...]
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]
    probability: float
    consequence: int
    consequence_reason: str
    urgency: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemResult:
    """One thing computed of the system as a whole; ``level`` is "good", "watch", "bad" or "unknown"."""

    code: str
    level: str
    sentence: str
    reasons: tuple[str, ...] = ()
    inputs: tuple[Input, ...] = ()
    steps: tuple[Step, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimates:
    """All estimates of one system: its batteries and pumps, and the system as a whole."""

    system_id: int
    parts: tuple[PartEstimate, ...]
    results: tuple[SystemResult, ...]

    def result(self, code: str) -> SystemResult:
        """The result with this code; KeyError where there is none."""
        for result in self.results:
            if result.code == code:
                return result
        raise KeyError(code)
