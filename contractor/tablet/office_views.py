"""Pages of the desk about tablets."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.core.htmx import page_or_fragment
from contractor.tablet import queries
from contractor.tablet.actions import decisions, devices
from contractor.tablet.actions.importing import import_export
from contractor.tablet.forms import BecauseForm, ImportForm
from contractor.tablet.models import Device, SetAside, TabletVisit
from contractor.visits.queries import appointments_to_show

SHOWN = 50


@require_safe
@staff_only(*DESK)
def tablets(request: HttpRequest) -> HttpResponse:
    """Today's rounds as they come along, the tablets, and what waits for the office."""
    today = clock.today()
    context = {"rounds": queries.progress_on(on=today), "counts": queries.office_counts(), "now": clock.now()}
    if not getattr(request, "htmx", False):
        context |= {
            "devices": queries.devices_to_show(),
            "to_decide": queries.visits_to_decide()[:SHOWN],
            "today": today,
        }
    return page_or_fragment(
        request, page="tablet/tablets.html", fragment="tablet/progress.html", context=context
    )


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def device(request: HttpRequest, device_id: UUID) -> HttpResponse:
    """One tablet: its ready check, its keys, and closing it when it is lost."""
    found = get_object_or_404(queries.devices_to_show(), pk=device_id)
    form = BecauseForm(
        request.POST or None,
        submit="Close this tablet",
        help_text="For a tablet that is lost or given away. Its keys end at once; what it still keeps can be handed in "
        "as a file.",
    )
    if request.method == "POST" and form.is_valid():
        devices.revoke_device(
            device_id=device_id, by_user=signed_in(request), at=clock.now(), because=form.cleaned_data["because"]
        )
        messages.success(request, f"{found.name} is closed. It gets no new rounds and sends nothing more.")
        return redirect("tablet:device", device_id=device_id)
    keys = found.keys.select_related("person").order_by("-made_at")[:10]
    return render(request, "tablet/device.html", {"device": found, "form": form, "keys": keys, "now": clock.now()})


@require_POST
@staff_only(*DESK)
def device_allow(request: HttpRequest, device_id: UUID) -> HttpResponse:
    """Lets a closed tablet be used again."""
    get_object_or_404(Device, pk=device_id)
    devices.allow_device_again(device_id=device_id, by_user=signed_in(request), at=clock.now())
    messages.success(request, "It can be used again once somebody signs in on it.")
    return redirect("tablet:device", device_id=device_id)


