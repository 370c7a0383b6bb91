"""What every page knows: the company, and where the signed-in person can go."""

from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from contractor.accounts.models import Role, User
from contractor.accounts.queries import the_company

PLACES: tuple[tuple[str, str, tuple[Role, ...]], ...] = (
    ("Today", "office:today", (Role.OFFICE, Role.MANAGER)),
    ("Houses", "office:houses", (Role.OFFICE, Role.MANAGER)),
    ("Due", "office:due", (Role.OFFICE, Role.MANAGER)),
    ("Rounds", "visits:rounds", (Role.OFFICE, Role.MANAGER)),
    ("Board", "visits:board", (Role.OFFICE, Role.MANAGER)),
    ("Tablets", "tablet:tablets", (Role.OFFICE, Role.MANAGER)),
    ("Claims", "warranties:claims", (Role.OFFICE, Role.MANAGER)),
    ("Transfers", "warranties:transfers", (Role.OFFICE, Role.MANAGER)),
    ("Plans", "plans:agreements", (Role.OFFICE, Role.MANAGER)),
    ("Notices", "notices:log", (Role.OFFICE, Role.MANAGER)),
    ("Import", "office:import_register", (Role.OFFICE, Role.MANAGER)),
    ("My round", "checkups:my_round", (Role.TECHNICIAN,)),
    ("My week", "visits:my_week", (Role.TECHNICIAN,)),
    ("Set-up", "office:setup", (Role.MANAGER,)),
)


def company(request: HttpRequest) -> dict[str, Any]:
    """``company``: whose name stands at the top of the page."""
    return {"company": the_company()}


def navigation(request: HttpRequest) -> dict[str, Any]:
    """``navigation``: the places for this person's role, the present one marked."""
    user = getattr(request, "user", None)
    if not isinstance(user, User):
        return {"navigation": []}
    places = [(label, _address(name)) for label, name, roles in PLACES if user.role in roles]
    here = max((address for _, address in places if address and request.path.startswith(address)), key=len, default="")
    return {
        "navigation": [
            {"label": label, "url": address, "current": address == here} for label, address in places if address
        ]
    }


def _address(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:  # pragma: no cover
        return ""
