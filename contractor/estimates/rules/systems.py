"""What is computed of a system as a whole, besides its parts' dates."""

from contractor.estimates.rules.discharge import freeze_result, line_speed_result
from contractor.estimates.rules.pit_and_season import pit_cycle_result, season_result
from contractor.estimates.rules.results import SystemResult
from contractor.estimates.rules.standing_by import reserve_result, standby_result
from contractor.estimates.rules.wording import Wording
from contractor.estimates.rules.workings import Workings


def system_results(worked: Workings, say: Wording) -> list[SystemResult]:
    """The six results of a system, in the order in which a page shows them."""
    return [
        standby_result(worked, say),
        reserve_result(worked, say),
        freeze_result(worked, say),
        pit_cycle_result(worked, say),
        line_speed_result(worked, say),
        season_result(worked, say),
    ]
