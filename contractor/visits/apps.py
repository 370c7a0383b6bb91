from typing import TYPE_CHECKING

from django.apps import AppConfig

if TYPE_CHECKING:
    from contractor.accounts.models import User
    from contractor.systems.models import System


class VisitsConfig(AppConfig):
    name = "contractor.visits"

    def ready(self) -> None:
        from contractor.notices import made_above, personal_links
        from contractor.notices.rules.channels import ABOUT_VISITS
        from contractor.systems.access import sent_by

        sent_by("visits", _has_a_visit)
        personal_links.make_by("your-visit", "contractor.visits.actions.owner_answers.visit_link")
        for template in ABOUT_VISITS:
            made_above.doubted_by(template, "contractor.visits.actions.telling.why_not")
            if template != "visit_on_the_way":
                made_above.attached_by(template, "contractor.visits.actions.telling.calendar_for")


def _has_a_visit(user: "User", system: "System") -> bool:
    from contractor.visits.queries import has_a_visit

    return has_a_visit(technician=user, property_id=system.property_id)
