"""What a new installation begins with: the catalogue, the checklist and the terms that ship with the project."""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings

from contractor.accounts.models import User
from contractor.checkups.actions.checklists import add_checklist, publish_checklist
from contractor.checkups.models import Checklist
from contractor.systems.actions import add_catalogue_model
from contractor.systems.models import CatalogueModel
from contractor.warranties.actions.terms import draft_terms, publish_terms
from contractor.warranties.models import TermsEdition


def read_fixture(name: str) -> Any:
    """The plain data of a file under ``fixtures/``."""
    return json.loads((Path(settings.FIXTURES) / name).read_text(encoding="utf-8"))


def load_catalogue(*, by: User, at: datetime) -> int:
    """Adds the catalogue's models that are not there yet; returns how many. Invented makers, for the demo only."""
    known = set(CatalogueModel.objects.values_list("part_kind", "maker", "name"))
    added = 0
    for model in read_fixture("catalogue/models.json")["models"]:
        if (model["part_kind"], model["maker"], model["name"]) not in known:
            add_catalogue_model(**model, by=by.actor, at=at)
            added += 1
    return added


def load_checklist(*, by: User, at: datetime) -> Checklist:
    """Publishes the default yearly checklist unless one is published already."""
    present = Checklist.objects.published().first()
    if present is not None:
        return present
    checklist = add_checklist(data=read_fixture("checklists/yearly.json"), by=by.actor, at=at)
    publish_checklist(checklist_id=checklist.pk, by=by.actor, at=at, published_by=by)
    return checklist


def load_terms(*, by: User, at: datetime) -> TermsEdition:
    """Publishes the default terms unless an edition is published already; a lawyer should read them first."""
    present = TermsEdition.objects.published().first()
    if present is not None:
        return present
    path = sorted((Path(settings.FIXTURES) / "terms").glob("*.json"))[-1]  # the newest edition
    terms = draft_terms(data=json.loads(path.read_text(encoding="utf-8")), by=by.actor, at=at)
    publish_terms(terms_id=terms.pk, by=by.actor, at=at, published_by=by)
    return terms
