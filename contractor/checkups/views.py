"""Pages of the technician: the round, the check-up, its photos and its report."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.forms import Form
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import EVERYBODY, signed_in, staff_only
from contractor.accounts.models import Role, User
from contractor.checkups.actions import checkup as actions
from contractor.checkups.actions import evidence
from contractor.checkups.actions.reporting import make_report
from contractor.checkups.cards import checkup_page
from contractor.checkups.drawings import drawing_of
from contractor.checkups.errors import AlreadyFinished
from contractor.checkups.forms import AnswerForm, BecauseForm, FindingForm, SignatureForm, SwapForm
from contractor.checkups.models import CheckUp, Finding, Photo
from contractor.checkups.queries import open_findings, round_stops, rounds_ahead
from contractor.checkups.rules.items import STEPS
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems.models import Component
from contractor.visits.actions.appointments import could_not as note_could_not
from contractor.visits.models import Appointment


@require_safe
@staff_only(Role.TECHNICIAN)
def my_round(request: HttpRequest) -> HttpResponse:
    """Today's stops of the technician who asks."""
    return _round(request, signed_in(request), clock.today())


@require_safe
@staff_only(*EVERYBODY)
def round_day(request: HttpRequest, technician_id: int, day: date) -> HttpResponse:
    """The stops of a day: one's own, or anybody's for the desk."""
    user = signed_in(request)
    if user.role == Role.TECHNICIAN and user.pk != technician_id:
        raise Http404
    return _round(request, get_object_or_404(User.objects.technicians(), pk=technician_id), day)


def _round(request: HttpRequest, technician: User, day: date) -> HttpResponse:
    context = {
        "technician": technician,
        "day": day,
        "is_today": day == clock.today(),
        "is_ahead": day > clock.today(),
        "is_own": technician.pk == signed_in(request).pk,
        "stops": round_stops(technician=technician, on=day),
        "ahead": rounds_ahead(technician=technician, on=day),
    }
    return render(request, "checkups/round.html", context)


