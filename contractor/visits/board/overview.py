"""A long stretch at a glance: what each day holds and has free, and each week in sum. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from contractor.visits.board.faults import short_words
from contractor.visits.board.rules import load_words
from contractor.visits.routing.ground import Key
from contractor.visits.routing.problem import MINUTE, Round, Shift


@dataclass(frozen=True, slots=True, kw_only=True)
class OverviewDay:
    """One day of all technicians together; ``worked`` and ``driven`` are per cent of its hours."""

    day: date
    technicians: int
    visits: int
    driving: str
    free: str
    load: str
    worked: int
    driven: int
    wrong: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OverviewWeek:
    """One week in sum; ``to_tell`` is how many owners a draft of it still has to tell."""

    days: tuple[OverviewDay, ...]
    is_shown: bool
    visits: int
    rounds: int
    driving: str
    free: str
    wrong: int
    to_tell: int

    @property
    def first_on(self) -> date:
        return self.days[0].day

    @property
    def last_on(self) -> date:
        return self.days[-1].day

    @property
    def by_weekday(self) -> list[OverviewDay | None]:
        """Monday to Sunday, with None where the stretch has no such day."""
        known = {each.day.weekday(): each for each in self.days}
        return [known.get(number) for number in range(7)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Overview:
    """All weeks of a stretch; ``weekdays`` are those on which anybody works, Monday is 0."""

    weeks: tuple[OverviewWeek, ...]

    @property
    def weekdays(self) -> list[int]:
        return sorted({each.day.weekday() for week in self.weeks for each in week.days})

    @property
    def rows(self) -> list[tuple[OverviewWeek, list[OverviewDay | None]]]:
        """Each week with its days under ``weekdays``."""
        return [(week, [week.by_weekday[number] for number in self.weekdays]) for week in self.weeks]

    @property
    def heads(self) -> list[str]:
        """The columns' names: Monday."""
        known = {each.day.weekday(): f"{each.day:%A}" for week in self.weeks for each in week.days}
        return [known[number] for number in self.weekdays]

    @property
    def before(self) -> OverviewWeek | None:
        """The week before the one that shows."""
        number = self._shown
        return self.weeks[number - 1] if number else None

    @property
    def after(self) -> OverviewWeek | None:
        """The week after the one that shows."""
        return self.weeks[self._shown + 1] if self._shown + 1 < len(self.weeks) else None

    @property
    def shown(self) -> OverviewWeek:
        """The week that shows."""
        return self.weeks[self._shown]

    @property
    def shown_number(self) -> int:
        """Its place among the weeks, from 1."""
        return self._shown + 1

    @property
    def _shown(self) -> int:
        return next(number for number, week in enumerate(self.weeks) if week.is_shown)


def overview_of(
    weeks: Sequence[tuple[date, ...]],
    shifts: Iterable[Shift],
    rounds: Mapping[Key, Round],
    *,
    shown: tuple[date, ...],
    wrong: Mapping[Key, Sequence[str]],
    told_on: Iterable[tuple[date, ...]] = (),
) -> Overview:
    """The days of some weeks. ``wrong`` are sentences by round; ``told_on`` has, for each owner whom a draft tells,
    the days that this is about: those before and after."""
    by_day: dict[date, list[Shift]] = {}
    for shift in shifts:
        by_day.setdefault(shift.day, []).append(shift)
    told = list(told_on)
    return Overview(
        weeks=tuple(_week(days, by_day, rounds, wrong, told, is_shown=days == shown) for days in weeks)
    )


def _week(
    days: tuple[date, ...],
    by_day: Mapping[date, list[Shift]],
    rounds: Mapping[Key, Round],
    wrong: Mapping[Key, Sequence[str]],
    told: list[tuple[date, ...]],
    *,
    is_shown: bool,
) -> OverviewWeek:
    shifts = [shift for day in days for shift in by_day.get(day, [])]
    driven = [round_ for shift in shifts if (round_ := rounds.get(shift.key)) is not None and round_.stops]
    kept = set(days)
    return OverviewWeek(
        days=tuple(_day(day, by_day.get(day, []), rounds, wrong) for day in days),
        is_shown=is_shown,
        visits=sum(len(round_.stops) for round_ in driven),
        rounds=len(driven),
        driving=short_words(sum(round_.driving for round_ in driven)),
        free=short_words(_free(shifts, rounds)),
        wrong=sum(len(sentences) for key, sentences in wrong.items() if key[1] in kept),
        to_tell=sum(bool(kept.intersection(about)) for about in told),
    )


def _day(
    day: date, shifts: Sequence[Shift], rounds: Mapping[Key, Round], wrong: Mapping[Key, Sequence[str]]
) -> OverviewDay:
    stops = [stop for shift in shifts if (round_ := rounds.get(shift.key)) is not None for stop in round_.stops]
    driving = sum(round_.driving for shift in shifts if (round_ := rounds.get(shift.key)) is not None)
    whole = sum(shift.end - shift.start for shift in shifts)
    free = _free(shifts, rounds)
    return OverviewDay(
        day=day,
        technicians=len(shifts),
        visits=len(stops),
        driving=short_words(driving),
        free=short_words(free),
        load=load_words(whole - free, whole) if shifts else "nobody works",
        worked=_share(sum(stop.end - stop.start for stop in stops), whole),
        driven=_share(driving, whole),
        wrong=sum(len(sentences) for key, sentences in wrong.items() if key[1] == day),
    )


def _free(shifts: Iterable[Shift], rounds: Mapping[Key, Round]) -> int:
    """What is left of the hours: the whole day without a stop, else what lies outside leaving and coming back."""
    left = 0
    for shift in shifts:
        round_ = rounds.get(shift.key)
        away = round_.back - round_.leaves if round_ is not None and round_.stops else 0
        left += max(0, shift.end - shift.start - away)
    return left // MINUTE * MINUTE


def _share(seconds: int, whole: int) -> int:
    return min(100, round(100 * seconds / whole)) if whole else 0
