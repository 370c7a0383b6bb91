"""Writes of a check-up: from its start, through answers, photos, findings and swaps, to signature and finish."""

from collections.abc import Mapping
from datetime import date, datetime
from functools import partial
from typing import Any
from uuid import UUID, uuid4

from django.core.files.base import ContentFile
from django.db import models, transaction

from contractor.accounts.models import User
from contractor.celery import start
from contractor.checkups.entries import Entry, read_entry
from contractor.checkups.errors import (
    AnswerIdTaken,
    CheckUpFinished,
    NameMissing,
    NoChecklist,
    NotComplete,
    NoteMissing,
    NotInThisHouse,
    NotOnThisCheckUp,
    NotYourVisit,
    PhotoTwice,
    SwapReasonMissing,
    VisitNotOpen,
    WhatMissing,
)
from contractor.checkups.models import Answer, Checklist, CheckUp, Finding, Photo, Signature
from contractor.checkups.photos import ShownPhoto, make_shown
from contractor.checkups.rules.outcomes import ToRaise, verdicts_of
from contractor.checkups.rules.summaries import summary
from contractor.checkups.rules.verdicts import Reading, Verdict
from contractor.checkups.rules.walk import Line, LineKey
from contractor.checkups.sheet import OPEN_STATES, Sheet, component_of, read_sheet, reading_of
from contractor.checkups.signing import read_strokes
from contractor.core import audit, renewal
from contractor.core.audit import Actor
from contractor.systems.actions import replace_component
from contractor.systems.models import CatalogueModel, Component
from contractor.visits.actions import mark_done
from contractor.visits.models import Appointment


@transaction.atomic
def start_checkup(*, appointment_id: int, by_user: User, on: date, at: datetime) -> CheckUp:
    """Begins the check-up of an appointment from the newest published checklist; a second start gives the same one.

    Raises NotYourVisit, VisitNotOpen or NoChecklist.
    """
    # The appointment's row is locked, so two taps on "Start" can't make two check-ups.
    appointment = (
        Appointment.objects.select_for_update(of=("self",))
        .select_related("request__system", "technician")
        .get(pk=appointment_id)
    )
    if appointment.technician_id != by_user.pk:
        raise NotYourVisit(appointment.technician.name)
    present = CheckUp.objects.filter(appointment=appointment).first()
    if present is not None:
        return present
    if appointment.state not in OPEN_STATES:
        raise VisitNotOpen(appointment.get_state_display())
    checklist = Checklist.objects.published().first()
    if checklist is None:
        raise NoChecklist
    checkup = CheckUp.objects.create(
        appointment=appointment,
        system=appointment.request.system,
        kind=appointment.request.kind,
        checklist=checklist,
        technician=by_user,
        started_at=at,
        done_on=on,
    )
    _record(checkup, checkup, "check-up started", by=by_user.actor, at=at, after=audit.snapshot(checkup))
    return checkup


@transaction.atomic
def record_answer(
    *,
    checkup_id: int,
    item_id: int,
    component_id: int | None,
    by_user: User,
    at: datetime,
    condition: str = "",
    typed: str = "",
    unit: str = "",
    seconds: float | None = None,
    text: str = "",
    because: str = "",
    answer_id: UUID | None = None,
) -> Answer:
    """Records an answer and its verdict. An earlier answer stays and is superseded; the same again changes nothing.

    Raises NotOnThisCheckUp, AnswerIdTaken, what ``entries.read_entry`` raises, or what makes a check-up closed.
    """
    sheet = _open_sheet(checkup_id, by_user)
    line = sheet.line(item_id, component_id)
    entry = read_entry(
        line.item, condition=condition, typed=typed, unit=unit, seconds=seconds, text=text, because=because
    )
    if answer_id is not None and (known := Answer.objects.filter(pk=answer_id).first()) is not None:
        if known.checkup_id == checkup_id and _says(known) == (item_id, component_id, entry):
            return known
        raise AnswerIdTaken
    present = sheet.answers.get(line.key)
    if present is not None and _says(present) == (item_id, component_id, entry):
        return present
    answer = _unsaved_answer(sheet, line, entry, by_user, at, answer_id or uuid4())
    readings = {**sheet.readings, line.key: reading_of(answer, len(sheet.photos_of(line.key)))}
    judged = verdicts_of(sheet.lines, readings, sheet.system)
    _save_answer(sheet, answer, judged[line.key], at)
    _judge_others_again(sheet, line, judged, by_user, at)
    return answer


