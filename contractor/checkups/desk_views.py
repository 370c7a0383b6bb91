"""Pages of the desk about check-ups: outside records, and the editions of the checklist."""

from pathlib import PurePath

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.accounts.models import Role
from contractor.checkups.actions.checklists import add_checklist, change_item, copy_checklist, publish_checklist
from contractor.checkups.actions.records import decide_outside_record
from contractor.checkups.editions import as_data, walk_of
from contractor.checkups.forms import ChecklistFileForm, DecideForm, ItemForm
from contractor.checkups.lines import units_in_use
from contractor.checkups.models import Checklist, ChecklistItem, OutsideRecord
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.systems.models import System


@require_safe
@staff_only(*DESK)
def outside_records(request: HttpRequest, system_id: int) -> HttpResponse:
    """The check-ups of a system that are documented outside this register."""
    system = get_object_or_404(System.objects.select_related("property"), pk=system_id)
    records = system.outside_records.select_related("decided_by").order_by("-done_on", "-pk")
    return render(request, "checkups/outside_records.html", {"system": system, "records": records})


@require_POST
@staff_only(*DESK)
def decide_record(request: HttpRequest, record_id: int) -> HttpResponse:
    """Accepts or refuses a record."""
    record = get_object_or_404(OutsideRecord.objects.select_related("system"), pk=record_id)
    form = DecideForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Say why in a few words: the owner is told.")
        return redirect("checkups:outside_records", system_id=record.system_id)
    accepted = form.cleaned_data["accepted"] == "yes"
    decide_outside_record(
        record_id=record_id,
        accepted=accepted,
        because=form.cleaned_data["because"],
        by_user=signed_in(request),
        at=clock.now(),
    )
    messages.success(request, "Accepted: it counts like our own check-up." if accepted else "Refused.")
    return redirect("office:house", property_id=record.system.property_id)


@require_safe
@staff_only(*DESK)
def record_document(request: HttpRequest, record_id: int) -> FileResponse:
    """The document as it came, to be saved and never run in the page."""
    record = get_object_or_404(OutsideRecord, pk=record_id)
    if not record.document:
        raise Http404
    name = f"record-{record.done_on}{PurePath(str(record.document.name)).suffix}"
    return FileResponse(record.document.open("rb"), as_attachment=True, filename=name)


@require_safe
@staff_only(Role.MANAGER)
def checklists(request: HttpRequest) -> HttpResponse:
    """Every edition."""
    return render(request, "checkups/checklists.html", {"checklists": Checklist.objects.select_related("published_by")})


@require_safe
@staff_only(Role.MANAGER)
def checklist(request: HttpRequest, checklist_id: int) -> HttpResponse:
    """One edition with its items in walking order."""
    found = get_object_or_404(Checklist, pk=checklist_id)
    steps = walk_of(found, units_in_use())
    count = sum(len(sheets) for _, sheets in steps)
    return render(request, "checkups/checklist.html", {"checklist": found, "steps": steps, "count": count})


@require_safe
@staff_only(Role.MANAGER)
def checklist_file(request: HttpRequest, checklist_id: int) -> HttpResponse:
    """One edition as a file, to be changed elsewhere and uploaded as the next."""
    found = get_object_or_404(Checklist, pk=checklist_id)
    answer = JsonResponse(as_data(found), json_dumps_params={"ensure_ascii": False, "indent": 1})
    answer["Content-Disposition"] = f'attachment; filename="checklist-edition-{found.edition}.json"'
    return answer


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def checklist_upload(request: HttpRequest) -> HttpResponse:
    """Takes a file as a new draft edition."""
    sent = request.method == "POST"
    form = ChecklistFileForm(request.POST, request.FILES) if sent else ChecklistFileForm()
    if sent and form.is_valid():
        try:
            data = form.cleaned_data["file"]
            added = add_checklist(data=data, by=signed_in(request).actor, at=clock.now())
        except Refusal as refusal:
            form.add_error("file", refusal.sentence)
        else:
            messages.success(request, "Taken in as a draft. Read it through, then publish it.")
            return redirect("checkups:checklist", checklist_id=added.pk)
    newest = Checklist.objects.order_by("-edition").first()
    next_edition = newest.edition + 1 if newest else 1
    return render(request, "checkups/checklist_upload.html", {"form": form, "next_edition": next_edition})


@require_POST
@staff_only(Role.MANAGER)
def checklist_copy(request: HttpRequest, checklist_id: int) -> HttpResponse:
    """A new edition to change, from this one."""
    get_object_or_404(Checklist, pk=checklist_id)
    made = copy_checklist(checklist_id=checklist_id, by=signed_in(request).actor, at=clock.now())
    return redirect("checkups:checklist", checklist_id=made.pk)


@require_POST
@staff_only(Role.MANAGER)
def checklist_publish(request: HttpRequest, checklist_id: int) -> HttpResponse:
    """Publishes an edition."""
    get_object_or_404(Checklist, pk=checklist_id)
    user = signed_in(request)
    publish_checklist(checklist_id=checklist_id, by=user.actor, at=clock.now(), published_by=user)
    messages.success(request, "Published. New check-ups are made from this edition.")
    return redirect("checkups:checklist", checklist_id=checklist_id)


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def item(request: HttpRequest, item_id: int) -> HttpResponse:
    """Words and limits of one item of a draft."""
    found = get_object_or_404(ChecklistItem.objects.select_related("checklist"), pk=item_id)
    form = ItemForm(request.POST or None, item=found)
    if request.method == "POST" and form.is_valid():
        try:
            change_item(item_id=item_id, values=form.values(), by=signed_in(request).actor, at=clock.now())
        except Refusal as refusal:
            form.add_error(None, refusal.sentence)
        else:
            messages.success(request, "Saved.")
            return redirect("checkups:checklist", checklist_id=found.checklist_id)
    return render(request, "checkups/item.html", {"form": form, "item": found})
