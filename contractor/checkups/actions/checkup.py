"""Writes of one check-up: begin, answer, swap, sign, finish."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction

from contractor.accounts.models import User
from contractor.celery import start_after_commit
from contractor.checkups.actions.evidence import close_finding, raise_finding
from contractor.checkups.actions.own_checkup import (
    component_of_house,
    item_of_checklist,
    open_checkup,
    own_checkup,
    record,
    refuse_finished,
)
from contractor.checkups.errors import (
    AlreadyFinished,
    ChangedSinceSigned,
    NameMissing,
    NoChecklist,
    NotACheckUp,
    NothingAnswered,
    NothingDrawn,
    NotOfThisHouse,
    NotSigned,
    NotYourVisit,
    ReasonMissing,
    StillMissing,
    VisitNotOpen,
)
from contractor.checkups.lines import Sheet, content_sha256, published_checklist, reading_of
from contractor.checkups.models import Answer, Checklist, ChecklistItem, CheckUp, Finding, Signature
from contractor.checkups.queries import KINDS_WITH_CHECKLIST
from contractor.checkups.rules.outcomes import ToRaise
from contractor.checkups.rules.verdicts import Verdict, is_answered
from contractor.checkups.rules.walk import LineKey
from contractor.core import audit, renewal, units
from contractor.core.audit import Actor
from contractor.systems.actions import replace_component
from contractor.systems.models import CatalogueModel, Component
from contractor.visits.actions.appointments import mark_done, note_begun
from contractor.visits.models import Appointment


@transaction.atomic
def start_checkup(
    *,
    appointment_id: int,
    by_user: User,
    on: date,
    at: datetime,
    edition: int | None = None,
    is_handed_in: bool = False,
) -> CheckUp:
    """Begins the check-up of an appointment, from the newest published checklist; once begun it is the same one.

    ``edition`` is the published one that a tablet had with it. ``is_handed_in`` says that a tablet's work comes in,
    whose author was sent there, though the visit may have been given to somebody else meanwhile. Raises NotYourVisit,
    VisitNotOpen, NotACheckUp or NoChecklist.
    """
    appointment = (
        Appointment.objects.select_for_update(of=("self",)).select_related("request__system").get(pk=appointment_id)
    )
    if appointment.technician_id != by_user.pk and not is_handed_in:
        raise NotYourVisit
    begun = CheckUp.objects.filter(appointment=appointment).first()
    if begun is not None:
        return begun
    if appointment.state not in {Appointment.State.PLANNED, Appointment.State.CONFIRMED}:
        raise VisitNotOpen(appointment.get_state_display())
    if appointment.request.kind not in KINDS_WITH_CHECKLIST:
        raise NotACheckUp(appointment.request.get_kind_display())
    had = None if edition is None else Checklist.objects.published().filter(edition=edition).first()
    checklist = had or published_checklist()
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
    record(checkup, checkup, verb="check-up begun", by=by_user.actor, at=at, after=audit.snapshot(checkup))
    note_begun(appointment_id=appointment.pk, by=by_user.actor, at=at)
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
    is_handed_in: bool = False,
) -> Answer:
    """Records one answer with its verdict; an earlier answer to the same line is superseded, never changed.

    The same ``answer_id`` again gives the same answer, also after the check-up was finished. Raises AlreadyFinished,
    NotYourVisit, NotOfThisHouse, NothingAnswered, ReasonMissing, or UnreadableMeasurement for a figure that can't be
    read or is of another quantity.
    """
    checkup = own_checkup(checkup_id, by_user, is_handed_in=is_handed_in)
    if answer_id is not None and (known := Answer.objects.filter(pk=answer_id).first()) is not None:
        if known.checkup_id != checkup.pk:
            raise NotOfThisHouse
        return known
    refuse_finished(checkup)
    item = item_of_checklist(checkup, item_id)
    component = component_of_house(checkup, component_id)
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
    record(checkup, answer, verb="answer recorded", by=by_user.actor, at=at, after=_short(answer))
    return answer


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
    is_handed_in: bool = False,
) -> Component:
    """Swaps a part during a check-up; the new one gets its own lines.

    What its answers said was wrong and nobody wrote down becomes a finding that the swap put right.
    Raises AlreadyFinished, NotYourVisit, NotOfThisHouse, ReasonMissing, and what replacing a part may refuse.
    """
    checkup = open_checkup(checkup_id, by_user, is_handed_in=is_handed_in)
    old = component_of_house(checkup, component_id)
    if old is None:
        raise NotOfThisHouse
    if not because.strip():
        raise ReasonMissing
    sheet = Sheet(checkup)
    # However grave the technician called it: what was written about a line is not written once more.
    written = {(row.item.code if row.item else "", row.component_id) for row in sheet.findings}
    unwritten = [
        found
        for found in sheet.outcome.findings_to_raise
        if _part_of(found) == old.pk and found.line.key not in written
    ]
    new = replace_component(
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
    for found in unwritten:
        finding = _write_down(checkup, found, by_user=by_user, at=at, is_handed_in=is_handed_in)
        note = f"The part was swapped: {because.strip()}"
        close_finding(finding_id=finding.pk, note=note, by=by_user.actor, at=at, done_by=by_user)
    return new


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
    record(checkup, signature, verb="check-up signed", by=by, at=at, after=after)
    return signature


@transaction.atomic
def finish_checkup(*, checkup_id: int, by_user: User, at: datetime) -> CheckUp:
    """Finishes a check-up: the visit is done, standing and estimates are renewed, the report is made.

    A verdict that asks for a finding which nobody wrote down becomes one. Raises AlreadyFinished, NotYourVisit,
    StillMissing, NotSigned, or ChangedSinceSigned.
    """
    checkup = open_checkup(checkup_id, by_user)
    sheet = Sheet(checkup)
    result = sheet.outcome
    if result.missing:
        raise StillMissing([missing.sentence for missing in result.missing])
    _refuse_unsigned(checkup)
    _settle_verdicts(checkup, sheet, by=by_user.actor, at=at)
    for found in result.findings_to_raise:
        _write_down(checkup, found, by_user=by_user, at=at)
    before = audit.snapshot(checkup)
    checkup.finished_at, checkup.summary = at, result.sentence
    checkup.save()
    record(
        checkup,
        checkup,
        verb="check-up finished",
        by=by_user.actor,
        at=at,
        before=before,
        after=audit.snapshot(checkup),
    )
    mark_done(
        appointment_id=checkup.appointment_id, by=by_user.actor, at=at, begun_at=checkup.started_at
    )
    renewal.facts_changed(property_id=checkup.system.property_id)
    start_after_commit("contractor.checkups.tasks.render_report", checkup_id=checkup.pk)
    return checkup


def _asked_unit(item: ChecklistItem, unit: str) -> str:
    """The unit that the page named, which must be one of the item's: inches are never taken for volts."""
    known = {item.unit_us, item.unit_metric} - {""}
    if (unit and unit not in known) or not known:
        raise units.UnreadableMeasurement(
            "This figure came in a unit that does not belong here. Reload the page and type it once more."
        )
    return unit or item.unit_us


