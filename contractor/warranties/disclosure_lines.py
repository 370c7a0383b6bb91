"""What a seller's disclosure form asks about water in the basement, as far as the register knows it.

Such forms ask whether there was water or dampness, what was done about it, where, when and by whom (the forms of
Pennsylvania and of Illinois, 765 ILCS 77/35, from memory). Here stand facts with their days; whether a seller has to
state something is for the seller and their lawyer.
"""

from datetime import date
from typing import Any

from contractor.systems.models import Component
from contractor.warranties.models import Claim, Warranty

# What fits one page; how many there are in all is said beside it.
SHOWN = 3


def disclosure_lines(*, warranty: Warranty, company: str, licence: str, on: date) -> dict[str, Any]:
    """The work, the parts replaced since and the failures reported up to a day, newest first, as plain data."""
    system = warranty.system
    components = list(system.components.filter(in_on__lte=on).select_related("replaces"))
    later = [one for one in reversed(components) if one.replaces is not None]
    reported = list(warranty.claims.exclude(state=Claim.State.WITHDRAWN).filter(reported_on__lte=on))
    return {
        "work": {
            "what": system.name,
            "on": system.installed_on.isoformat(),
            "by": company,
            "licence": licence,
            "parts": list(dict.fromkeys(one.kind.word for one in components if one.replaces is None)),
            "walls": [wall.letter for wall in system.walls.all()],
        },
        "replaced": [_replaced(one) for one in later[:SHOWN]],
        "replaced_in_all": len(later),
        "reported": [_reported(one) for one in reported[:SHOWN]],
        "reported_in_all": len(reported),
    }


def _replaced(component: Component) -> dict[str, Any]:
    before = component.replaces
    return {
        "part": component.kind.word,
        "on": component.in_on.isoformat(),
        "had_failed": before is not None and before.failed,
    }


def _reported(claim: Claim) -> dict[str, str]:
    outcome = "decided" if claim.state == Claim.State.DECIDED else "not decided yet"
    return {
        "part": claim.get_part_kind_display(),
        "lost_on": claim.lost_on.isoformat(),
        "reported_on": claim.reported_on.isoformat(),
        "outcome": outcome,
    }
