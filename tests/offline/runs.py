"""Runs drawn from a seed: what a day does to a tablet, in any order. The same seed plays the same run again."""

from random import Random

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


def play(tablet: Tablet, site: Site, line: Proxy, *, seed: int) -> None:
    """Plays one run, then heals everything, drains, and checks what must hold."""
    random = Random(seed)
    visit = site.people["theo"]["visits"][seed % len(site.people["theo"]["visits"])]
    line.again(seed=seed, share=SHARE_OF_FAULTS)
    ended = None
    for number in range(STEPS):
        step = random.choices(list(LIKELY), list(LIKELY.values()))[0]
        if step == "type":
            tablet.record(visit, number, what=random.choice(["rest-volts", "load-test", "starts"]))
        elif step == "photo":
            tablet.add_photo(visit, seed=seed * 1000 + number, size=random.randrange(1_000, 900_000))
        elif step == "send":
            tablet.send()
        elif step == "signal":
            line.is_cut = not line.is_cut
        elif step == "reload":
            tablet.reload()
        elif step == "kill":
            tablet.kill()
            tablet.start()
        elif step == "clock":
            tablet.step_clock(random.choice(CLOCK_STEPS_MS))
        elif step == "worker":
            site.kill_worker()
        elif step == "mortal":
            site.die_at(random.choice(MOMENTS))
        elif ended is None:
            ended = site.end_session("theo")
        else:
            site.begin_session(ended)
            tablet.sign_in("theo")
            ended = None
    invariants.nothing_saved_is_lost(tablet, site)
    if ended is not None:
        site.begin_session(ended)
    line.heal()
    site.die_at("")
    tablet.drain()
    invariants.nothing_saved_is_lost(tablet, site)
    invariants.everything_arrived_once(tablet, site)
    invariants.both_sides_agree(tablet, site, visit)
