"""Pages of the desk about visits: the week's rounds, one round, giving out, moving, calling off."""

from datetime import date, timedelta
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems.models import System
from contractor.visits import queries, rules
from contractor.visits.actions import appointments as actions
from contractor.visits.actions.asking import ask_by_hand
from contractor.visits.errors import AlreadyAsked
from contractor.visits.forms import AppointmentForm, AskForm, BecauseForm
from contractor.visits.models import Appointment, Request, VisitKind

WAITING_SHOWN = 60
NEAR = timedelta(days=3)
OWNER_READS = "The owner reads this sentence in the message that calls the appointment off."
FIRST_YEAR, LAST_YEAR = 1950, 2200


@require_safe
@staff_only(*DESK)
def rounds(request: HttpRequest) -> HttpResponse:
    """The week: who goes where on which day, and what nobody has been given yet."""
    week = queries.week_of(on=_day_asked_for(request.GET.get("week", "")))
    waiting = Paginator(queries.requests_to_give(until=week.days[-1]), WAITING_SHOWN).page(1)
    context = {
        "week": week,
        "today": clock.today(),
        "week_before": week.days[0] - timedelta(days=7),
        "week_after": week.days[0] + timedelta(days=7),
        "waiting": waiting,
    }
    return render(request, "visits/rounds.html", context)


@require_safe
@staff_only(*DESK)
def round_day(request: HttpRequest, technician_id: int, day: date) -> HttpResponse:
    """One technician's round on one day, in order; also the sheet to print."""
    technician = get_object_or_404(queries.people_with_rounds(), pk=technician_id)
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
    get_object_or_404(queries.people_with_rounds(), pk=technician_id)
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
    if request.method == "GET" and visit.goes_with_id is not None:
        return redirect("visits:give", request_id=visit.goes_with_id)
    given = visit.live_appointments[0] if visit.live_appointments else None  # type: ignore[attr-defined]
    if request.method == "GET" and given:
        return redirect("visits:move", appointment_id=given.pk)
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
    return render(request, "visits/give.html", {"form": form, "visit": visit, **_around(visit, form, suggested)})


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
    return render(request, "visits/give.html", {**context, **_around(appointment.request, form, appointment.on)})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def cancel(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Calls an appointment off; the visit stays wanted."""
    form = BecauseForm(request.POST or None, submit="Call it off", help_text=OWNER_READS)
    return _end(request, appointment_id, actions.cancel_appointment, form, "Call this appointment off")


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def could_not(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Notes that the visit could not be done that day."""
    form = BecauseForm(request.POST or None, submit="Note it", help_text="For the office only; the owner isn't told.")
    return _end(request, appointment_id, actions.could_not, form, "This visit could not be done")


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def withdraw(request: HttpRequest, request_id: int) -> HttpResponse:
    """Takes a request back."""
    visit = _visit(request_id)
    form = BecauseForm(
        request.POST or None,
        submit="Take it back",
        help_text=OWNER_READS if visit.live_appointments else "",  # type: ignore[attr-defined]
    )
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
def own_trip(request: HttpRequest, request_id: int) -> HttpResponse:
    """Parts a visit from the trip it goes along with."""
    _visit(request_id)
    actions.give_own_trip(request_id=request_id, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "This visit has a trip of its own now. Give it to a technician and a day.")
    return redirect("visits:give", request_id=request_id)


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
    standing_id = None
    if request.method == "POST" and form.is_valid():
        try:
            visit = ask_by_hand(
                occasion=f"by hand:{uuid4()}",
                system_id=system_id,
                by=signed_in(request).actor,
                at=clock.now(),
                **form.cleaned_data,
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
            standing_id = refusal.request_id if isinstance(refusal, AlreadyAsked) else None
        else:
            host = visit.goes_with
            if host is not None:
                kind = host.get_kind_display().lower()
                messages.success(request, f"Asked for. It goes along with the {kind} at this house; give that one out.")
                return redirect("office:house", property_id=system.property_id)
            messages.success(request, "Asked for. Now give it to a technician and a day.")
            return redirect("visits:give", request_id=visit.pk)
    return render(request, "visits/ask.html", {"form": form, "system": system, "standing_id": standing_id})


@require_safe
@staff_only(*DESK)
def ask_where(request: HttpRequest) -> HttpResponse:
    """Finds the house at which a visit is asked for by hand."""
    typed = request.GET.get("house", "")[:100]
    return render(request, "visits/ask_where.html", {"typed": typed, "systems": queries.systems_to_visit(typed=typed)})


def _end(request: HttpRequest, appointment_id: int, action: Any, form: BecauseForm, title: str) -> HttpResponse:
    appointment = _appointment(appointment_id)
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


def _around(visit: Request, form: AppointmentForm, suggested: date) -> dict[str, Any]:
    """What helps to choose: the day that stands in the form, how it fits, and the rounds near it."""
    day = getattr(form, "cleaned_data", {}).get("on") or suggested
    first = max(day, clock.today() + NEAR) - NEAR
    return {"day": day, "fit": _fit(visit, day), "loads": queries.loads_near(on=first)}


def _tell(request: HttpRequest, appointment: Appointment, verb: str) -> None:
    visit = appointment.request
    fit = _fit(visit, appointment.on)
    day = f"{appointment.on:%A}, {appointment.on:%B} {appointment.on.day}"
    messages.success(request, f"{visit.get_kind_display()} {verb} {appointment.technician.name} on {day}.")
    if fit.sentence:
        messages.warning(request, fit.sentence)


def _fit(visit: Request, on: date) -> rules.DayFit:
    return rules.day_fit(
        on=on,
        earliest_on=visit.earliest_on,
        target_on=visit.target_on,
        latest_on=visit.latest_on,
        is_checkup=visit.kind == VisitKind.CHECKUP,
    )


def _visit(request_id: int) -> Request:
    try:
        return queries.request_to_give(request_id=request_id)
    except Request.DoesNotExist:
        raise Http404 from None


def _day_asked_for(text: str) -> date:
    """The day in an address, today when there is none or none that a calendar of ours could show."""
    try:
        day = parse_date(text)
    except ValueError:
        day = None
    return day if day and FIRST_YEAR <= day.year <= LAST_YEAR else clock.today()


def _appointment(appointment_id: int) -> Appointment:
    return get_object_or_404(queries.appointments_to_show(), pk=appointment_id)
