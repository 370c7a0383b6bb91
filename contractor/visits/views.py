"""Pages of the desk about visits: the week's rounds, one round, giving out, moving, calling off."""

from datetime import date, timedelta
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems.models import System
from contractor.visits import actions, queries, rules
from contractor.visits.forms import AppointmentForm, AskForm, BecauseForm
from contractor.visits.models import Appointment, Request


@require_safe
@staff_only(*DESK)
def rounds(request: HttpRequest) -> HttpResponse:
    """The week: who goes where on which day, and what nobody has been given yet."""
    on = parse_date(request.GET.get("week", "")) or clock.today()
    week = queries.week_of(on=on)
    waiting = queries.requests_wanting().filter(
        pk__in=Request.objects.without_appointment().values("pk"), earliest_on__lte=week.days[-1]
    )
    context = {
        "week": week,
        "today": clock.today(),
        "week_before": week.days[0] - timedelta(days=7),
        "week_after": week.days[0] + timedelta(days=7),
        "waiting": waiting[:60],
    }
    return render(request, "visits/rounds.html", context)


@require_safe
@staff_only(*DESK)
def round_day(request: HttpRequest, technician_id: int, day: date) -> HttpResponse:
    """One technician's round on one day, in order; also the sheet to print."""
    technician = get_object_or_404(User.objects.technicians(), pk=technician_id)
    stops = queries.round_of(technician=technician, on=day)
    context = {
        "technician": technician,
        "day": day,
        "stops": stops,
        "minutes": sum(stop.request.minutes for stop in stops),
    }
    return render(request, "visits/round_day.html", context)