@require_POST
@staff_only(Role.TECHNICIAN)
def begin(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Begins the check-up of a stop, or opens the one that was begun."""
    appointment = get_object_or_404(Appointment.objects.visible_to(signed_in(request)), pk=appointment_id)
    begun = actions.start_checkup(
        appointment_id=appointment.pk, by_user=signed_in(request), on=clock.today(), at=clock.now()
    )
    return redirect("checkups:checkup", checkup_id=begun.pk)


@require_http_methods(["GET", "POST"])
@staff_only(Role.TECHNICIAN)
def could_not(request: HttpRequest, appointment_id: int) -> HttpResponse:
    """Notes that a stop could not be done, and why."""
    appointment = get_object_or_404(
        Appointment.objects.visible_to(signed_in(request)).select_related("request__system__property"),
        pk=appointment_id,
    )
    form = BecauseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        note_could_not(appointment_id=appointment_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
        messages.success(request, "Noted. The office finds another day.")
        return redirect("checkups:my_round")
    return render(request, "checkups/could_not.html", {"form": form, "appointment": appointment})


@require_safe
@staff_only(*EVERYBODY)
def checkup(request: HttpRequest, checkup_id: int) -> HttpResponse:
    """The check-up as one flowing page."""
    return _page(request, _visible(request, checkup_id))


@require_POST
@staff_only(Role.TECHNICIAN)
def answer(request: HttpRequest, checkup_id: int, key: str) -> HttpResponse:
    """Records the answer of one card and gives the card back with its verdict."""
    found = _visible(request, checkup_id)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        return _card(request, found, key, error=_sentences(form))
    item_id, component_id = _line(key)
    return _try(
        request,
        found,
        key,
        lambda: actions.record_answer(
            checkup_id=checkup_id,
            item_id=item_id,
            component_id=component_id,
            by_user=signed_in(request),
            at=clock.now(),
            **form.cleaned_data,
        ),
    )


@require_POST
@staff_only(Role.TECHNICIAN)
def photo_add(request: HttpRequest, checkup_id: int, key: str) -> HttpResponse:
    """Keeps a photo that belongs to one card."""
    found = _visible(request, checkup_id)
    sent = request.FILES.get("photo")
    if not isinstance(sent, UploadedFile):
        return _card(request, found, key, error="Choose or take a photo first.")
    item_id, component_id = _line(key)
    return _try(
        request,
        found,
        key,
        lambda: evidence.add_photo(
            checkup_id=checkup_id,
            content=sent.read(),
            by_user=signed_in(request),
            at=clock.now(),
            item_id=item_id,
            component_id=component_id,
        ),
    )


@require_POST
@staff_only(Role.TECHNICIAN)
def finding_add(request: HttpRequest, checkup_id: int, key: str) -> HttpResponse:
    """Writes a finding down, and closes it at once when it was put right on the spot."""
    found = _visible(request, checkup_id)
    form = FindingForm(request.POST)
    if not form.is_valid():
        return _card(request, found, key, error="Say what you found.")
    item_id, component_id = _line(key)
    given = dict(form.cleaned_data)
    repaired = given.pop("repaired")

    def write() -> None:
        user = signed_in(request)
        finding = evidence.raise_finding(
            checkup_id=checkup_id, item_id=item_id, component_id=component_id, by_user=user, at=clock.now(), **given
        )
        if repaired:
            evidence.close_finding(finding_id=finding.pk, note=repaired, by=user.actor, at=clock.now(), done_by=user)

    return _try(request, found, key, write)


@require_POST
@staff_only(*EVERYBODY)
def finding_close(request: HttpRequest, finding_id: str) -> HttpResponse:
    """Notes that a finding was put right: during the check-up, at a later one, or from the desk."""
    user = signed_in(request)
    finding = get_object_or_404(Finding.objects.select_related("checkup__system"), pk=finding_id)
    now_open = CheckUp.objects.filter(technician=user, system=finding.checkup.system_id, finished_at=None).first()
    found = _visible(request, now_open.pk if now_open else finding.checkup_id)
    evidence.close_finding(
        finding_id=finding.pk, note=request.POST.get("note", ""), by=user.actor, at=clock.now(), done_by=user
    )
    messages.success(request, "The finding is put right.")
    if found.finished_at is not None and user.role != Role.TECHNICIAN:
        return redirect("office:house", property_id=found.system.property_id)
    return redirect("checkups:checkup", checkup_id=found.pk)


@require_http_methods(["GET", "POST"])
@staff_only(Role.TECHNICIAN)
def swap(request: HttpRequest, checkup_id: int, component_id: int) -> HttpResponse:
    """Swaps a part: old one out, new one in."""
    found = _visible(request, checkup_id)
    component = get_object_or_404(
        Component.objects.in_place(found.done_on).filter(system_id=found.system_id), pk=component_id
    )
    if found.finished_at is not None:
        messages.error(request, AlreadyFinished().sentence)
        return redirect("checkups:checkup", checkup_id=checkup_id)
    form = SwapForm(request.POST or None, part_kind=component.part_kind, initial={"model": component.model_id})
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        try:
            new = actions.swap_component(
                checkup_id=checkup_id,
                component_id=component_id,
                model_id=given.pop("model").pk,
                by_user=signed_in(request),
                on=found.done_on,
                at=clock.now(),
                **given,
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"The new {new.kind.word} is in. Check it as well.")
            return redirect("checkups:checkup", checkup_id=checkup_id)
    return render(request, "checkups/swap.html", {"form": form, "component": component, "checkup": found})


@require_POST
@staff_only(Role.TECHNICIAN)
def sign(request: HttpRequest, checkup_id: int) -> HttpResponse:
    """Keeps the signature."""
    found = _visible(request, checkup_id)
    form = SignatureForm(request.POST)
    if not form.is_valid():
        return _page(request, found, sign_error=_sentences(form))
    try:
        actions.sign(checkup_id=checkup_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
    except Refusal as refusal:
        return _page(request, found, sign_error=refusal.sentence)
    return redirect(reverse("checkups:checkup", args=[checkup_id]) + "#sign")


@require_POST
@staff_only(Role.TECHNICIAN)
def finish(request: HttpRequest, checkup_id: int) -> HttpResponse:
    """Finishes the check-up, or says what is still missing."""
    found = _visible(request, checkup_id)
    try:
        done = actions.finish_checkup(checkup_id=checkup_id, by_user=signed_in(request), at=clock.now())
    except Refusal as refusal:
        return _page(request, found, finish_error=refusal.sentence)
    messages.success(request, f"Finished. {done.summary} The owner gets the report by e-mail.")
    return redirect("checkups:my_round")


@require_safe
@staff_only(*EVERYBODY)
def report(request: HttpRequest, checkup_id: int) -> FileResponse:
    """The report of a finished check-up as PDF."""
    found = _visible(request, checkup_id)
    if found.finished_at is None:
        raise Http404
    made = make_report(checkup_id=found.pk, at=clock.now())
    return FileResponse(made.file.open("rb"), filename=f"check-up-{found.done_on}.pdf", content_type="application/pdf")


@require_safe
@staff_only(*EVERYBODY)
def photo(request: HttpRequest, photo_id: str) -> FileResponse:
    """A photo as re-encoded here, for those who may see its check-up."""
    found = get_object_or_404(Photo, pk=photo_id)
    _visible(request, found.checkup_id)
    return FileResponse(found.shown.open("rb"), content_type="image/jpeg")


def _sentences(form: Form) -> str:
    return " ".join(str(error) for errors in form.errors.values() for error in errors)


def _visible(request: HttpRequest, checkup_id: int) -> CheckUp:
    """The check-up, if this person may see it; another technician's answers exactly like a missing one."""
    rows = CheckUp.objects.visible_to(signed_in(request)).select_related(
        "system__property", "system__as_built", "appointment__request"
    )
    return get_object_or_404(rows, pk=checkup_id)


def _line(key: str) -> tuple[int, int | None]:
    """Item and component of a card's key (\"41-7\"; 0 stands for the house)."""
    item_id, _, component_id = key.partition("-")
    return int(item_id), int(component_id) or None


def _try(request: HttpRequest, found: CheckUp, key: str, write: Any) -> HttpResponse:
    try:
        write()
    except Refusal as refusal:
        return _card(request, found, key, error=refusal.sentence)
    return _card(request, found, key)


def _card(request: HttpRequest, found: CheckUp, key: str, *, error: str = "") -> HttpResponse:
    """The card anew with the progress for htmx; the whole page at the card for everybody else."""
    if not getattr(request, "htmx", False):
        if error:
            page = checkup_page(found)
            where = {"error": error, "error_key": key} if page.card(key) else {"finish_error": error}
            return _page(request, found, **where)
        return redirect(reverse("checkups:checkup", args=[found.pk]) + f"#line-{key}")
    page = checkup_page(found)
    card = page.card(key)
    if card is None:
        raise Http404
    context = {"page": page, "card": card, "error": error, "checkup": found, "can_write": True, "is_fragment": True}
    return render(request, "checkups/card_answer.html", context)


def _page(request: HttpRequest, found: CheckUp, **extra: str) -> HttpResponse:
    user = signed_in(request)
    ownership = found.system.property.ownerships.current(found.done_on).select_related("person").first()
    context: dict[str, Any] = {
        "checkup": found,
        "page": checkup_page(found),
        "house": found.system.property,
        "owner": ownership.person if ownership else None,
        "from_before": [row for row in open_findings(system_id=found.system_id) if row.checkup_id != found.pk],
        **drawing_of(found),
        "can_write": found.finished_at is None and found.technician_id == user.pk,
        "steps": STEPS,
        **extra,
    }
    return render(request, "checkups/checkup.html", context, status=422 if extra else 200)
