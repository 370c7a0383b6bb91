"""Terms and facts for the tests of the rules: short to write, with the days as ISO text."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from contractor.warranties.rules.claims import to_cents
from contractor.warranties.rules.facts import CheckupDone, ComponentSpan, Facts, TransferDone, Waiver
from contractor.warranties.rules.terms import CareRule, Exclusion, Promise, Terms, TransferRule

ISSUED = "2026-05-14"
YEARLY = CareRule(
    every_months=12, early_days=60, grace_days=30, charge=Decimal("145.00"), any_provider=True, when_missed="judge"
)
SUSPENDING = replace(YEARLY, when_missed="suspend")
OPEN_TRANSFER = TransferRule(
    allowed=True, most=2, notice_days=30, fee=Decimal("150.00"), checkup_within_days=90, months_after=120
)
PROMISES = (
    Promise(part_kind="channel", months=None, life_of="structure"),
    Promise(part_kind="liner", months=None, life_of="ownership"),
    Promise(part_kind="containment_ring", months=None, life_of="product"),
    Promise(part_kind="pit", months=300),
    Promise(part_kind="primary_pump", months=60, full_months=36, callout_fee=Decimal("75.00")),
    Promise(part_kind="battery", months=36, full_months=12, starts="component"),
)


def day(text: str) -> date:
    return date.fromisoformat(text)


def terms(**changes: Any) -> Terms:
    """Limited terms with promises of every sort; care is judged, a transfer leaves a life 120 months."""
    values: dict[str, Any] = {
        "edition": "test-1",
        "designation": "LIMITED",
        "promises": PROMISES,
        "care": YEARLY,
        "transfer": OPEN_TRANSFER,
        "exclusions": (Exclusion(code="flood", sentence="A flood of a river."),),
    }
    return Terms(**(values | changes))


def part(kind: str, in_on: str = ISSUED, out_on: str | None = None) -> ComponentSpan:
    return ComponentSpan(part_kind=kind, in_on=day(in_on), out_on=day(out_on) if out_on else None)


def done(on: str, kind: Any = "yearly", passed: bool = True, by: Any = "us") -> CheckupDone:
    return CheckupDone(on=day(on), kind=kind, passed=passed, by=by)


def waiver(from_on: str, until_on: str) -> Waiver:
    return Waiver(from_on=day(from_on), until_on=day(until_on), because="The road was washed out")


def facts(*components: ComponentSpan, **changes: Any) -> Facts:
    """Facts issued on May 14, 2026; every kind with a promise is in place unless components are given."""
    transfers = tuple(TransferDone(on=day(on)) for on in changes.pop("transfers", ()))
    voided_on = changes.pop("voided_on", None)
    return Facts(
        issued_on=day(changes.pop("issued_on", ISSUED)),
        components=components or tuple(part(promise.part_kind) for promise in PROMISES),
        transfers=transfers,
        voided_on=day(voided_on) if voided_on else None,
        voided_because="Clause 7: the system was removed" if voided_on else "",
        **changes,
    )


def expected_amount(cost: Decimal, share: Decimal) -> Decimal:
    """Cost times share in exact fractions, rounded half-even to cents: the long way round."""
    return to_cents(Fraction(cost) * Fraction(share))
