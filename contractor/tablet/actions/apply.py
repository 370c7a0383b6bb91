"""Makes check-ups of events, with the same actions that a page would call.

Every step stands in its own transaction, locks the visit's row and looks whether it was done before, so that it may
be run twice, at any time, by two at once: what was read before a new event came is never written over it. Answers
carry the ids of their events; what became of swaps and findings is noted on the row.
"""

import logging
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from functools import partial
from typing import Any
from uuid import UUID, uuid5

from django.db import InterfaceError, OperationalError, transaction
from django.db.models import F

from contractor.accounts.models import User
from contractor.checkups.actions import checkup as checkups
from contractor.checkups.actions import evidence
from contractor.checkups.actions.note import write_to_owner
from contractor.checkups.models import Answer, ChecklistItem, CheckUp
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.tablet.actions.visit_facts import Changed, Facts
from contractor.tablet.errors import Unreadable
from contractor.tablet.models import PhotoUpload, TabletVisit
from contractor.tablet.photo_store import content_of, forget
from contractor.tablet.rules import said
from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.finish import left_open
from contractor.tablet.rules.heads import of_kind, standing
from contractor.tablet.rules.problems import PICTURE, Problem, before_finishing
from contractor.visits.actions.appointments import could_not as note_could_not

logger = logging.getLogger(__name__)

TRIES = 5


def apply_visit(*, appointment_id: int, at: datetime) -> None:
    """Makes of a visit's events what can be made of them by now, and notes what keeps it open.

    An error of the program is noted for the office like any other problem, so that one visit never holds up the others;
    it is tried again with the visit's next event. Raises only where the database can't be asked.
    """
    for _ in range(TRIES):
        facts = Facts.read(appointment_id)
        if facts is None:
            return
        run = _Application(facts, at)
        try:
            try:
                run.run()
            except (Changed, OperationalError, InterfaceError):
                raise
            except Exception as problem:
                logger.exception("Visit %s could not be made a check-up of.", appointment_id)
                run.stop(type(problem).__name__)
            return
        except Changed:
            continue


def apply_news(*, appointment_id: int, at: datetime) -> None:
    """The same for a wake-up call: nothing where somebody has looked since the visit's last event.

    A tablet that comes home calls once a batch; who answers the first call late answers them all.
    """
    if TabletVisit.objects.filter(appointment_id=appointment_id).exclude(revision=F("applied_revision")).exists():
        apply_visit(appointment_id=appointment_id, at=at)


def apply_waiting(*, most: int, at: datetime) -> None:
    """Looks again at visits whose wake-up call was missed, the longest waiting first."""
    for appointment_id in waiting(most=most):
        apply_visit(appointment_id=appointment_id, at=at)


def waiting(*, most: int) -> list[int]:
    """Visits with events that nobody has looked at since."""
    rows = TabletVisit.objects.exclude(revision=F("applied_revision")).order_by("last_event_at")
    return list(rows.values_list("appointment_id", flat=True)[:most])


