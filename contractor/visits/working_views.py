"""Pages of the desk about who works when: usual weeks, leave, days of one's own, the company's calendar."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.visits import working_pages
from contractor.visits.actions import working_days as actions
from contractor.visits.models import Leave, OwnDay, WorkingPattern
from contractor.visits.working_forms import CompanyDayForm, LeaveForm, OwnDayForm, UsualWeekForm

FIRST_YEAR, LAST_YEAR = 2000, 2100


@require_safe
@staff_only(*DESK)
def technicians(request: HttpRequest) -> HttpResponse:
    """Everybody's usual week and leave ahead."""
    people = working_pages.technicians_at_work(on=clock.today())
    return render(request, "visits/technicians.html", {"people": people, "year": clock.today().year})


@require_safe
@staff_only(*DESK)
def working_days(request: HttpRequest, technician_id: int) -> HttpResponse:
    """One technician's usual week, leave and days of their own."""
    technician = _technician(technician_id)
    found = working_pages.working_days(technician=technician, on=clock.today())
    return render(request, "visits/working_days.html", {"technician": technician, "found": found})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def usual_week(request: HttpRequest, technician_id: int) -> HttpResponse:
    """Gives a technician a usual week from a day on."""
    technician = _technician(technician_id)
    form = UsualWeekForm(request.POST or None, initial=_week_to_begin_with(technician))
    if request.method == "POST" and form.is_valid():
        try:
            pattern = actions.set_working_pattern(
                technician_id=technician_id, by=signed_in(request).actor, at=clock.now(), **form.pattern()
            )
        except Refusal as refusal:
            form.add_error(_field(form, refusal), refusal.sentence)
        else:
            from_day = f"{pattern.valid_from:%B} {pattern.valid_from.day}, {pattern.valid_from.year}"
            messages.success(request, f"This week holds from {from_day}.")
            return redirect("visits:working_days", technician_id=technician_id)
    title = f"Usual week of {technician.name}"
    return render(request, "visits/working_form.html", {"form": form, "technician": technician, "title": title})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def add_leave(request: HttpRequest, technician_id: int) -> HttpResponse:
    """Notes leave; appointments in it are then named on the page of working days."""
    technician = _technician(technician_id)
    form = LeaveForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            leave = actions.grant_leave(
                technician_id=technician_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            form.add_error(_field(form, refusal), refusal.sentence)
        else:
            found = working_pages.working_days(technician=technician, on=clock.today())
            hit = next((len(one.appointments) for one in found.leaves if one.leave.pk == leave.pk), 0)
            if hit:
                visits = "1 visit stands" if hit == 1 else f"{hit} visits stand"
                messages.warning(request, f"The leave is noted. {visits} in it: give each to somebody else.")
            else:
                messages.success(request, "The leave is noted. No visit stands in it.")
            return redirect("visits:working_days", technician_id=technician_id)
    title = f"Leave of {technician.name}"
    return render(request, "visits/working_form.html", {"form": form, "technician": technician, "title": title})


@require_POST
@staff_only(*DESK)
def take_back_leave(request: HttpRequest, leave_id: int) -> HttpResponse:
    """Takes leave back."""
    leave = get_object_or_404(Leave, pk=leave_id)
    actions.take_back_leave(leave_id=leave_id, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "The leave is taken back: the usual week holds again on these days.")
    return redirect("visits:working_days", technician_id=leave.technician_id)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def add_own_day(request: HttpRequest, technician_id: int) -> HttpResponse:
    """Gives one day hours of its own, or none."""
    technician = _technician(technician_id)
    form = OwnDayForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            actions.set_own_day(
                technician_id=technician_id, by=signed_in(request).actor, at=clock.now(), **form.day()
            )
        except Refusal as refusal:
            form.add_error(_field(form, refusal), refusal.sentence)
        else:
            messages.success(request, "Kept. Look whether the round of that day still fits.")
            return redirect("visits:working_days", technician_id=technician_id)
    title = f"A day of its own, {technician.name}"
    return render(request, "visits/working_form.html", {"form": form, "technician": technician, "title": title})


@require_POST
@staff_only(*DESK)
def clear_own_day(request: HttpRequest, own_day_id: int) -> HttpResponse:
    """Lets the usual week hold again on a day."""
    day = get_object_or_404(OwnDay, pk=own_day_id)
    actions.clear_own_day(own_day_id=own_day_id, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "The usual week holds again on that day.")
    return redirect("visits:working_days", technician_id=day.technician_id)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def calendar(request: HttpRequest, year: int) -> HttpResponse:
    """The company's year: holidays of its region, days it closes and days it works."""
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise Http404
    form = CompanyDayForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            day = actions.set_company_day(by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, f"{day.name}: kept.")
            return redirect("visits:calendar", year=day.on.year)
    context = {"form": form, "year": year, "found": working_pages.company_year(year=year)}
    return render(request, "visits/calendar.html", {**context, "before": year - 1, "after": year + 1})


@require_POST
@staff_only(*DESK)
def clear_company_day(request: HttpRequest, year: int) -> HttpResponse:
    """Lets the calendar decide about a day again."""
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise Http404
    try:
        on = date.fromisoformat(request.POST.get("on", ""))
    except ValueError:
        return redirect("visits:calendar", year=year)
    actions.clear_company_day(on=on, by=signed_in(request).actor, at=clock.now())
    messages.success(request, "The calendar decides about that day again.")
    return redirect("visits:calendar", year=on.year)


def _technician(technician_id: int) -> User:
    return get_object_or_404(User.objects.technicians(), pk=technician_id)


def _field(form: Any, refusal: Refusal) -> str | None:
    return refusal.field if refusal.field in form.fields else None


def _week_to_begin_with(technician: User) -> dict[str, Any]:
    """The week in force, to be changed; a usual one for somebody who has none."""
    latest = technician.working_patterns.order_by("-valid_from").first()
    initial: dict[str, Any] = {"valid_from": clock.today()}
    if latest is None:
        return initial | {f"begins_{number}": "08:00" for number in range(5)} | {
            f"ends_{number}": "17:00" for number in range(5)
        }
    for row in latest.hours.all():
        initial |= {f"begins_{row.weekday}": row.begins, f"ends_{row.weekday}": row.ends}
    initial |= {name: getattr(latest, name) for name in ("rest_minutes", "rest_from", "rest_until", "skills", "room")}
    initial |= {name: getattr(latest, name) for name in ("start_at", "start_name", "end_at", "end_name")}
    if latest.start_at != WorkingPattern.Place.COMPANY:
        initial["start_position"] = f"{latest.start_latitude}, {latest.start_longitude}"
    if latest.end_at != WorkingPattern.Place.COMPANY:
        initial["end_position"] = f"{latest.end_latitude}, {latest.end_longitude}"
    return initial
