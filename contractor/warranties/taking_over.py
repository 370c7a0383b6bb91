"""What a buyer would take over: the promises as they would stand on the closing day, and what is asked in return.

Nothing in it speaks of the seller: no name, no letter, no note of a technician.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.checkups.models import Finding
from contractor.checkups.queries import drawn_parts, open_findings
from contractor.core.units import shown
from contractor.systems.drawing import DrawnPart
from contractor.systems.models import TreatedWall
from contractor.warranties.certificate_lines import promise_lines
from contractor.warranties.models import Transfer
from contractor.warranties.printed_codes import display_warranty_number
from contractor.warranties.queries import facts_of, standings_under, terms_of
from contractor.warranties.rules.care import care_on
from contractor.warranties.rules.facts import Facts, TransferDone
from contractor.warranties.rules.terms import Terms

SEVERITY_TONES = {
    Finding.Severity.WATCH: "watch",
    Finding.Severity.BAD: "bad",
    Finding.Severity.URGENT: "bad",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenPromise:
    """One promise on the closing day. ``through_on`` is the last day, included; empty for a life, named by ``life``."""

    number: int
    word: str
    covers: str
    where: str
    is_covered: bool
    through_on: date | None
    life: str
    share: str
    share_note: str
    callout_fee: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFinding:
    """Something open at the house, by kind only."""

    word: str
    severity: str
    tone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """A treated wall with its length in the company's unit."""

    wall: TreatedWall
    length: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TakingOver:
    """Everything that a buyer takes over with one warranty on the closing day, as far as it is known now."""

    number: str
    terms: Terms
    closing_on: date
    promises: Sequence[TakenPromise]
    parts: Sequence[DrawnPart]
    walls: Sequence[Wall]
    last_checkup_on: date | None
    next_due_on: date | None
    gap_days: int
    open_findings: Sequence[OpenFinding]

    @property
    def covered(self) -> list[TakenPromise]:
        """What is covered on the closing day."""
        return [one for one in self.promises if one.is_covered]

    @property
    def not_covered(self) -> list[TakenPromise]:
        """What was promised once and is over by then."""
        return [one for one in self.promises if not one.is_covered]


def taking_over(transfer: Transfer) -> TakingOver:
    """What the buyer of this transfer takes over on its closing day."""
    warranty, on = transfer.warranty, transfer.closing_on
    terms, facts = terms_of(warranty), _as_if_issued(facts_of(warranty), transfer)
    # A part's note is what a technician wrote of it, for the owner.
    parts = [replace(part, note="") for part in drawn_parts(system=warranty.system, on=on)]
    standings = standings_under(terms=terms, facts=facts, on=on)
    care = care_on(terms.care, facts, on)
    unit = "ft" if the_company().units == Company.Units.US else "m"
    passed = [done.on for done in facts.checkups if done.passed]
    return TakingOver(
        number=display_warranty_number(warranty.number),
        terms=terms,
        closing_on=on,
        promises=[
            TakenPromise(
                number=line["number"],
                word=line["word"],
                covers=line["covers"],
                where=line["where"],
                is_covered=line["cover"] in {"in_force", "suspended"},
                through_on=date.fromisoformat(line["through_on"]) if line["through_on"] else None,
                life=line["life"],
                share=line["share_today"],
                share_note=line["share_note"],
                callout_fee=Decimal(line["callout_fee"]),
            )
            for line in promise_lines(terms=terms, facts=facts, promises=standings, parts=parts, on=on)
        ],
        parts=parts,
        walls=[Wall(wall=wall, length=shown(wall.length_m, unit)) for wall in warranty.system.walls.all()],
        last_checkup_on=max(passed, default=None),
        next_due_on=care.due_on,
        gap_days=sum(gap.days for gap in care.gaps),
        open_findings=_open_findings(warranty.system_id),
    )


def _as_if_issued(facts: Facts, transfer: Transfer) -> Facts:
    if transfer.state == Transfer.State.ISSUED:
        return facts
    return replace(facts, transfers=(*facts.transfers, TransferDone(on=transfer.closing_on)))


def _open_findings(system_id: int) -> list[OpenFinding]:
    """One line for each kind of part, the gravest first; what was written about it stays with the owner."""
    found: dict[str, OpenFinding] = {}
    for finding in open_findings(system_id=system_id):
        word = finding.component.get_part_kind_display() if finding.component is not None else "The system as a whole"
        severity = Finding.Severity(finding.severity)
        line = OpenFinding(word=word, severity=severity.label.lower(), tone=SEVERITY_TONES[severity])
        found.setdefault(word, line)
    return list(found.values())
