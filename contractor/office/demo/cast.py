"""Who and what the demo begins with: company, staff, catalogue, checklist, terms and climate."""

from dataclasses import dataclass
from datetime import datetime

from contractor.accounts.actions import add_staff, describe_company
from contractor.accounts.models import Company, Role, User
from contractor.core.audit import SYSTEM
from contractor.estimates.actions import describe_climate
from contractor.estimates.rules.normals import Normals
from contractor.office import first_setup
from contractor.office.demo.scenario import Scenario
from contractor.office.demo.weeks import give_usual_week
from contractor.systems.models import CatalogueModel
from contractor.warranties.models import TermsEdition

# Printed at start, for a site that holds nothing but the demo.
PASSWORD = "dry-basement-demo"  # noqa: S105


@dataclass(frozen=True, slots=True, kw_only=True)
class Cast:
    """The people and the data that every story needs."""

    company: Company
    manager: User
    office: tuple[User, ...]
    technicians: tuple[User, ...]
    terms: TermsEdition
    models: dict[str, tuple[CatalogueModel, ...]]
    climates: tuple[Normals, ...]

    def climate_at(self, postcode: str) -> Normals:
        """The climate of a house: the longest beginning of its postcode decides."""
        return max(
            (climate for climate in self.climates if postcode.startswith(climate.postcode_prefixes)),
            key=lambda climate: max(len(one) for one in climate.postcode_prefixes if postcode.startswith(one)),
        )

    def model_for(self, part_kind: str, number: int) -> CatalogueModel:
        """The model of this kind that house ``number`` got; parts that belong together are chosen together."""
        offered = self.models[part_kind]
        if part_kind == "battery":
            offered = tuple(model for model in offered if model.data.get("chemistry") in {"flooded", "agm"})
        if part_kind == "charger":
            offered = tuple(model for model in offered if model.data.get("profile") == "lead_acid")
        return offered[number % len(offered)]


def gather(scenario: Scenario, *, at: datetime) -> Cast:
    """Sets the company up with staff, catalogue, checklist, terms and the climate of its regions."""
    company = describe_company(by=SYSTEM, at=at, **scenario.company)
    people = [add_staff(**person, password=PASSWORD, by=SYSTEM, at=at) for person in scenario.staff]
    manager = next(person for person in people if person.role == Role.MANAGER)
    for person, week in zip((one for one in people if one.role == Role.TECHNICIAN), scenario.weeks, strict=True):
        give_usual_week(week, technician=person, by=manager.actor, at=at)
    first_setup.load_catalogue(by=manager, at=at)
    first_setup.load_checklist(by=manager, at=at)
    terms = first_setup.load_terms(by=manager, at=at)
    for climate in scenario.climates:
        describe_climate(normals=climate, by=manager.actor, at=at)
    models: dict[str, list[CatalogueModel]] = {}
    for model in CatalogueModel.objects.order_by("pk"):
        models.setdefault(model.part_kind, []).append(model)
    return Cast(
        company=company,
        manager=manager,
        office=tuple(person for person in people if person.role == Role.OFFICE),
        technicians=tuple(person for person in people if person.role == Role.TECHNICIAN),
        terms=terms,
        models={kind: tuple(found) for kind, found in models.items()},
        climates=scenario.climates,
    )