@require_safe
@staff_only(*DESK)
def set_aside(request: HttpRequest) -> HttpResponse:
    """What came in and could not be taken as it was."""
    show = request.GET.get("show", SetAside.State.WAITING)
    state = show if show in SetAside.State.values else ""
    page = Paginator(queries.set_aside_to_show(state=state), SHOWN).get_page(request.GET.get("page"))
    context = {"page": page, "show": state, "states": SetAside.State.choices}
    return render(request, "tablet/set_aside.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def set_aside_one(request: HttpRequest, aside_id: int) -> HttpResponse:
    """One thing that was set aside, as it came; it is handed in again, or left aside for good."""
    found = get_object_or_404(SetAside.objects.select_related("uploaded_by", "decided_by"), pk=aside_id)
    is_taking = "take" in request.POST
    posted = request.POST or None
    take = BecauseForm(
        posted if is_taking else None,
        submit="Hand it in again",
        name="take",
        help_text="You vouch for it: that this person was there, and that the tablet is one of ours.",
    )
    close = BecauseForm(
        posted if posted and not is_taking else None,
        submit="Leave it aside",
        name="close",
        help_text="It is kept for good, and nothing is made of it.",
    )
    form = take if is_taking else close
    if request.method == "POST" and form.is_valid():
        action: Callable[..., SetAside] = decisions.hand_in_again if is_taking else decisions.close_set_aside
        try:
            action(aside_id=aside_id, by_user=signed_in(request), at=clock.now(), because=form.cleaned_data["because"])
        except Refusal as refusal:
            form.add_error(None, refusal.sentence)
        else:
            messages.success(request, "Taken." if is_taking else "It stays aside.")
            return redirect("tablet:set_aside")
    text = bytes(found.raw).decode("utf-8", "backslashreplace")[:20_000].replace("\x00", "\\0")
    return render(request, "tablet/set_aside_one.html", {"aside": found, "take": take, "close": close, "text": text})


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def visit(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """What came in about one visit: conflicts side by side, why it stays open, and everything in its order."""
    appointment = get_object_or_404(appointments_to_show().select_related("checkup"), pk=appointment_id)
    tablet = get_object_or_404(TabletVisit, appointment=appointment)
    story = queries.visit_story(appointment=appointment, tablet=tablet)
    verdicts = _decisions(story.codes)
    name = next((name for name in verdicts if name in request.POST), "")
    forms = {
        key: BecauseForm(request.POST if key == name else None, submit=submit, name=key, help_text=help_text)
        for key, (submit, help_text, _) in verdicts.items()
    }
    if name and forms[name].is_valid():
        try:
            verdicts[name][2](
                appointment_id=appointment_id,
                by_user=signed_in(request),
                at=clock.now(),
                because=forms[name].cleaned_data["because"],
            )
        except Refusal as refusal:
            forms[name].add_error(None, refusal.sentence)
        else:
            messages.success(request, "Noted.")
            return redirect("tablet:visit", appointment_id=appointment_id)
    context = {
        "story": story,
        "days": queries.grouped_by_day(story.sides),
        "forms": list(forms.values()),
        "bound": [form for form in forms.values() if form.is_bound],
    }
    return render(request, "tablet/visit.html", context)


def _decisions(codes: set[str]) -> dict[str, tuple[str, str, Callable[..., Any]]]:
    """What the office can decide about a visit with these problems: button, what it means, and the action."""
    offered: dict[str, tuple[str, str, Callable[..., Any]]] = {}
    if codes & {"changed_since_signed", "not_signed"}:
        offered["unsigned"] = (
            "Finish it without a new signature",
            "The report then says that nobody signed. What the owner did sign stays on record here.",
            decisions.finish_unsigned,
        )
    if "not_begun" in codes:
        offered["take_late"] = (
            "Take this work as done",
            "The visit holds again although it was called off, and the check-up is made of what came in.",
            decisions.take_late_work,
        )
    if "after_finish" in codes:
        offered["reopen"] = (
            "Open the check-up again",
            "What came in afterwards is written into it; it has to be signed or finished without, and a new report "
            "is made.",
            decisions.reopen,
        )
    return offered


@require_POST
@staff_only(*DESK)
def choose(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Ends a conflict: the chosen answer holds, the others stay on record."""
    get_object_or_404(TabletVisit, appointment_id=appointment_id)
    try:
        chosen = UUID(request.POST.get("event", ""))
        seen = [UUID(one) for one in request.POST.getlist("seen")]
    except ValueError:
        raise Http404 from None
    try:
        decisions.choose(
            appointment_id=appointment_id,
            field=request.POST.get("field", ""),
            event_id=chosen,
            seen=seen,
            by_user=signed_in(request),
            at=clock.now(),
        )
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "Chosen. The other answer stays on record.")
    return redirect("tablet:visit", appointment_id=appointment_id)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def hand_in_file(request: HttpRequest) -> HttpResponse:
    """Takes a file that a tablet saved; it goes through the same door as everything else."""
    form = ImportForm(request.POST or None, request.FILES or None)
    taken = None
    if request.method == "POST" and form.is_valid():
        try:
            taken = import_export(file=form.cleaned_data["file"], by_user=signed_in(request), at=clock.now())
        except Refusal as refusal:
            form.add_error("file", refusal.sentence)
    return render(request, "tablet/import.html", {"form": form, "taken": taken})
