"""Writes of one check-up: begin, answer, find, swap, sign, finish."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid4

from django.core.files.base import ContentFile
from django.db import transaction

from contractor.accounts.models import User
from contractor.celery import start_after_commit
from contractor.checkups.errors import (
    AlreadyFinished,
    FindingDone,
    NameMissing,
    NoChecklist,
    NotACheckUp,
    NothingAnswered,
    NothingDrawn,
    NotOfThisHouse,
    NotSigned,
    NotYourVisit,
    PhotoAtAnotherCard,
    ReasonMissing,
    StillMissing,
    VisitNotOpen,
)
from contractor.checkups.lines import Sheet, content_sha256, published_checklist, reading_of
from contractor.checkups.models import Answer, ChecklistItem, CheckUp, Finding, Photo, Signature
from contractor.checkups.photos import check_photo
from contractor.checkups.queries import KINDS_WITH_CHECKLIST
from contractor.checkups.rules.verdicts import is_answered
from contractor.checkups.rules.walk import LineKey
from contractor.core import audit, renewal, units
from contractor.core.audit import Actor
from contractor.systems.actions import replace_component
from contractor.systems.models import CatalogueModel, Component
from contractor.visits.actions import mark_done
from contractor.visits.models import Appointment


@transaction.atomic
def start_checkup(*, appointment_id: int, by_user: User, on: date, at: datetime) -> CheckUp:
    """Begins the check-up of an appointment, from the newest published checklist; once begun it is the same one.

    Raises NotYourVisit, VisitNotOpen, NotACheckUp or NoChecklist.
    """
    appointment = (
        Appointment.objects.select_for_update(of=("self",)).select_related("request__system").get(pk=appointment_id)
    )
    if appointment.technician_id != by_user.pk:
        raise NotYourVisit
    begun = CheckUp.objects.filter(appointment=appointment).first()
    if begun is not None:
        return begun
    if appointment.state not in {Appointment.State.PLANNED, Appointment.State.CONFIRMED}:
        raise VisitNotOpen(appointment.get_state_display())
    if appointment.request.kind not in KINDS_WITH_CHECKLIST:
        raise NotACheckUp(appointment.request.get_kind_display())
    checklist = published_checklist()
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
    _record(checkup, checkup, verb="check-up begun", by=by_user.actor, at=at, after=audit.snapshot(checkup))
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
    """Records one answer with its verdict; an earlier answer to the same line is superseded, never changed.

    The same ``answer_id`` again gives the same answer, also after the check-up was finished. Raises AlreadyFinished,
    NotYourVisit, NotOfThisHouse, NothingAnswered, ReasonMissing, or UnreadableMeasurement for a figure that can't be
    read or is of another quantity.
    """
    checkup = _own(checkup_id, by_user)
    if answer_id is not None and (known := Answer.objects.filter(pk=answer_id).first()) is not None:
        if known.checkup_id != checkup.pk:
            raise NotOfThisHouse
        return known
    _refuse_finished(checkup)
    item = _item(checkup, item_id)
    component = _component(checkup, component_id)
    if condition == "not_possible" and not because.strip():
        raise ReasonMissing
    before = checkup.answers.standing().filter(item=item, component=component).order_by("recorded_at").last()
    measured = units.parse(typed, _asked_unit(item, unit)) if typed.strip() else None
    answer = Answer(
        id=answer_id or uuid4(),
        checkup=checkup,
        item=item,
        component=component,
        condition=condition,
        number_si=measured.si if measured else None,
        seconds=seconds,
        typed=typed.strip(),
        unit=measured.unit if measured else "",
        text=text.strip(),
        because=because.strip(),
        recorded_at=at,
        recorded_by=by_user,
        supersedes=before,
    )
    _judge(checkup, answer)
    answer.save(force_insert=True)
    _record(checkup, answer, verb="answer recorded", by=by_user.actor, at=at, after=_short(answer))
    return answer


@transaction.atomic
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
    """Keeps a photo: the original as evidence, and a clean picture to show. The same photo again gives the same row.

    Raises AlreadyFinished, NotYourVisit, NotOfThisHouse, UnreadablePhoto, PhotoTooLarge, or PhotoAtAnotherCard when
    the same picture is sent for something else.
    """
    checkup = _open(checkup_id, by_user)
    checked = check_photo(content)
    known = checkup.photos.filter(original_sha256=checked.original_sha256).first()
    if known is not None:
        if (known.item_id, known.component_id) != (item_id, component_id):
            raise PhotoAtAnotherCard
        return known
    finding = checkup.findings.filter(pk=finding_id).first() if finding_id else None
    if finding_id and finding is None:
        raise NotOfThisHouse
    item, component = _item(checkup, item_id) if item_id else None, _component(checkup, component_id)
    _refuse_other_kind(item, component)
    photo = Photo(
        checkup=checkup,
        item=item,
        component=component,
        finding=finding,
        original_sha256=checked.original_sha256,
        width=checked.width,
        height=checked.height,
        caption=caption.strip(),
        taken_at=at,
        taken_by=by_user,
    )
    photo.original.save(f"{photo.pk}.{checked.original_suffix}", ContentFile(content), save=False)
    photo.shown.save(f"{photo.pk}.jpg", ContentFile(checked.shown_jpeg), save=False)
    photo.save(force_insert=True)
    kept = {"sha256": photo.original_sha256, "item_id": photo.item_id, "component_id": photo.component_id}
    _record(checkup, photo, verb="photo kept", by=by_user.actor, at=at, after=kept)
    return photo


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
    """Writes down something wrong or worth watching. Raises AlreadyFinished, NotYourVisit or NotOfThisHouse."""
    checkup = _open(checkup_id, by_user)
    if not what.strip():
        raise NothingAnswered("Say in a few words what you found.")
    item = _item(checkup, item_id) if item_id else None
    component = _component(checkup, component_id, also_taken_out=True)
    _refuse_other_kind(item, component)
    finding = Finding.objects.create(
        checkup=checkup,
        item=item,
        component=component,
        severity=Finding.Severity(severity),
        what=what.strip(),
        what_to_do=what_to_do.strip(),
        raised_at=at,
        raised_by=by_user,
    )
    _record(checkup, finding, verb="finding raised", by=by_user.actor, at=at, after=audit.snapshot(finding))
    return finding


@transaction.atomic
def close_finding(*, finding_id: UUID, note: str, by: Actor, at: datetime, done_by: User | None = None) -> Finding:
    """Notes that a finding was put right, also long after its check-up. Raises FindingDone or ReasonMissing."""
    finding = Finding.objects.select_for_update(of=("self",)).select_related("checkup__system").get(pk=finding_id)
    if finding.done_at is not None:
        raise FindingDone
    if not note.strip():
        raise ReasonMissing
    before = audit.snapshot(finding)
    finding.done_at, finding.done_by, finding.done_note = at, done_by, note.strip()
    finding.save()
    _record(
        finding.checkup,
        finding,
        verb="finding put right",
        by=by,
        at=at,
        before=before,
        after=audit.snapshot(finding),
    )
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
    """Swaps a part during a check-up; the new one gets its own lines.

    Raises AlreadyFinished, NotYourVisit, NotOfThisHouse, ReasonMissing, and what replacing a part may refuse.
    """
    checkup = _open(checkup_id, by_user)
    old = _component(checkup, component_id)
    if old is None:
        raise NotOfThisHouse
    if not because.strip():
        raise ReasonMissing
    return replace_component(
        component_id=old.pk,
        on=on,
        because=because,
        failed=failed,
        model=CatalogueModel.objects.filter(pk=model_id).first() if model_id else None,
        serial_number=serial_number,
        swapped_by=by_user,
        by=by_user.actor,
        at=at,
    )


@transaction.atomic
def sign(*, checkup_id: int, kind: str, name: str, strokes: Sequence[Any], at: datetime, by: Actor) -> Signature:
    """Keeps the owner's word over what the check-up says at this moment; signing again replaces it until finished.

    Raises AlreadyFinished, NameMissing or NothingDrawn.
    """
    checkup = CheckUp.objects.select_for_update(of=("self",)).select_related("system").get(pk=checkup_id)
    if checkup.finished_at is not None:
        raise AlreadyFinished
    if kind == Signature.Kind.TYPED and not name.strip():
        raise NameMissing
    if kind == Signature.Kind.DRAWN and not any(len(stroke) > 1 for stroke in strokes):
        raise NothingDrawn
    signature = Signature.objects.filter(checkup=checkup).first() or Signature(checkup=checkup)
    signature.kind = Signature.Kind(kind)
    signature.name = "" if kind == Signature.Kind.NOBODY_HOME else name.strip()
    signature.strokes = list(strokes) if kind == Signature.Kind.DRAWN else []
    signature.signed_at, signature.signed_sha256 = at, content_sha256(checkup)
    signature.save()
    after = {"kind": signature.kind, "signed_sha256": signature.signed_sha256}
    _record(checkup, signature, verb="check-up signed", by=by, at=at, after=after)
    return signature


@transaction.atomic
def finish_checkup(*, checkup_id: int, by_user: User, at: datetime) -> CheckUp:
    """Finishes a check-up: the visit is done, standing and estimates are renewed, the report is made.

    A verdict that asks for a finding which nobody wrote down becomes one. Raises AlreadyFinished, NotYourVisit,
    StillMissing or NotSigned.
    """
    checkup = _open(checkup_id, by_user)
    result = Sheet(checkup).outcome
    if result.missing:
        raise StillMissing([missing.sentence for missing in result.missing])
    if not Signature.objects.filter(checkup=checkup).exists():
        raise NotSigned
    for found in result.findings_to_raise:
        raise_finding(
            checkup_id=checkup.pk,
            severity=found.severity,
            what=found.what,
            what_to_do=found.what_to_do,
            component_id=int(found.line.part.component_id) if found.line.part else None,
            item_id=checkup.checklist.items.get(code=found.line.item.code).pk,
            by_user=by_user,
            at=at,
        )
    before = audit.snapshot(checkup)
    checkup.finished_at, checkup.summary = at, result.sentence
    checkup.save()
    _record(
        checkup,
        checkup,
        verb="check-up finished",
        by=by_user.actor,
        at=at,
        before=before,
        after=audit.snapshot(checkup),
    )
    mark_done(appointment_id=checkup.appointment_id, by=by_user.actor, at=at)
    renewal.facts_changed(property_id=checkup.system.property_id)
    start_after_commit("contractor.checkups.tasks.render_report", checkup_id=checkup.pk)
    return checkup


def _open(checkup_id: int, by_user: User) -> CheckUp:
    checkup = _own(checkup_id, by_user)
    _refuse_finished(checkup)
    return checkup


def _own(checkup_id: int, by_user: User) -> CheckUp:
    """The check-up, locked, so that finishing and answering don't pass each other."""
    checkup = CheckUp.objects.select_for_update(of=("self",)).select_related("system", "checklist").get(pk=checkup_id)
    if checkup.technician_id != by_user.pk:
        raise NotYourVisit
    return checkup


