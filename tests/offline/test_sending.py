"""What was saved reaches the office, once, whatever the line does."""

import pytest

from tests.offline import invariants
from tests.offline.conftest import TakeTablet
from tests.offline.proxy import Proxy
from tests.offline.site import Site

pytestmark = pytest.mark.browser


def test_what_was_typed_without_signal_arrives_once(take_tablet: TakeTablet, line: Proxy, site: Site) -> None:
    tablet = take_tablet()
    visit = site.people["theo"]["visits"][0]
    line.is_cut = True
    for number in range(5):
        tablet.record(visit, number)
    tablet.add_photo(visit, seed=1, size=700_000)
    assert tablet.status()["unsent"] == 6
    line.heal()
    tablet.drain()
    invariants.nothing_saved_is_lost(tablet, site)
    invariants.everything_arrived_once(tablet, site)
    invariants.both_sides_agree(tablet, site, visit)
