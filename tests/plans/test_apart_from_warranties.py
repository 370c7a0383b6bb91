"""A plan can never touch a warranty: not by its tables, not by its code, not by anything that happens to it."""

import ast
import json
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from django.apps import apps
from django.core import serializers

from contractor.accounts.models import User
from contractor.plans.actions.agreements import agree, cancel
from contractor.plans.actions.nightly import follow_the_calendar
from contractor.plans.models import Agreement, PlanOffer
from contractor.plans.rules.terms import State
from contractor.systems.models import System
from contractor.warranties.actions.issuing import issue_warranty
from contractor.warranties.actions.standing import refresh_all_standings
from tests.plans.made import YES, YES_TO_BOTH, noon
from tests.warranties.factories import furnish, published_terms

ROOT = Path(__file__).resolve().parents[2] / "contractor"
ON = date(2026, 5, 4)


def rooms_imported_by(room: str) -> set[str]:
    found = set()
    for path in (ROOT / room).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [name.name for name in node.names] if isinstance(node, ast.Import) else []
            found |= {name.split(".")[1] for name in names if name.startswith("contractor.")}
    return found


def test_neither_room_imports_the_other() -> None:
    assert "warranties" not in rooms_imported_by("plans")
    assert "plans" not in rooms_imported_by("warranties")
    assert "properties" in rooms_imported_by("plans"), "The test would see an import if there were one."


def test_no_task_is_begun_by_name_across_the_two_rooms() -> None:
    for room, other in (("plans", "contractor.warranties"), ("warranties", "contractor.plans")):
        assert not [path.name for path in (ROOT / room).rglob("*.py") if other in path.read_text()]


def test_no_table_of_the_one_points_to_a_table_of_the_other() -> None:
    for model in apps.get_models():
        room = model._meta.app_label
        other = {"plans": "warranties", "warranties": "plans"}.get(room)
        pointed = {field.related_model._meta.app_label for field in model._meta.get_fields() if field.related_model}
        assert other is None or other not in pointed, model.__name__


def everything_of_warranties() -> str:
    """Every row of every table of the room, in one text."""
    models = sorted(apps.get_app_config("warranties").get_models(), key=lambda model: model.__name__)
    rows = [serializers.serialize("json", model.objects.order_by("pk")) for model in models]
    return json.dumps([json.loads(row) for row in rows], sort_keys=True)


@pytest.mark.django_db
@pytest.mark.parametrize("renews", ["no", "automatic"])
@pytest.mark.parametrize("ending", ["lapses", "cancelled", "never paid"])
def test_a_plan_that_ends_leaves_every_stored_standing_byte_for_byte(
    system: System, offer: PlanOffer, nora: User, at: datetime, renews: str, ending: str
) -> None:
    furnish(system)
    terms = published_terms()
    issue_warranty(system_id=system.pk, terms_id=terms.pk, issued_on=date(2020, 5, 14), by=nora.actor, at=at)
    after = date(2027, 6, 30)
    refresh_all_standings(on=after)
    without = everything_of_warranties()
    plan = agree(
        property_id=system.property_id,
        offer_id=offer.pk,
        from_on=ON,
        renews=renews,
        consent=YES_TO_BOTH if renews == "automatic" else YES,
        by=nora.actor,
        at=noon(ON),
    )
    assert everything_of_warranties() == without
    if ending == "cancelled":
        cancel(agreement_id=plan.pk, way="page", because="", by=nora.actor, at=noon(ON + timedelta(days=200)))
    for days in range(330, 380):
        on = ON + timedelta(days=days)
        follow_the_calendar(on=on, at=noon(on))
    state = State.CANCELLED if ending == "cancelled" else State.LAPSED
    assert plan in Agreement.objects.in_state(state, after)
    assert everything_of_warranties() == without, "before anything is derived again"
    refresh_all_standings(on=after)
    assert everything_of_warranties() == without, "and after it"
