"""Pages of the desk about systems, their parts and walls."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.core.htmx import page_or_fragment
from contractor.core.units import shown
from contractor.properties.models import Property
from contractor.systems import actions, declared, queries
from contractor.systems.forms import (
    CatalogueForm,
    ComponentForm,
    CorrectForm,
    DeskForm,
    InstallForm,
    KindForm,
    ReplaceForm,
    RetireForm,
    WallForm,
)
from contractor.systems.models import Component, System
from contractor.systems.part_kinds import PART_KINDS, part_kind


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def install(request: HttpRequest, property_id: int) -> HttpResponse:
    """Records a system at a house, and goes on to its parts."""
    house = get_object_or_404(Property, pk=property_id)
    form = InstallForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            system = actions.install_system(
                property_id=property_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, f"{system.name} is recorded. Now its parts.")
            return redirect("systems:component_add", system_id=system.pk)
    return render(request, "systems/install.html", {"form": form, "house": house})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def component_add(request: HttpRequest, system_id: int) -> HttpResponse:
    """Adds parts one after the other: choose the kind, then its model, number, place and day."""
    system = _system(system_id)
    kind_code = _kind_asked(request)
    form = None
    if kind_code:
        day = request.GET.get("on") or system.installed_on
        form = ComponentForm(request.POST or None, kind_code=kind_code, initial={"on": day})
    if request.method == "POST" and form is not None and form.is_valid():
        try:
            part = actions.install_component(
                system_id=system_id,
                part_kind=kind_code,
                by=signed_in(request).actor,
                at=clock.now(),
                **form.cleaned_data,
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, f"{part.kind.word.capitalize()} added: {part.model or 'model not known'}.")
            return redirect("systems:component_add", system_id=system_id)
    parts = queries.parts_in_place(system=system, on=clock.today())
    context = {
        "system": system,
        "house": system.property,
        "form": form,
        "kind": part_kind(kind_code) if kind_code else None,
        "kinds": queries.kinds_to_add(parts),
        "parts": parts,
    }
    return page_or_fragment(request, page="systems/component_add.html", fragment="systems/adding.html", context=context)


@require_safe
@staff_only(*DESK)
def component(request: HttpRequest, component_id: int) -> HttpResponse:
    """One part: what it is, what its maker declares, and what stood in its place before and after."""
    part = _component(component_id)
    context = {
        "part": part,
        "house": part.system.property,
        "declared": declared.in_words(part.part_kind, part.declared, is_us=_is_us()),
        "chain": queries.chain_of(part),
    }
    return render(request, "systems/component.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def replace(request: HttpRequest, component_id: int) -> HttpResponse:
    """Takes a part out with its reason and puts its successor in."""
    part = _component(component_id)
    form = ReplaceForm(
        request.POST or None, component=part, initial={"on": clock.today(), "model": part.model, "failed": "no"}
    )
    if request.method == "POST" and form.is_valid():
        try:
            successor = actions.replace_component(
                component_id=component_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, f"{successor.kind.word.capitalize()} replaced. The old one stays on record.")
            return redirect("office:house", property_id=part.system.property_id)
    return render(request, "systems/replace.html", _about(part, form))


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def retire(request: HttpRequest, component_id: int) -> HttpResponse:
    """Takes a part out without a successor."""
    part = _component(component_id)
    form = RetireForm(request.POST or None, initial={"on": clock.today(), "failed": "no"})
    if request.method == "POST" and form.is_valid():
        try:
            actions.retire_component(
                component_id=component_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, f"{part.kind.word.capitalize()} taken out. It stays on record.")
            return redirect("office:house", property_id=part.system.property_id)
    return render(request, "systems/retire.html", _about(part, form))


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def correct(request: HttpRequest, component_id: int) -> HttpResponse:
    """Puts right what was written down of a part."""
    part = _component(component_id)
    initial = {"model": part.model, "serial_number": part.serial_number, "place": part.place}
    form = CorrectForm(request.POST or None, component=part, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            actions.correct_component(
                component_id=component_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, "Saved.")
            return redirect("systems:component", component_id=component_id)
    return render(request, "systems/correct.html", _about(part, form))


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def wall_add(request: HttpRequest, system_id: int) -> HttpResponse:
    """Adds treated walls one after the other."""
    system = _system(system_id)
    form = WallForm(request.POST or None, is_us=_is_us(), initial={"letter": queries.next_wall_letter(system)})
    if request.method == "POST" and form.is_valid():
        wall = dict(form.cleaned_data)
        wall["length_m"] = wall.pop("length")
        try:
            treated = actions.treat_wall(system_id=system_id, by=signed_in(request).actor, at=clock.now(), **wall)
        except Refusal as refusal:
            _put_beside(form, refusal)
        else:
            messages.success(request, f"Wall {treated.letter} is recorded.")
            return redirect("systems:wall_add", system_id=system_id)
    context = {
        "form": form,
        "system": system,
        "house": system.property,
        "walls": [{"wall": wall, "length": shown(wall.length_m, form.unit)} for wall in system.walls.all()],
    }
    return render(request, "systems/wall_add.html", context)


@require_safe
@staff_only(*DESK)
def catalogue(request: HttpRequest) -> HttpResponse:
    """Every model that was ever installed or can be, by kind."""
    kind_code = _kind_asked(request)
    is_us = _is_us()
    rows = [
        {"model": model, "declared": declared.in_words(model.part_kind, model.data, is_us=is_us)}
        for model in queries.catalogue(part_kind=kind_code)
    ]
    return render(request, "systems/catalogue.html", {"rows": rows, "kinds": PART_KINDS, "kind_code": kind_code})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def catalogue_add(request: HttpRequest) -> HttpResponse:
    """Adds a model with what its maker declares."""
    kind_code = _kind_asked(request)
    context: dict[str, Any] = {"kinds": PART_KINDS, "kind": part_kind(kind_code) if kind_code else None}
    if kind_code:
        form = CatalogueForm(request.POST or None, kind_code=kind_code, is_us=_is_us())
        context["form"] = form
        if request.method == "POST" and form.is_valid():
            try:
                model = actions.add_catalogue_model(
                    part_kind=kind_code,
                    maker=form.cleaned_data["maker"],
                    name=form.cleaned_data["name"],
                    data=form.declared_data(),
                    by=signed_in(request).actor,
                    at=clock.now(),
                )
            except Refusal as refusal:
                _put_beside(form, refusal)
            else:
                messages.success(request, f"{model} is in the catalogue.")
                return redirect("systems:catalogue")
    return page_or_fragment(
        request, page="systems/catalogue_add.html", fragment="systems/model_fields.html", context=context
    )


def _kind_asked(request: HttpRequest) -> str:
    asked = KindForm(request.GET)
    return str(asked.cleaned_data["kind"]) if asked.is_valid() else ""


def _is_us() -> bool:
    return the_company().units == Company.Units.US


def _system(system_id: int) -> System:
    return get_object_or_404(System.objects.select_related("property"), pk=system_id)


def _component(component_id: int) -> Component:
    related = Component.objects.select_related("system__property", "model", "in_by", "out_by")
    return get_object_or_404(related, pk=component_id)


def _about(part: Component, form: DeskForm) -> dict[str, Any]:
    return {"part": part, "house": part.system.property, "form": form}


def _put_beside(form: DeskForm, refusal: Refusal) -> None:
    form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