def _refuse_finished(checkup: CheckUp) -> None:
    if checkup.finished_at is not None:
        raise AlreadyFinished


def _refuse_other_kind(item: ChecklistItem | None, component: Component | None) -> None:
    """An item about batteries goes with a battery, one about the house with no part."""
    if item is not None and item.part_kind != (component.part_kind if component else ""):
        raise NotOfThisHouse


def _item(checkup: CheckUp, item_id: int) -> ChecklistItem:
    item = ChecklistItem.objects.filter(pk=item_id, checklist_id=checkup.checklist_id).first()
    if item is None:
        raise NotOfThisHouse
    return item


def _component(checkup: CheckUp, component_id: int | None, *, also_taken_out: bool = False) -> Component | None:
    if component_id is None:
        return None
    placed = Component.objects.filter(system_id=checkup.system_id)
    if not also_taken_out:
        placed = placed.filter(pk__in=Component.objects.in_place(checkup.done_on).values("pk"))
    component = placed.filter(pk=component_id).first()
    if component is None:
        raise NotOfThisHouse
    return component


def _asked_unit(item: ChecklistItem, unit: str) -> str:
    """The unit that the page named, which must be one of the item's: inches are never taken for volts."""
    known = {item.unit_us, item.unit_metric} - {""}
    if (unit and unit not in known) or not known:
        raise units.UnreadableMeasurement(
            "This figure came in a unit that does not belong here. Reload the page and type it once more."
        )
    return unit or item.unit_us


