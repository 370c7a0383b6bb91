"""What every page knows: the company and how its country writes, and where the signed-in person can go."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.urls import NoReverseMatch, reverse

from contractor.accounts.models import Role, User
from contractor.accounts.queries import the_company
from contractor.core.templatetags.country_style import written_as

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
    found = the_company()
    request.company_country = found.country  # type: ignore[attr-defined]
    return {"company": found}


class CountryStyle:
    """Middleware: days and amounts of a page stand in the style of the company's country, as on its papers.

    Every page reads the company for its head, so the country costs no query; only a sentence that names an amount
    before the page is begun asks for it.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        with written_as(lambda: _country_of(request)):
            return self.get_response(request)


def _country_of(request: HttpRequest) -> str:
    if not hasattr(request, "company_country"):
        request.company_country = the_company().country  # type: ignore[attr-defined]
    return str(request.company_country)  # type: ignore[attr-defined]


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
