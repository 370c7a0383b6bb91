"""Pages of the desk about houses and their owners."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.properties import actions, registration
from contractor.properties.errors import AddressTaken, NoOwner
from contractor.properties.forms import (
    ChangeHouseForm,
    ChangePersonForm,
    OwnerForm,
    PositionForm,
    RegisterHouseForm,
)
from contractor.properties.models import Person, Property
from contractor.properties.positions import CREDIT, position_of, position_of_yard
from contractor.properties.queries import houses_near, houses_to_place, people_like, present_ownership

PLACED_AT_ONCE = 100


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def register(request: HttpRequest) -> HttpResponse:
    """Registers a house with its present owner, and goes on to what was installed there."""
    company = the_company()
    initial = {"street": request.GET.get("street", ""), "state": company.state, "city": company.city}
    form = RegisterHouseForm(request.POST or None, initial=initial)
    context: dict[str, Any] = {"form": form}
    if request.method == "POST" and _same_person_answered(form):
        try:
            house = registration.register_house(
                house={**form.house(), "country": company.country},
                person=form.person(),
                owner_since=form.cleaned_data["owner_since"],
                known_person_id=form.known_person_id,
                by=signed_in(request).actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            context["known_house_id"] = _put_beside(form, refusal)
        else:
            messages.success(request, f"{house.street_line} is registered. Now what was installed there.")
            return redirect("systems:install", property_id=house.pk)
    form.arrange()
    return render(request, "properties/register.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def change(request: HttpRequest, property_id: int) -> HttpResponse:
    """Corrects address, position and access notes."""
    house = get_object_or_404(Property, pk=property_id)
    initial: dict[str, Any] = {name: getattr(house, name) for name in ChangeHouseForm.HOUSE_FIELDS}
    if house.latitude is not None:
        initial["position"] = f"{house.latitude}, {house.longitude}"
    form = ChangeHouseForm(request.POST or None, initial=initial)
    context = {"form": form, "house": house}
    if request.method == "POST" and form.is_valid():
        try:
            actions.change_property(
                property_id=property_id, by=signed_in(request).actor, at=clock.now(), **form.house()
            )
        except Refusal as refusal:
            context["known_house_id"] = _put_beside(form, refusal)
        else:
            messages.success(request, "Saved.")
            return redirect("office:house", property_id=property_id)
    return render(request, "properties/change.html", context)


@require_safe
@staff_only(*DESK)
def positions(request: HttpRequest) -> HttpResponse:
    """Houses that are not on the map, or only by the middle of their ZIP code."""
    houses, count = houses_to_place(most=PLACED_AT_ONCE)
    rows = [(house, position_of(house)) for house in houses]
    return render(request, "properties/positions.html", {"rows": rows, "count": count, "credit": CREDIT})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def position(request: HttpRequest, property_id: int) -> HttpResponse:
    """Puts a house on the map: by the mouse, by the keyboard, or by typing its degrees."""
    house = get_object_or_404(Property, pk=property_id)
    known, company = position_of(house), the_company()
    yard = position_of_yard(company)
    begin = known or yard
    typed = f"{known.latitude}, {known.longitude}" if known is not None and not known.is_rough else ""
    form = PositionForm(request.POST or None, initial={"position": typed})
    if request.method == "POST" and form.is_valid():
        latitude, longitude = form.cleaned_data["position"]
        actions.place_property(
            property_id=property_id, latitude=latitude, longitude=longitude, by=signed_in(request).actor, at=clock.now()
        )
        messages.success(request, "The house stands there on the map now.")
        return redirect("office:house", property_id=property_id)
    near = [] if begin is None else houses_near(latitude=begin.latitude, longitude=begin.longitude, but=house.pk)
    context = {
        "form": form,
        "house": house,
        "known": known,
        "begin": begin,
        "yard": yard,
        "near": near,
        "tiles": settings.MAP_TILES_ADDRESS,
        "tiles_credit": settings.MAP_TILES_CREDIT,
        "credit": CREDIT,
        "units": company.units,
    }
    return render(request, "properties/position.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def owner(request: HttpRequest, property_id: int) -> HttpResponse:
    """Records the first owner, or hands the house over to the next."""
    house = get_object_or_404(Property, pk=property_id)
    form = OwnerForm(request.POST or None)
    if request.method == "POST" and _same_person_answered(form):
        try:
            ownership = registration.record_owner(
                property_id=property_id,
                person=form.person(),
                on=form.cleaned_data["on"],
                known_person_id=form.known_person_id,
                by=signed_in(request).actor,
                at=clock.now(),
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, f"{ownership.person.name} is the owner of {house.street_line} now.")
            return redirect("office:house", property_id=property_id)
    form.arrange()
    context = {"form": form, "house": house, "present": present_ownership(property_id=property_id)}
    return render(request, "properties/owner.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def change_person(request: HttpRequest, property_id: int, person_id: int) -> HttpResponse:
    """Corrects how an owner of this house is called and reached."""
    house = get_object_or_404(Property, pk=property_id)
    person = get_object_or_404(Person.objects.filter(ownerships__property=house).distinct(), pk=person_id)
    initial = {name: getattr(person, name) for name in ChangePersonForm.PERSON_FIELDS}
    form = ChangePersonForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        actions.change_person(
            person_id=person_id,
            property_id=property_id,
            by=signed_in(request).actor,
            at=clock.now(),
            **form.person(),  # type: ignore[arg-type]  # wants_email is the one that is no text
        )
        messages.success(request, "Saved.")
        return redirect("office:house", property_id=property_id)
    return render(request, "properties/change_person.html", {"form": form, "house": house, "person": person})


@require_POST
@staff_only(*DESK)
def revoke_links(request: HttpRequest, property_id: int) -> HttpResponse:
    """Stops every link of the present owner from opening the house."""
    ownership = present_ownership(property_id=property_id)
    if ownership is None:
        get_object_or_404(Property, pk=property_id)
        raise NoOwner
    actions.revoke_owner_links(ownership_id=ownership.pk, by=signed_in(request).actor, at=clock.now())
    messages.success(request, f"Links sent to {ownership.person.name} no longer open this house.")
    return redirect("office:house", property_id=property_id)


def _same_person_answered(form: RegisterHouseForm | OwnerForm) -> bool:
    """Whether the form is valid and, where somebody alike is registered, the question who it is was answered."""
    bound = form.data
    alike = people_like(name=bound.get("name", ""), email=bound.get("email", ""), phone=bound.get("phone", ""))
    if alike:
        form.offer(alike)
    return form.is_valid()


def _put_beside(form: RegisterHouseForm | ChangeHouseForm | OwnerForm, refusal: Refusal) -> int | None:
    """Puts a refusal beside its field; returns the house that stands at a taken address."""
    form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
    return refusal.property_id if isinstance(refusal, AddressTaken) else None
