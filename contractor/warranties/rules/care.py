"""The care clock: when the next check-up is due, how far it may be early or late, and where the record has gaps.

The first due day is ``every_months`` after issue. A passed check-up

* inside its window moves the due day to the next day of the anchor's series: being a week late does not drift;
* before its window moves the due day to the later of the present one and ``every_months`` after the check-up, and
  the series is counted from there;
* after the grace starts the series again from its own day.

A check-up before its window must never leave the owner worse off than without it. So both readings are kept, with it
and without it, and the later due day holds; a reading in which a check-up came too late falls away as soon as another
reading has it in time. (Once a record has a gap the series starts again, and may then run up to the grace ahead of a
record with a longer gap: that is the price of a clock that does not drift.)

Days waived count as cared for: nothing is due on them, and they use up no grace.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from contractor.warranties.rules.counting import ONE_DAY, add_months
from contractor.warranties.rules.facts import CheckupDone, Facts, Waiver
from contractor.warranties.rules.terms import CareRule

DayRange = tuple[date, date]  # from, until: the second day is not part of it


class Care(StrEnum):
    """The state of the yearly check-up on a day."""

    NOT_ASKED = "not_asked"
    CURRENT = "current"
    DUE = "due"
    IN_GRACE = "in_grace"
    GAP = "gap"

    @property
    def word(self) -> str:
        """The state as people read it."""
        return {"due": "check-up due"}.get(self.value, self.value.replace("_", " "))


@dataclass(frozen=True, slots=True, kw_only=True)
class CareClock:
    """A series of due days, every so many months from its anchor; the present one is number ``step``."""

    anchor_on: date
    step: int
    every_months: int

    @property
    def due_on(self) -> date:
        """The present due day."""
        return add_months(self.anchor_on, self.step * self.every_months)

    def next(self) -> "CareClock":
        """The same series at its next due day."""
        return CareClock(anchor_on=self.anchor_on, step=self.step + 1, every_months=self.every_months)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """The days from one counted check-up to the next (``until_on`` not included), with one due day.

    ``opens_on`` to ``grace_through_on`` is when a check-up counts for ``due_on``.
    """

    from_on: date
    until_on: date
    due_on: date
    opens_on: date
    grace_through_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Days without the care the terms ask for, after the grace; ``days`` leaves out those that were waived."""

    from_on: date
    until_on: date
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CareOn:
    """Where the care clock stands on a day.

    ``gap_days`` counts the gap that is open on that day. ``gaps`` is the record of every gap up to and with that
    day. ``waived_through_on`` is the last day of a waiver that holds on that day, ``waived_because`` its reason.
    """

    care: Care
    due_on: date | None = None
    opens_on: date | None = None
    grace_through_on: date | None = None
    gap_days: int = 0
    gaps: tuple[Gap, ...] = ()
    waived_through_on: date | None = None
    waived_because: str = ""


def care_on(rule: CareRule | None, facts: Facts, on: date) -> CareOn:
    """The state of care on a day, from the check-ups done up to and with that day."""
    if rule is None or on < facts.issued_on:
        return CareOn(care=Care.NOT_ASKED)
    stretches = care_stretches(rule, facts, on + ONE_DAY)
    present = stretches[-1]
    gaps = _gaps(stretches, facts.waivers)
    waiver = max(
        (waiver for waiver in facts.waivers if waiver.from_on <= on < waiver.until_on),
        key=lambda waiver: waiver.until_on,
        default=None,
    )
    if waiver is not None or on < present.opens_on:
        care = Care.CURRENT
    elif on <= present.due_on:
        care = Care.DUE
    else:
        care = Care.IN_GRACE if on <= present.grace_through_on else Care.GAP
    return CareOn(
        care=care,
        due_on=present.due_on,
        opens_on=present.opens_on,
        grace_through_on=present.grace_through_on,
        gap_days=gaps[-1].days if care is Care.GAP else 0,
        gaps=gaps,
        waived_through_on=waiver.until_on - ONE_DAY if waiver else None,
        waived_because=waiver.because if waiver else "",
    )


def care_changes(rule: CareRule | None, facts: Facts, until_on: date) -> tuple[date, ...]:
    """Every day before ``until_on`` on which the answer of ``care_on`` may change, in order."""
    if rule is None or until_on <= facts.issued_on:
        return ()
    days = {facts.issued_on}
    for stretch in care_stretches(rule, facts, until_on):
        days |= {stretch.from_on, stretch.opens_on, stretch.due_on + ONE_DAY, stretch.grace_through_on + ONE_DAY}
    for waiver in facts.waivers:
        days |= {waiver.from_on, waiver.until_on}
    return tuple(sorted(day for day in days if facts.issued_on <= day < until_on))