def add_photo(
    *,
    checkup_id: int,
    content: bytes,
    by_user: User,
    at: datetime,
    item_id: int | None = None,
    component_id: int | None = None,
    finding_id: UUID | None = None,
    caption: str = "",
) -> Photo:
    """Keeps a photo: the original as evidence, and a picture without position to show. The same again changes nothing.

    Raises a refusal of ``photos.make_shown``, PhotoTwice, NotOnThisCheckUp, or what makes a check-up closed.
    """
    # Decoding takes its time, and nobody should wait for the table meanwhile.
    shown = make_shown(content)
    return _keep_photo(
        checkup_id, content, shown, by_user, at, item_id, component_id, finding_id=finding_id, caption=caption
    )


@transaction.atomic
def raise_finding(
    *,
    checkup_id: int,
    severity: str,
    what: str,
    by_user: User,
    at: datetime,
    what_to_do: str = "",
    component_id: int | None = None,
    item_id: int | None = None,
) -> Finding:
    """Writes down something wrong or worth watching.

    Raises WhatMissing, NotOnThisCheckUp, or what makes a check-up closed.
    """
    checkup = _open_checkup(checkup_id, by_user)
    if not what.strip():
        raise WhatMissing
    if severity not in Finding.Severity.values:
        raise ValueError(f"No finding has the severity {severity!r}.")
    in_house = component_id is None or checkup.system.components.filter(pk=component_id).exists()
    on_list = item_id is None or checkup.checklist.items.filter(pk=item_id).exists()
    if not (in_house and on_list):
        raise NotOnThisCheckUp
    return _raise(
        checkup,
        {
            "severity": severity,
            "what": what.strip(),
            "what_to_do": what_to_do.strip(),
            "component_id": component_id,
            "item_id": item_id,
        },
        by_user,
        at,
    )


@transaction.atomic
def close_finding(
    *, finding_id: UUID, note: str, by: Actor, at: datetime, done_by: User | None = None
) -> Finding:
    """Notes that a finding was put right, and how; one that is closed already stays as it is. Raises NoteMissing."""
    finding = (
        Finding.objects.select_for_update(of=("self",)).select_related("checkup__system").get(pk=finding_id)
    )
    if finding.done_at is not None:
        return finding
    if not note.strip():
        raise NoteMissing
    before = audit.snapshot(finding)
    finding.done_at, finding.done_by, finding.done_note = at, done_by, note.strip()
    finding.save()
    _record(finding.checkup, finding, "finding put right", by=by, at=at, before=before, after=audit.snapshot(finding))
    renewal.facts_changed(property_id=finding.checkup.system.property_id)
    return finding


@transaction.atomic
def swap_component(
    *,
    checkup_id: int,
    component_id: int,
    model_id: int | None,
    serial_number: str,
    because: str,
    failed: bool,
    by_user: User,
    on: date,
    at: datetime,
) -> Component:
    """Replaces a part in the course of a check-up. What was found of the old one is written down and closed with it.

    Raises SwapReasonMissing, NotInThisHouse, a refusal of ``replace_component``, or what makes a check-up closed.
    """
    sheet = _open_sheet(checkup_id, by_user)
    if not because.strip():
        raise SwapReasonMissing
    old = sheet.components.get(component_id)
    if old is None or old.out_on is not None:
        raise NotInThisHouse
    for due in sheet.outcome.findings_to_raise:
        if component_of(due.line) == component_id:
            _raise(sheet.checkup, _draft(sheet, due), by_user, at)
    new = replace_component(
        component_id=component_id,
        on=on,
        because=because,
        failed=failed,
        by=by_user.actor,
        at=at,
        model=CatalogueModel.objects.get(pk=model_id) if model_id is not None else None,
        serial_number=serial_number,
        swapped_by=by_user,
    )
    note = f"Replaced on the spot: {because.strip()}"
    for finding in Finding.objects.still_open().filter(component_id=component_id):
        close_finding(finding_id=finding.pk, note=note, by=by_user.actor, at=at, done_by=by_user)
    return new


