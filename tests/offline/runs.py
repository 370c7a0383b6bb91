"""Runs drawn from a seed: what a day does to a tablet, in any order. The same seed plays the same run again."""

from random import Random
from typing import Any

from tests.offline import invariants
from tests.offline.moments import MOMENTS
from tests.offline.proxy import Proxy
from tests.offline.site import Site
from tests.offline.tablet import Tablet

STEPS = 18
SHARE_OF_FAULTS = 0.55
# What happens, and how often in a hundred steps.
LIKELY = {
    "type": 40,
    "photo": 9,
    "send": 20,
    "signal": 7,
    "reload": 4,
    "kill": 4,
    "session": 5,
    "clock": 4,
    "worker": 4,
    "mortal": 3,
}
HOUR_MS, DAY_MS = 3_600_000, 86_400_000
CLOCK_STEPS_MS = (-HOUR_MS, HOUR_MS, -DAY_MS, DAY_MS)


class Day:
    """One day of one tablet at one visit, as a seed has it."""

    def __init__(self, tablet: Tablet, site: Site, line: Proxy, *, seed: int) -> None:
        self.tablet, self.site, self.line, self.seed = tablet, site, line, seed
        self.random = Random(seed)
        self.visit: str = site.people["theo"]["visits"][seed % len(site.people["theo"]["visits"])]
        self.ended: tuple[Any, ...] | None = None

    def step(self, number: int) -> None:
        """One thing that happens."""
        what = self.random.choices(list(LIKELY), list(LIKELY.values()))[0]
        match what:
            case "type":
                item = self.random.choice(["rest-volts", "load-test", "starts"])
                self.tablet.record(self.visit, number, what=item)
            case "photo":
                size = self.random.randrange(1_000, 900_000)
                self.tablet.add_photo(self.visit, seed=self.seed * 1000 + number, size=size)
            case "send":
                self.tablet.send()
            case "signal":
                self.line.is_cut = not self.line.is_cut
            case "reload":
                self.tablet.reload()
            case "kill":
                self.tablet.kill()
                self.tablet.start()
            case "clock":
                self.tablet.step_clock(self.random.choice(CLOCK_STEPS_MS))
            case "worker":
                self.site.kill_worker()
            case "mortal":
                self.site.die_at(self.random.choice(MOMENTS))
            case "session":
                self._end_or_begin_session()

    def _end_or_begin_session(self) -> None:
        if self.ended is None:
            self.ended = self.site.end_session("theo")
        else:
            self.site.begin_session(self.ended)
            self.tablet.sign_in("theo")
            self.ended = None

    def heal(self) -> None:
        """The line, the sign-in and the server are whole again."""
        if self.ended is not None:
            self.site.begin_session(self.ended)
        self.line.heal()
        self.site.die_at("")


def play(tablet: Tablet, site: Site, line: Proxy, *, seed: int) -> None:
    """Plays one run, then heals everything, drains, and checks what must hold."""
    day = Day(tablet, site, line, seed=seed)
    line.again(seed=seed, share=SHARE_OF_FAULTS)
    for number in range(STEPS):
        day.step(number)
    invariants.nothing_saved_is_lost(tablet, site)
    day.heal()
    tablet.drain()
    invariants.nothing_saved_is_lost(tablet, site)
    invariants.everything_arrived_once(tablet, site)
    invariants.both_sides_agree(tablet, site, day.visit)