def _judge(checkup: CheckUp, answer: Answer) -> None:
    """Gives the answer its verdict, seen together with the other answers of the check-up."""
    sheet = Sheet(checkup, about=answer.item)
    key: LineKey = (answer.item.code, answer.component_id)
    line = next((line for line in sheet.walk if line.key == key), None)
    if line is None:
        raise NotOfThisHouse
    reading = reading_of(answer, photos=len(sheet.photos.get(key, ())))
    if not is_answered(line.item, reading):
        raise NothingAnswered(
            "Nothing was answered here. Choose or type what you found, or say why it is not possible."
        )
    sheet.readings = {**sheet.readings, key: reading}
    judged = sheet.verdicts[key]
    answer.verdict, answer.verdict_sentence = judged.word, judged.sentence


def _short(answer: Answer) -> dict[str, Any]:
    return {
        "item": answer.item.code,
        "component_id": answer.component_id,
        "condition": answer.condition,
        "typed": f"{answer.typed} {answer.unit}".strip(),
        "seconds": answer.seconds,
        "because": answer.because,
        "verdict": answer.verdict,
        "supersedes": answer.supersedes_id,
    }


def _record(checkup: CheckUp, subject: Any, *, verb: str, by: Actor, at: datetime, **values: Any) -> None:
    audit.record(by=by, at=at, verb=verb, subject=subject, property_id=checkup.system.property_id, **values)