@require_POST
@staff_only(*DESK)
def put_in_order(request: HttpRequest, technician_id: int, day: date) -> HttpResponse:
    """Moves one stop up or down in the order in which the page showed them (the ``stop`` values)."""
    shown = [int(value) for value in request.POST.getlist("stop") if value.isdecimal()]
    wanted = rules.moved_by_one(shown, moved=request.POST.get("moved", ""), up=request.POST.get("direction") == "up")
    actions.put_in_order(
        technician_id=technician_id, on=day, appointment_ids=wanted, by=signed_in(request).actor, at=clock.now()
    )
    return redirect("visits:round_day", technician_id=technician_id, day=day)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def give(request: HttpRequest, request_id: int) -> HttpResponse:
    """Gives a visit to a technician and a day."""
    visit = _visit(request_id)
    suggested = min(max(visit.target_on, clock.today()), max(visit.latest_on, clock.today()))
    form = AppointmentForm(request.POST or None, initial={"on": suggested}, submit="Give out this visit")
    if request.method == "POST" and form.is_valid():
        try:
            appointment = actions.give_to_technician(
                request_id=request_id,
                made_by=signed_in(request),
                by=signed_in(request).actor,
                at=clock.now(),
                **_choice(form),
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            _tell(request, appointment, "given to")
            return redirect("visits:round_day", technician_id=appointment.technician_id, day=appointment.on)
    return render(request, "visits/give.html", {"form": form, "visit": visit, **_around(visit, suggested)})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def move(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Gives an appointment another day, hour or technician."""
    appointment = _appointment(appointment_id)
    initial = {
        "technician": appointment.technician_id,
        "on": appointment.on,
        "arrive_from": appointment.arrive_from,
        "arrive_until": appointment.arrive_until,
    }
    form = AppointmentForm(request.POST or None, initial=initial, submit="Move it")
    if request.method == "POST" and form.is_valid():
        try:
            moved = actions.move_appointment(
                appointment_id=appointment_id, by=signed_in(request).actor, at=clock.now(), **_choice(form)
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            _tell(request, moved, "moved to")
            return redirect("visits:round_day", technician_id=moved.technician_id, day=moved.on)
    context = {"form": form, "visit": appointment.request, "appointment": appointment}
    return render(request, "visits/give.html", {**context, **_around(appointment.request, appointment.on)})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def cancel(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Calls an appointment off; the visit stays wanted."""
    return _end(request, appointment_id, actions.cancel_appointment, "Call this appointment off", "Call it off")


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def could_not(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Notes that the visit could not be done that day."""
    return _end(request, appointment_id, actions.could_not, "This visit could not be done", "Note it")


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def withdraw(request: HttpRequest, request_id: int) -> HttpResponse:
    """Takes a request back."""
    visit = _visit(request_id)
    form = BecauseForm(request.POST or None, submit="Take it back")
    if request.method == "POST" and form.is_valid():
        try:
            actions.withdraw_request(
                request_id=request_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, "The visit is no longer wanted.")
            return redirect("office:house", property_id=visit.system.property_id)
    return render(request, "visits/because.html", {"form": form, "visit": visit, "title": "Take this visit back"})


@require_POST
@staff_only(*DESK)
def confirm(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Notes that the owner said yes on the phone."""
    appointment = _appointment(appointment_id)
    actions.confirm_appointment(appointment_id=appointment_id, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "Confirmed by the owner.")
    return redirect("visits:round_day", technician_id=appointment.technician_id, day=appointment.on)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def ask(request: HttpRequest, system_id: int) -> HttpResponse:
    """Asks for a visit by hand."""
    system = get_object_or_404(System.objects.select_related("property"), pk=system_id)
    today = clock.today()
    initial = {"target_on": today + timedelta(days=3), "earliest_on": today, "latest_on": today + timedelta(days=14)}
    form = AskForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            visit = actions.ask_for_visit(
                occasion=f"by hand:{uuid4()}",
                system_id=system_id,
                by=signed_in(request).actor,
                at=clock.now(),
                **form.cleaned_data,
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, "Asked for. Now give it to a technician and a day.")
            return redirect("visits:give", request_id=visit.pk)
    return render(request, "visits/ask.html", {"form": form, "system": system})


def _end(request: HttpRequest, appointment_id: int, action: Any, title: str, submit: str) -> HttpResponse:
    appointment = _appointment(appointment_id)
    form = BecauseForm(request.POST or None, submit=submit)
    if request.method == "POST" and form.is_valid():
        try:
            action(appointment_id=appointment_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, "Noted. The visit waits for another day.")
            return redirect("visits:give", request_id=appointment.request_id)
    context = {"form": form, "visit": appointment.request, "appointment": appointment, "title": title}
    return render(request, "visits/because.html", context)


def _choice(form: AppointmentForm) -> dict[str, Any]:
    chosen = dict(form.cleaned_data)
    chosen["technician_id"] = chosen.pop("technician").pk
    return chosen


def _around(visit: Request, suggested: date) -> dict[str, Any]:
    """What helps to choose: the window in words, and what the technicians have near that day."""
    fit = rules.day_fit(
        on=suggested, earliest_on=visit.earliest_on, target_on=visit.target_on, latest_on=visit.latest_on
    )
    return {"fit": fit, "loads": queries.loads_near(on=max(suggested - timedelta(days=3), clock.today()))}


def _tell(request: HttpRequest, appointment: Appointment, verb: str) -> None:
    visit = appointment.request
    fit = rules.day_fit(
        on=appointment.on, earliest_on=visit.earliest_on, target_on=visit.target_on, latest_on=visit.latest_on
    )
    day = f"{appointment.on:%A}, {appointment.on:%B} {appointment.on.day}"
    messages.success(request, f"{visit.get_kind_display()} {verb} {appointment.technician.name} on {day}.")
    if fit.sentence:
        messages.warning(request, fit.sentence)


def _visit(request_id: int) -> Request:
    visit = queries.requests_wanting().filter(pk=request_id).first()
    if visit is None:
        raise Http404
    return visit


def _appointment(appointment_id: int) -> Appointment:
    return get_object_or_404(
        Appointment.objects.select_related("request__system__property", "technician"), pk=appointment_id
    )
