from typing import TYPE_CHECKING

from django.apps import AppConfig

if TYPE_CHECKING:
    from contractor.accounts.models import User
    from contractor.systems.models import System


class VisitsConfig(AppConfig):
    name = "contractor.visits"

    def ready(self) -> None:
        from contractor.systems.access import sent_by

        sent_by("visits", _has_a_visit)


def _has_a_visit(user: "User", system: "System") -> bool:
    from contractor.visits.queries import has_a_visit

    return has_a_visit(technician=user, property_id=system.property_id)