@transaction.atomic
def sign(*, checkup_id: int, kind: str, name: str, strokes: Any, at: datetime, by: Actor) -> Signature:
    """Takes the owner's word at the end, with a hash of what was on the screen; signing again replaces it.

    ``strokes`` are lists of [x, y] (see ``signing``), for a drawn one only. Raises NameMissing, SignatureMissing,
    StrokesUnreadable, or what makes a check-up closed.
    """
    sheet = read_sheet(_locked(checkup_id))
    _refuse_closed(sheet.checkup)
    signature = sheet.signature or Signature(checkup=sheet.checkup)
    before = audit.snapshot(signature) if signature.pk else None
    signature.kind = Signature.Kind(kind)
    signature.name = "" if kind == Signature.Kind.NOBODY_HOME else name.strip()
    signature.strokes = read_strokes(strokes) if kind == Signature.Kind.DRAWN else []
    if kind != Signature.Kind.NOBODY_HOME and not signature.name:
        raise NameMissing
    signature.signed_at, signature.signed_sha256 = at, sheet.sha256
    signature.save()
    _record(
        sheet.checkup, signature, "check-up signed", by=by, at=at, before=before, after=audit.snapshot(signature)
    )
    return signature


@transaction.atomic
def finish_checkup(*, checkup_id: int, by_user: User, at: datetime) -> CheckUp:
    """Finishes a check-up: what its verdicts ask for is written down, the visit is done, the report is begun.

    Raises NotComplete with the list of what is missing, or what makes a check-up closed.
    """
    sheet = _open_sheet(checkup_id, by_user)
    if sheet.to_do:
        raise NotComplete([missing.sentence for missing in sheet.to_do])
    checkup = sheet.checkup
    for due in sheet.outcome.findings_to_raise:
        _raise(checkup, _draft(sheet, due), by_user, at)
    before = audit.snapshot(checkup)
    found = [(finding.severity, finding.done_at is not None) for finding in checkup.findings.all()]
    swapped = checkup.system.components.filter(in_on=checkup.done_on, replaces__isnull=False)
    checkup.finished_at = at
    checkup.summary = summary(found=found, swapped=[part.kind.word for part in swapped])
    checkup.save()
    _record(
        checkup, checkup, "check-up finished", by=by_user.actor, at=at, before=before, after=audit.snapshot(checkup)
    )
    mark_done(appointment_id=checkup.appointment_id, by=by_user.actor, at=at)
    renewal.facts_changed(property_id=checkup.system.property_id)
    transaction.on_commit(
        partial(start, "contractor.checkups.tasks.make_checkup_report", checkup_id=checkup.pk), robust=True
    )
    return checkup


def _locked(checkup_id: int) -> CheckUp:
    # One check-up has one writer at a time: a later answer sees the one before it.
    return (
        CheckUp.objects.select_for_update(of=("self",))
        .select_related("appointment__technician", "system__property", "checklist", "technician")
        .get(pk=checkup_id)
    )


def _open_checkup(checkup_id: int, by_user: User) -> CheckUp:
    checkup = _locked(checkup_id)
    if checkup.technician_id != by_user.pk:
        raise NotYourVisit(checkup.technician.name)
    _refuse_closed(checkup)
    return checkup


def _refuse_closed(checkup: CheckUp) -> None:
    if checkup.finished_at is not None:
        raise CheckUpFinished
    if checkup.appointment.state not in OPEN_STATES:
        raise VisitNotOpen(checkup.appointment.get_state_display())


def _open_sheet(checkup_id: int, by_user: User) -> Sheet:
    return read_sheet(_open_checkup(checkup_id, by_user))


def _says(answer: Answer) -> tuple[int, int | None, Entry]:
    """What an answer says, to tell the same one sent twice from another."""
    entry = Entry(
        condition=answer.condition,
        number_si=answer.number_si,
        seconds=answer.seconds,
        typed=answer.typed,
        unit=answer.unit,
        text=answer.text,
        because=answer.because,
    )
    return answer.item_id, answer.component_id, entry


