"""Noting a repair or a claim call as done: the technician's page and the office's."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from contractor.accounts.access import EVERYBODY, signed_in, staff_only
from contractor.accounts.models import Role
from contractor.checkups.actions.repair_visits import finish_repair
from contractor.checkups.actions.repairs import FINDING
from contractor.checkups.forms import DoneForm
from contractor.checkups.models import Finding
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.visits.errors import HasChecklist, NotLive, NotYet
from contractor.visits.models import Appointment, Request
from contractor.visits.queries import appointments_to_show
from contractor.visits.rules import Finishing, finishing


@require_http_methods(["GET", "POST"])
@staff_only(*EVERYBODY)
def done(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """What was done at a visit without a checklist: a technician's own, anybody's for the office."""
    user = signed_in(request)
    appointment = get_object_or_404(appointments_to_show().visible_to(user), pk=appointment_id)
    is_technician = user.role == Role.TECHNICIAN
    round_day = "checkups:round_day" if is_technician else "visits:round_day"
    back = reverse(round_day, args=[appointment.technician_id, appointment.on])
    form = _form(request, appointment)
    if request.method == "POST" and form.is_valid():
        try:
            finish_repair(appointment_id=appointment_id, by_user=user, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"Noted: the {appointment.request.get_kind_display().lower()} is done.")
            return redirect(back)
    context = {
        "form": form,
        "appointment": appointment,
        "refused": _refused(appointment),
        "back_url": back,
        "could_not_url": reverse("checkups:could_not" if is_technician else "visits:could_not", args=[appointment_id]),
    }
    return render(request, "checkups/done.html" if is_technician else "checkups/done_desk.html", context)


def _form(request: HttpRequest, appointment: Appointment) -> DoneForm:
    visits: list[Request] = [appointment.request, *appointment.request.going_along]  # type: ignore[attr-defined]
    findings = list(
        Finding.objects.still_open().filter(checkup__system=appointment.request.system_id).order_by("raised_at", "pk")
    )
    asked_for = {visit.occasion.removeprefix(FINDING).partition("#")[0] for visit in visits}
    return DoneForm(
        request.POST if request.method == "POST" else None,
        findings=[(str(finding.pk), finding.what) for finding in findings],
        along=[(visit.pk, f"{visit.get_kind_display()}: {visit.reason}") for visit in visits[1:]],
        initial={
            "minutes_taken": sum(visit.minutes for visit in visits),
            "put_right": [str(finding.pk) for finding in findings if str(finding.pk) in asked_for],
        },
    )


def _refused(appointment: Appointment) -> str:
    """Why there is nothing to fill in, said before anything is typed."""
    state = Appointment.State(appointment.state)
    if state not in {Appointment.State.PLANNED, Appointment.State.CONFIRMED}:
        return NotLive(state.label).sentence
    possible = finishing(kind=appointment.request.kind, planned_on=appointment.on, on=clock.today())
    if possible == Finishing.HAS_CHECKLIST:
        return HasChecklist(appointment.request.get_kind_display()).sentence
    return NotYet(appointment.on).sentence if possible == Finishing.NOT_YET else ""
