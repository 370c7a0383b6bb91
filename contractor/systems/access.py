"""Which technician may open a system: rooms above know who is sent to a house, and register how they tell.

The desk sees every system. A technician sees one while they have something to do there.
"""

from collections.abc import Callable

from contractor.accounts.models import Role, User
from contractor.systems.models import System

Teller = Callable[[User, System], bool]
_tellers: dict[str, Teller] = {}


def sent_by(name: str, teller: Teller) -> None:
    """Registers how to tell whether a technician has something to do at a system. The name keeps it single."""
    _tellers[name] = teller


def system_for(user: User, system_id: int) -> System:
    """The system with its house, if this person may see it.

    Raises System.DoesNotExist for one that is not there and for one where a technician has nothing to do.
    """
    system = System.objects.select_related("property", "as_built").get(pk=system_id)
    if user.role == Role.TECHNICIAN and not any(teller(user, system) for teller in _tellers.values()):
        raise System.DoesNotExist
    return system
