"""The warranty liability of a period: as it was closed, or reckoned from what is on record."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from contractor.core.templatetags.country_style import amount_in_words
from contractor.systems.part_kinds import part_kind as kind_of
from contractor.warranties.claim_costs import booked_between
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.liability_assumed import Typed, assumptions
from contractor.warranties.liability_cover import balance
from contractor.warranties.liability_register import read_register
from contractor.warranties.models import LiabilityYear, Warranty
from contractor.warranties.rules.counting import ONE_DAY
from contractor.warranties.rules.liability import NOTHING, Issued, Payment, liability_roll, payments_apart
from contractor.warranties.rules.liability_data import Liability, liability_from_data
from contractor.warranties.rules.liability_reserve import Assumption, ReserveRow
from contractor.warranties.rules.wording import day_in_words


def closed_years() -> list[LiabilityYear]:
    """The closed years, the latest first, without their rows."""
    return list(LiabilityYear.objects.select_related("closed_by").defer("rows", "table"))


def closed_year(*, from_on: date, until_on: date) -> LiabilityYear | None:
    """The closed year with exactly these days."""
    found = LiabilityYear.objects.filter(from_on=from_on, until_on=until_on)
    return found.select_related("closed_by").first()


def year_hash(from_on: date, until_on: date, table: Mapping[str, Any], rows: Mapping[str, Any]) -> str:
    """The SHA-256 of a closed year's days, table and rows as canonical JSON."""
    days = {"from_on": from_on.isoformat(), "until_on": until_on.isoformat()}
    return freeze({**days, "table": table, "rows": rows}).sha256


def kept_liability(year: LiabilityYear) -> Liability:
    """A closed year as it was closed; ValueError when it was tampered with since."""
    if year_hash(year.from_on, year.until_on, year.table, year.rows) != year.sha256:
        raise ValueError(f"The closed year through {year.until_on} is no longer what was closed: its hash differs.")
    return liability_from_data(year.from_on, year.until_on, year.table, year.rows)


def reckoned_liability(*, from_on: date, until_on: date, typed: Typed) -> Liability:
    """The liability of a period from the records.

    The opening balance is the closing one of the year that ends on the day before, when that was closed; otherwise it
    is reckoned in the same way from what had happened by then.
    """
    before_on = from_on - ONE_DAY
    assumed = assumptions(on=until_on, typed=typed)
    register = read_register(before_on=before_on, until_on=until_on)
    closing = balance(on=until_on, assumed=assumed, register=register)
    named = {one.warranty_id: one for one in _issued(until_on)}
    closed = LiabilityYear.objects.filter(until_on=before_on).first()
    if closed is not None:
        kept = kept_liability(closed)
        opening = {one.warranty_id: one.closing for one in kept.roll.movements}
        named = {one.warranty_id: one for one in kept.issued} | named
        note = f"The opening balance is that of the year closed on {day_in_words(before_on)}."
    else:
        opening = balance(
            on=before_on, assumed=assumptions(on=before_on, typed=typed), register=register
        ).by_warranty
        note = (
            f"No closed year ends on {day_in_words(before_on)}. The opening balance is reckoned now, from what had "
            "happened by then."
        )
    payments = payments_between(from_on, until_on)
    roll = liability_roll(
        from_on,
        until_on,
        warranties=named.values(),
        opening=opening,
        closing=closing.by_warranty,
        payments=payments,
    )
    return Liability(
        roll=roll,
        payments=tuple(payments),
        reserve=closing.rows,
        assumptions=tuple(assumed.values()),
        notes=(*_missing(closing.not_reckoned, assumed), *_told(payments, closing.claims), note),
    )


def payments_between(from_on: date, until_on: date) -> list[Payment]:
    """What was booked on claims in a period, in cash and in kind, each entry by its own day."""
    return [
        Payment(
            claim_id=cost.claim_id,
            warranty_id=cost.claim.warranty_id,
            part_kind=cost.claim.part_kind,
            paid_on=cost.on,
            amount=cost.amount,
            paid_in=cost.paid_in,
            is_goodwill=cost.is_goodwill,
        )
        for cost in booked_between(from_on, until_on)
        if cost.amount
    ]


def _issued(on: date) -> list[Issued]:
    rows = Warranty.objects.filter(issued_on__lte=on).values_list("pk", "number", "issued_on")
    return [Issued(warranty_id=pk, number=number, issued_on=issued_on) for pk, number, issued_on in rows]


def _missing(not_reckoned: Mapping[str, int], assumed: Mapping[str, Assumption]) -> list[str]:
    """A sentence for every kind that stands in the figures with nothing, and what would change that."""
    return [
        f"{count:,} {kind_of(code).word if count == 1 else kind_of(code).plural} under cover "
        f"{'is' if count == 1 else 'are'} not in these figures, because nobody knows {_unknown(assumed[code])}."
        for code, count in not_reckoned.items()
    ]


def _told(payments: Sequence[Payment], claims: Sequence[ReserveRow]) -> list[str]:
    """Sentences on what an accountant may want to see apart."""
    goodwill = payments_apart(payments).goodwill
    waiting = sum((row.amount for row in claims if row.is_decided), NOTHING)
    told = []
    if goodwill:
        told.append(
            f"Of the payments, {amount_in_words(goodwill)} are goodwill beyond the terms. Whether goodwill belongs in "
            "this table is for the accountant to say."
        )
    if waiting:
        told.append(f"Of the balance at the end, {amount_in_words(waiting)} are decided and not booked yet.")
    return told


def _unknown(assumption: Assumption) -> str:
    if assumption.cost is None and assumption.scale_years is None:
        return "what a repair costs or how long they last"
    return "what a repair costs" if assumption.cost is None else "how long they last"
