"""A rule that terms can break, and the breach of one: the shape of every jurisdiction's list."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from contractor.warranties.rules.terms import Terms

Severity = Literal["E", "W", "I"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokenRule:
    """One rule that terms break: where, what to do, and on what authority."""

    code: str
    severity: Severity
    field: str
    sentence: str
    citation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A line of a list; ``faults`` names the fields of the terms that break it."""

    code: str
    severity: Severity
    sentence: str
    citation: str
    faults: Callable[[Terms], list[str]]

    def broken_at(self, field: str) -> BrokenRule:
        """The breach of this rule at one field."""
        return BrokenRule(
            code=self.code, severity=self.severity, field=field, sentence=self.sentence, citation=self.citation
        )


def rule(code: str, severity: Severity, faults: Callable[[Terms], list[str]], sentence: str, citation: str) -> Rule:
    """A line of a list, written short."""
    return Rule(code=code, severity=severity, sentence=sentence, citation=citation, faults=faults)
