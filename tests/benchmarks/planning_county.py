"""An invented county for measuring the planner: towns and scattered houses, hours, skills and promises."""

import random
from datetime import date, timedelta

from contractor.visits.routing.problem import Break, Job, Lock, Position, Problem, Shift, Technician, Window
from contractor.visits.routing.travel import ByDistance

HOUR = 3600
FIRST_DAY = date(2031, 3, 3)
LUNCH = Break(minutes=30, earliest=11 * HOUR + 1800, latest=13 * HOUR + 1800)
SKILLS = {"pump": 0.9, "drain": 0.8, "wall": 0.6}


def county(*, visits: int, technicians: int, days: int, seed: int = 1) -> Problem:
    """Visits of 30 to 120 minutes due within the days, one in eight of them promised for a two-hour arrival.

    Technicians start from home; a day holds at most one promise for the morning and one for the afternoon, so that
    every promise can be kept.
    """
    draw = random.Random(seed)
    towns = [(40 + draw.uniform(-0.2, 0.2), -83 + draw.uniform(-0.25, 0.25)) for _ in range(6)]
    calendar = (FIRST_DAY + timedelta(days=number) for number in range(2 * days + 7))
    working = [day for day in calendar if day.weekday() < 5][: days + 6]
    crew = tuple(
        Technician(
            id=f"technician {number}",
            skills=frozenset(skill for skill, share in SKILLS.items() if number == 0 or draw.random() < share),
        )
        for number in range(technicians)
    )
    homes = {who.id: _around(draw, draw.choice(towns), 0.02) for who in crew}
    shifts = tuple(
        Shift(
            technician=who.id,
            day=day,
            start=8 * HOUR,
            end=17 * HOUR,
            start_place=homes[who.id],
            end_place=homes[who.id],
            rest=LUNCH,
        )
        for who in crew
        for day in working[:days]
    )
    promised = {shift.key: [9, 13] for shift in shifts}  # arrivals between which the longest visit and drive fit
    hours = [(), (), (_hours(8, 12),), (_hours(12, 17),), (_hours(10, 12),), (_hours(13, 15),)]
    jobs = []
    for number in range(visits):
        town, spread = draw.choice(towns), 0.03 if draw.random() < 0.8 else 0.1
        place = _around(draw, town, spread)
        target = draw.randrange(days)
        skill = draw.choice(["", "", "pump", "drain", "wall"])
        skills = frozenset({skill} - {""})
        who = draw.choice([each for each in crew if skills <= each.skills])
        arrivals = promised[who.id, working[target]]
        lock = None
        if draw.random() < 0.12 and arrivals:
            opens = arrivals.pop(draw.randrange(len(arrivals)))
            lock = Lock(technician=who.id, day=working[target], window=_hours(opens, opens + 2))
            arrivals[:] = [each for each in arrivals if abs(each - opens) > 2]
        jobs.append(
            Job(
                id=f"visit {number:04}",
                position=place,
                minutes=draw.choice([30, 45, 60, 60, 90, 120]),
                windows=draw.choice(hours),
                skills=skills,
                priority=draw.choice([0, 0, 0, 1, 2]),
                earliest_on=working[max(0, target - draw.randint(1, 5))],
                target_on=working[target],
                latest_on=working[target + draw.randint(1, 6)],
                locked_to=lock,
            )
        )
    return Problem(jobs=tuple(jobs), technicians=crew, shifts=shifts, travel=ByDistance())


def _around(draw: random.Random, town: tuple[float, float], spread: float) -> Position:
    return Position(round(draw.gauss(town[0], spread), 5), round(draw.gauss(town[1], spread), 5))


def _hours(opens: int, closes: int) -> Window:
    return Window(opens=opens * HOUR, closes=closes * HOUR)