class _Application:
    """One run over one visit's events."""

    def __init__(self, facts: Facts, at: datetime) -> None:
        self.facts, self.at = facts, at
        self.heads = facts.heads
        self.problems: list[Problem] = []

    def run(self) -> None:
        finish = standing(self.heads, "finish")
        self._could_not(is_finished=finish is not None)
        if any(one.kind not in {"could_not", "timer"} for found in self.heads.values() for one in found):
            self._start()
        self.problems += before_finishing(
            self.heads, self.facts.events, self.facts.photos, may_be_unsigned=bool(self.facts.placed.get("unsigned"))
        )
        if finish is not None and not self.problems:
            self._write(finish)
        self._note()

    def stop(self, error: str) -> None:
        """Notes that the program failed at this visit."""
        sentence = (
            f"Making a check-up of it stopped with an error of this program ({error}). Nothing that came in is lost; "
            "tell whoever looks after this installation."
        )
        self.problems.append(Problem(code="stopped", sentence=sentence))
        self._note()

    def _write(self, finish: TabletEvent) -> None:
        """Everything that was said, in the order in which a page would have taken it: the old parts, the swaps, then
        the new parts."""
        if self.facts.is_finished:
            self._refuse_late()
            return
        self._about_parts(finish, swapped=False)
        self._each("swap", self._swap)
        self._about_parts(finish, swapped=True)
        self._try("summary", self._to_owner)
        if all(problem.code == PICTURE for problem in self.problems):
            self._finish(finish)

    def _about_parts(self, finish: TabletEvent, *, swapped: bool) -> None:
        for event in of_kind(self.heads, "answer"):
            place = said.place_of_field(event.field)
            if bool(place.swap) == swapped:
                self._try(event.field, partial(self._answer, event, place))
        for field, because in left_open(finish).items():
            if field.startswith("answer:") and field.count(":") >= 2 and standing(self.heads, field) is None:
                place = said.place_of_field(field)
                if bool(place.swap) == swapped:
                    self._try(field, partial(self._left, finish, place, because))
        self._each("finding", self._finding, swapped=swapped)
        self._each("photo", self._photo, swapped=swapped)

    def _each(self, kind: str, step: Callable[[TabletEvent], None], *, swapped: bool | None = None) -> None:
        for event in of_kind(self.heads, kind):
            is_new = str((event.value or {}).get("component", "")).startswith("swap:")
            if swapped is None or is_new == swapped:
                self._try(event.field, partial(step, event))

    def _try(self, field: str, step: Callable[[], None]) -> None:
        """Runs a step; what refuses it becomes a problem, and the other steps go on."""
        try:
            step()
        except Refusal as refusal:
            code = PICTURE if field.startswith("photo:") else "refused"
            self.problems.append(Problem(code=code, sentence=refusal.sentence, field=field))

    def _could_not(self, *, is_finished: bool) -> None:
        event = standing(self.heads, "could_not")
        if event is None or is_finished or self.facts.appointment.state not in {"planned", "confirmed"}:
            return
        because = said.text_of(event.value or {}, "because", 500)
        try:
            with self._locked():
                note_could_not(
                    appointment_id=self.facts.appointment.pk,
                    because=because,
                    by=self.facts.person(event).actor,
                    at=self.at,
                )
        except Refusal as refusal:
            self.problems.append(Problem(code="refused", sentence=refusal.sentence, field="could_not"))

    def _start(self) -> None:
        if self.facts.checkup is not None:
            return
        first = standing(self.heads, "begun") or self.facts.first
        edition = said.text_of(first.value or {}, "checklist", 9)
        moment = self.facts.moment(first)
        try:
            with self._locked() as tablet:
                self.facts.checkup = checkups.start_checkup(
                    appointment_id=self.facts.appointment.pk,
                    by_user=self.facts.person(first),
                    on=clock.day_of(moment),
                    at=moment,
                    edition=int(edition) if edition.isdecimal() else None,
                    is_handed_in=True,
                )
                tablet.checkup = self.facts.checkup
                tablet.save()
        except Refusal as refusal:
            self.problems.append(Problem(code="not_begun", sentence=refusal.sentence))

    def _answer(self, event: TabletEvent, place: said.Place) -> None:
        if Answer.objects.filter(pk=event.id).exists():
            return
        words = said.answer_of(event)
        with self._locked() as tablet:
            item = self._item(place.item)
            checkups.record_answer(
                checkup_id=self._checkup.pk,
                item_id=item.pk,
                component_id=_component(place, tablet.placed),
                by_user=self.facts.person(event),
                at=self.facts.moment(event),
                condition=words.condition,
                typed=words.typed,
                unit=words.unit,
                seconds=words.seconds,
                text=words.text,
                because=words.because,
                answer_id=event.id,
                is_handed_in=True,
            )

    def _left(self, finish: TabletEvent, place: said.Place, because: str) -> None:
        with self._locked() as tablet:
            checkups.record_answer(
                checkup_id=self._checkup.pk,
                item_id=self._item(place.item).pk,
                component_id=_component(place, tablet.placed),
                by_user=self.facts.person(finish),
                at=self.facts.moment(finish),
                condition="not_possible",
                because=said.text_of({"because": because}, "because", 500),
                answer_id=uuid5(finish.id, f"{place.item}:{place.component}:{place.swap}"),
                is_handed_in=True,
            )

    def _swap(self, event: TabletEvent) -> None:
        words = said.swap_of(event)
        with self._locked() as tablet:
            if event.field in tablet.placed:
                return
            new = checkups.swap_component(
                checkup_id=self._checkup.pk,
                component_id=_component(words.place, tablet.placed) or 0,
                model_id=words.model,
                serial_number=words.serial,
                because=words.because,
                failed=words.failed,
                by_user=self.facts.person(event),
                on=self._checkup.done_on,
                at=self.facts.moment(event),
                is_handed_in=True,
            )
            tablet.placed[event.field] = new.pk
            tablet.save()

    def _finding(self, event: TabletEvent) -> None:
        words = said.finding_of(event)
        by_user, moment = self.facts.person(event), self.facts.moment(event)
        with self._locked() as tablet:
            known = tablet.placed.get(event.field)
            if known and known["event"] == str(event.id):
                return
            if known:
                note = "Written down anew on the tablet."
                self._close(known["finding"], note, by_user, moment)
            finding = evidence.raise_finding(
                checkup_id=self._checkup.pk,
                severity=words.severity,
                what=words.what,
                what_to_do=words.what_to_do,
                by_user=by_user,
                at=moment,
                component_id=_component(words.place, tablet.placed),
                item_id=self._item(words.place.item).pk if words.place.item else None,
                is_handed_in=True,
            )
            if words.done:
                self._close(str(finding.pk), words.done_note or "Put right on the spot.", by_user, moment)
            tablet.placed[event.field] = {"event": str(event.id), "finding": str(finding.pk)}
            tablet.save()

    def _close(self, finding_id: str, note: str, by_user: User, moment: datetime) -> None:
        evidence.close_finding(finding_id=UUID(finding_id), note=note, by=by_user.actor, at=moment, done_by=by_user)

    def _photo(self, event: TabletEvent) -> None:
        words = said.photo_of(event)
        upload = PhotoUpload.objects.filter(pk=words.id, done_at__isnull=False, sha256=words.sha256).first()
        if upload is None or upload.photo_id is not None:
            return
        placed = TabletVisit.objects.get(appointment_id=self.facts.appointment.pk).placed
        known = placed.get(f"finding:{words.finding}") if words.finding else None
        photo = evidence.add_photo(
            checkup_id=self._checkup.pk,
            content=content_of(upload.file),
            by_user=self.facts.person(event),
            at=self.facts.moment(event),
            item_id=self._item(words.place.item).pk if words.place.item else None,
            component_id=_component(words.place, placed),
            finding_id=UUID(known["finding"]) if known else None,
            caption=words.caption,
            is_handed_in=True,
        )
        PhotoUpload.objects.filter(pk=upload.pk).update(photo=photo, file=photo.original.name)
        forget(upload.file)

    def _to_owner(self) -> None:
        """The technician's words to the owner; taken back on the tablet, they are taken back here."""
        heads = self.heads.get("summary", ())
        event = standing(self.heads, "summary") or max(heads, key=lambda one: one.id, default=None)
        if event is not None:
            write_to_owner(
                checkup_id=self._checkup.pk,
                text=said.text_of(event.value or {}, "text", 2000),
                by_user=self.facts.person(event),
                at=self.facts.moment(event),
                is_handed_in=True,
            )

    def _finish(self, finish: TabletEvent) -> None:
        signature = standing(self.heads, "signature")
        is_unsigned = bool(self.facts.placed.get("unsigned"))
        try:
            with self._locked() as tablet:
                words = None if signature is None or is_unsigned else said.signature_of(signature)
                signer = finish if signature is None else signature
                checkups.sign(
                    checkup_id=self._checkup.pk,
                    kind=words.kind if words else "nobody_home",
                    name=words.name if words else "",
                    strokes=words.strokes if words else (),
                    at=self.facts.moment(signer),
                    by=self.facts.person(signer).actor,
                )
                checkups.finish_checkup(
                    checkup_id=self._checkup.pk, by_user=self._checkup.technician, at=self.facts.moment(finish)
                )
                tablet.finished_at = self.at
                tablet.save()
                self.facts.is_finished = True
        except Refusal as refusal:
            sentences = getattr(refusal, "missing", None) or (refusal.sentence,)
            self.problems += [Problem(code="refused", sentence=sentence) for sentence in sentences]

    def _refuse_late(self) -> None:
        """What came after the check-up was finished changes nothing in it; the office sees it."""
        late = self.facts.unwritten(of_kind(self.heads, "answer"))
        late += [one for one in of_kind(self.heads, "swap") if one.field not in self.facts.placed]
        for one in of_kind(self.heads, "finding"):
            if self.facts.placed.get(one.field, {}).get("event") != str(one.id):
                late.append(one)
        late += self._late_photos()
        if late:
            things = "1 thing was said" if len(late) == 1 else f"{len(late)} things were said"
            sentence = f"{things} after this check-up was finished. It stays as it is until it is opened again."
            self.problems.append(Problem(code="after_finish", sentence=sentence))

    def _late_photos(self) -> list[TabletEvent]:
        """Photos that nobody named when it was finished, and that have come in whole since."""
        finished_at = TabletVisit.objects.values_list("finished_at", flat=True).get(
            appointment_id=self.facts.appointment.pk
        )
        if finished_at is None:
            return []
        taken = {one.field.partition(":")[2]: one for one in of_kind(self.heads, "photo")}
        whole = PhotoUpload.objects.filter(pk__in=taken, done_at__isnull=False, photo__isnull=True)
        return [
            taken[str(upload.pk)]
            for upload in whole
            if upload.done_at and max(upload.done_at, self.facts.received[taken[str(upload.pk)].id]) > finished_at
        ]

    @property
    def _checkup(self) -> CheckUp:
        if self.facts.checkup is None:
            raise Unreadable("not_begun", "The check-up could not be begun.")
        return self.facts.checkup

    def _item(self, code: str) -> ChecklistItem:
        item = self.facts.items(self._checkup).get(code)
        if item is None:
            raise Unreadable("no_item", f"The checklist of this check-up has no item “{code}”.")
        return item

    @contextmanager
    def _locked(self) -> Iterator[TabletVisit]:
        """The visit's row, locked. Raises Changed when events came in since they were read."""
        with transaction.atomic():
            tablet = TabletVisit.objects.select_for_update().get(appointment_id=self.facts.appointment.pk)
            if tablet.revision != self.facts.revision:
                raise Changed
            yield tablet

    def _note(self) -> None:
        with self._locked() as tablet:
            tablet.problems = [problem.as_data() for problem in self.problems]
            tablet.needs_office = any(problem.is_for_office for problem in self.problems)
            tablet.applied_revision = tablet.revision
            tablet.checkup = self.facts.checkup
            tablet.save()


def _component(place: said.Place, placed: Mapping[str, Any]) -> int | None:
    """The part that is meant. Raises Unreadable for a new part whose swap is not there."""
    if not place.swap:
        return place.component
    known = placed.get(place.swap)
    if not isinstance(known, int):
        raise Unreadable("no_swap", "It is about a new part, but no swap says which part came out for it.")
    return known