def _refuse_unsigned(checkup: CheckUp) -> None:
    """The owner's word is over what stands now; where nobody was at home, nobody saw an earlier state."""
    signature = Signature.objects.filter(checkup=checkup).first()
    if signature is None:
        raise NotSigned
    if signature.kind != Signature.Kind.NOBODY_HOME and signature.signed_sha256 != content_sha256(checkup):
        raise ChangedSinceSigned


def _settle_verdicts(checkup: CheckUp, sheet: Sheet, *, by: Actor, at: datetime) -> None:
    """Stores the verdicts as the whole sheet gives them.

    A load test answered before the temperature, or a timed test before the inflow, was judged without it.
    """
    for key, answer in sheet.answers.items():
        judged = sheet.verdicts.get(key)
        if judged is None or _stored(answer) == (judged.word, judged.sentence, judged.value_si):
            continue
        before = _short(answer)
        _store(answer, judged)
        answer.save()
        record(checkup, answer, verb="verdict settled", by=by, at=at, before=before, after=_short(answer))


def _stored(answer: Answer) -> tuple[str, str, float | None]:
    return answer.verdict, answer.verdict_sentence, answer.value_si


def _store(answer: Answer, judged: Verdict) -> None:
    answer.verdict, answer.verdict_sentence, answer.value_si = judged.word, judged.sentence, judged.value_si


def _part_of(found: ToRaise) -> int | None:
    return int(found.line.part.component_id) if found.line.part else None


def _write_down(
    checkup: CheckUp, found: ToRaise, *, by_user: User, at: datetime, is_handed_in: bool = False
) -> Finding:
    return raise_finding(
        checkup_id=checkup.pk,
        severity=found.severity,
        what=found.what,
        what_to_do=found.what_to_do,
        component_id=_part_of(found),
        item_id=checkup.checklist.items.get(code=found.line.item.code).pk,
        by_user=by_user,
        at=at,
        is_handed_in=is_handed_in,
    )


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
    _store(answer, sheet.verdicts[key])


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
