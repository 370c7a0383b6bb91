"""Pages of the staff about what owners ask and are told: wishes, and "on my way"."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from contractor.accounts.access import DESK, EVERYBODY, signed_in, staff_only
from contractor.accounts.models import Role
from contractor.core import clock
from contractor.visits import queries
from contractor.visits.actions import owner_answers, telling
from contractor.visits.models import Appointment
from contractor.visits.owner_tables import OwnerWish

SHOWN = 100


@require_safe
@staff_only(*DESK)
def wishes(request: HttpRequest) -> HttpResponse:
    """What owners ask about their appointments, the one who has waited longest first."""
    return render(request, "visits/wishes.html", {"wishes": queries.wishes_waiting()[:SHOWN]})


@require_POST
@staff_only(*DESK)
def settle_wish(request: HttpRequest, wish_id: int) -> HttpResponse:
    """Notes that a wish was dealt with."""
    get_object_or_404(OwnerWish, pk=wish_id)
    owner_answers.settle_wish(wish_id=wish_id, by=signed_in(request).actor, at=clock.now())
    return redirect("visits:wishes")


@require_POST
@staff_only(*EVERYBODY)
def on_the_way(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Tells the owner that the technician has set out."""
    user = signed_in(request)
    appointment = get_object_or_404(Appointment.objects.visible_to(user), pk=appointment_id)
    told = telling.say_on_the_way(appointment_id=appointment_id, by=user.actor, at=clock.now())
    messages.success(request, f"{told.person.name} is told by {told.get_channel_display().lower()}.")
    if user.role == Role.TECHNICIAN:
        return redirect("checkups:my_round")
    return redirect("visits:round_day", technician_id=appointment.technician_id, day=appointment.on)