def _unsaved_answer(sheet: Sheet, line: Line, entry: Entry, by_user: User, at: datetime, answer_id: UUID) -> Answer:
    return Answer(
        id=answer_id,
        checkup=sheet.checkup,
        item=sheet.items[line.item.code],
        component_id=component_of(line),
        condition=entry.condition,
        number_si=entry.number_si,
        seconds=entry.seconds,
        typed=entry.typed,
        unit=entry.unit,
        text=entry.text,
        because=entry.because,
        recorded_at=at,
        recorded_by=by_user,
        supersedes=sheet.answers.get(line.key),
    )


def _save_answer(sheet: Sheet, answer: Answer, verdict: Verdict, at: datetime) -> None:
    answer.verdict, answer.verdict_sentence = verdict.word, verdict.sentence
    answer.save(force_insert=True)
    # Free text may name people; the row itself is never changed, so the trail needs only what was judged.
    after = {
        "checkup_id": sheet.checkup.pk,
        "item": answer.item.code,
        "component_id": answer.component_id,
        "condition": answer.condition,
        "typed": answer.typed,
        "unit": answer.unit,
        "seconds": answer.seconds,
        "verdict": answer.verdict,
        "supersedes_id": answer.supersedes_id,
    }
    _record(sheet.checkup, answer, "answer recorded", by=answer.recorded_by.actor, at=at, after=after)


def _judge_others_again(
    sheet: Sheet, changed: Line, judged: Mapping[LineKey, Verdict], by_user: User, at: datetime
) -> None:
    """A temperature or an inflow changes what other readings mean: they are judged again as new answers."""
    for line in sheet.lines:
        present = sheet.answers.get(line.key)
        if line.key == changed.key or present is None or line.key not in judged:
            continue
        verdict = judged[line.key]
        if (present.verdict, present.verdict_sentence) != (verdict.word, verdict.sentence):
            again = _unsaved_answer(sheet, line, _says(present)[2], by_user, at, uuid4())
            _save_answer(sheet, again, verdict, at)


@transaction.atomic
def _keep_photo(
    checkup_id: int,
    content: bytes,
    shown: ShownPhoto,
    by_user: User,
    at: datetime,
    item_id: int | None,
    component_id: int | None,
    **words: Any,
) -> Photo:
    sheet = _open_sheet(checkup_id, by_user)
    twin = next((photo for photo in sheet.photos if photo.original_sha256 == shown.original_sha256), None)
    if twin is not None:
        if (twin.item_id, twin.component_id, twin.finding_id) == (item_id, component_id, words["finding_id"]):
            return twin
        raise PhotoTwice
    if item_id is not None:
        sheet.line(item_id, component_id)
    if words["finding_id"] is not None and words["finding_id"] not in {found.pk for found in sheet.findings}:
        raise NotOnThisCheckUp
    photo = Photo(
        checkup=sheet.checkup,
        item_id=item_id,
        component_id=component_id,
        original_sha256=shown.original_sha256,
        width=shown.width,
        height=shown.height,
        taken_at=at,
        taken_by=by_user,
        **words,
    )
    photo.original.save(f"{photo.pk}{shown.original_suffix}", ContentFile(content), save=False)
    photo.shown.save(f"{photo.pk}.jpg", ContentFile(shown.jpeg), save=False)
    photo.save(force_insert=True)
    after = {"checkup_id": checkup_id, "item_id": item_id, "original_sha256": photo.original_sha256}
    _record(sheet.checkup, photo, "photo taken", by=by_user.actor, at=at, after=after)
    return photo


def _draft(sheet: Sheet, due: ToRaise) -> dict[str, Any]:
    return {
        "severity": due.severity,
        "what": due.what,
        "what_to_do": due.what_to_do,
        "component_id": component_of(due.line),
        "item_id": sheet.items[due.line.item.code].pk,
    }


def _raise(checkup: CheckUp, values: Mapping[str, Any], by_user: User, at: datetime) -> Finding:
    finding = Finding.objects.create(checkup=checkup, raised_at=at, raised_by=by_user, **values)
    _record(checkup, finding, "finding raised", by=by_user.actor, at=at, after=audit.snapshot(finding))
    return finding


def _record(checkup: CheckUp, subject: models.Model, verb: str, *, by: Actor, at: datetime, **values: Any) -> None:
    audit.record(by=by, at=at, verb=verb, subject=subject, property_id=checkup.system.property_id, **values)