def care_stretches(rule: CareRule, facts: Facts, until_on: date) -> tuple[Stretch, ...]:
    """The time from issue to ``until_on`` (not included), cut at the check-ups that counted."""
    waived = _merged(facts.waivers)
    clocks: tuple[CareClock, ...] = (CareClock(anchor_on=facts.issued_on, step=1, every_months=rule.every_months),)
    starts: list[tuple[date, date]] = [(facts.issued_on, clocks[0].due_on)]
    for day in sorted({checkup.on for checkup in counted_checkups(rule, facts)}):
        if day >= until_on:
            break
        clocks = _after_checkup(rule, clocks, day, waived)
        starts.append((day, max(clock.due_on for clock in clocks)))
    ends = [from_on for from_on, _ in starts[1:]] + [until_on]
    return tuple(
        Stretch(
            from_on=from_on,
            until_on=end,
            due_on=due_on,
            opens_on=due_on - timedelta(days=rule.early_days),
            grace_through_on=_grace_through(rule, due_on, waived),
        )
        for (from_on, due_on), end in zip(starts, ends, strict=True)
    )


def counted_checkups(rule: CareRule | None, facts: Facts) -> tuple[CheckupDone, ...]:
    """The check-ups that count: passed, not before issue, by us or by whoever else the terms accept."""
    others = rule is None or rule.any_provider
    return tuple(
        checkup
        for checkup in facts.checkups
        if checkup.passed and checkup.on >= facts.issued_on and (others or checkup.by == "us")
    )


def _after_checkup(
    rule: CareRule, clocks: tuple[CareClock, ...], on: date, waived: tuple[DayRange, ...]
) -> tuple[CareClock, ...]:
    in_time = [clock for clock in clocks if on <= _grace_through(rule, clock.due_on, waived)]
    if not in_time:
        return (CareClock(anchor_on=on, step=0, every_months=rule.every_months).next(),)
    after: dict[CareClock, None] = {}
    for clock in in_time:
        if on >= _opens_on(rule, clock):
            after[_advanced(rule, clock, on)] = None
            continue
        after[clock] = None
        moved_to = add_months(on, rule.every_months)
        if moved_to > clock.due_on:
            after[CareClock(anchor_on=moved_to, step=0, every_months=rule.every_months)] = None
    return tuple(after)


def _advanced(rule: CareRule, clock: CareClock, on: date) -> CareClock:
    # More than one step only when a long waiver has carried the check-up into a later window as well.
    while on >= _opens_on(rule, clock):
        clock = clock.next()
    return clock


def _opens_on(rule: CareRule, clock: CareClock) -> date:
    return clock.due_on - timedelta(days=rule.early_days)


def _grace_through(rule: CareRule, due_on: date, waived: tuple[DayRange, ...]) -> date:
    """The last day of grace: ``grace_days`` days after the due day, those waived not counted."""
    last = due_on + timedelta(days=rule.grace_days + 1)
    for from_on, until_on in waived:
        if from_on > last:
            break
        last += max(until_on - max(from_on, due_on + ONE_DAY), timedelta(0))
    return last - ONE_DAY


def _gaps(stretches: Iterable[Stretch], waivers: tuple[Waiver, ...]) -> tuple[Gap, ...]:
    waived = _merged(waivers)
    gaps = []
    for stretch in stretches:
        from_on = stretch.grace_through_on + ONE_DAY
        if from_on < stretch.until_on:
            excused = sum(max((min(until, stretch.until_on) - max(start, from_on)).days, 0) for start, until in waived)
            gaps.append(
                Gap(from_on=from_on, until_on=stretch.until_on, days=(stretch.until_on - from_on).days - excused)
            )
    return tuple(gaps)


def _merged(waivers: tuple[Waiver, ...]) -> tuple[DayRange, ...]:
    """Waived days as ranges that neither touch nor overlap, in order."""
    merged: list[DayRange] = []
    for waiver in waivers:  # Facts keeps them in order
        if merged and waiver.from_on <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], waiver.until_on))
        else:
            merged.append((waiver.from_on, waiver.until_on))
    return tuple(merged)
