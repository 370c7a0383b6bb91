"""How a visit of the demo is played: asked for, given out, checked item by item, signed and finished."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from contractor.accounts.models import User
from contractor.checkups.actions import checkup as checkups
from contractor.checkups.actions import evidence
from contractor.checkups.models import ChecklistItem, CheckUp
from contractor.checkups.queries import checkup_lines
from contractor.office.demo import readings
from contractor.office.demo.basements import Basement
from contractor.office.demo.messages import send_what_was_queued
from contractor.office.demo.readings import Seen
from contractor.office.demo.scenario import moment
from contractor.systems.models import Component, System
from contractor.visits.actions import appointments as visits
from contractor.visits.models import VisitKind
from contractor.visits.rules import checkup_minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a story finds at one item: a condition or a figure, and what becomes of it.

    ``typed`` replaces the usual figure. ``repaired`` closes the finding on the spot with that note; ``swap`` puts
    a new part in for that reason; otherwise the finding stays open.
    """

    condition: str = "bad"
    typed: str = ""
    what: str = ""
    repaired: str = ""
    swap: str = ""


@dataclass(slots=True, kw_only=True)
class Visitor:
    """Plays visits with a source of chance that is the same at every load."""

    source: Random
    pictures: int = 0
    serials: int = field(default=40_000)

    def serial(self, kind: str) -> str:
        """The next serial number of the demo, in the manner of its part kind."""
        self.serials += self.source.randint(3, 40)
        return f"{kind[:2].upper()}{self.serials}"

    def check_up(
        self,
        *,
        system: System,
        basement: Basement,
        occasion: str,
        target_on: date,
        on: date,
        technician: User,
        desk: User,
        found: Mapping[str, Found] | None = None,
        kind: str = VisitKind.CHECKUP,
    ) -> CheckUp:
        """One finished check-up on a day."""
        asked_at = moment(on - timedelta(days=21))
        kinds = list(Component.objects.in_place(on).filter(system=system).values_list("part_kind", flat=True))
        request = visits.ask_for_visit(
            occasion=occasion,
            system_id=system.pk,
            kind=kind,
            target_on=target_on,
            earliest_on=min(target_on, on) - timedelta(days=30),
            latest_on=max(target_on, on) + timedelta(days=30),
            minutes=checkup_minutes(kinds),
            reason="The yearly check-up that the warranty asks for.",
            by=desk.actor,
            at=asked_at,
        )
        appointment = visits.give_to_technician(
            request_id=request.pk, technician_id=technician.pk, on=on, made_by=desk, by=desk.actor, at=asked_at
        )
        send_what_was_queued()
        checkup = checkups.start_checkup(appointment_id=appointment.pk, by_user=technician, on=on, at=moment(on, 14))
        self._answer(checkup, basement, technician, on, found or {})
        checkups.sign(
            checkup_id=checkup.pk,
            kind="nobody_home" if self.source.random() < 0.2 else "typed",
            name=system.property.ownerships.current(on).get().person.name,
            strokes=[],
            at=moment(on, 15),
            by=technician.actor,
        )
        return checkups.finish_checkup(checkup_id=checkup.pk, by_user=technician, at=moment(on, 15))

    def _answer(
        self, checkup: CheckUp, basement: Basement, technician: User, on: date, found: Mapping[str, Found]
    ) -> None:
        taken_out: set[int] = set()
        for item, component in checkup_lines(checkup):
            if component is not None and component.pk in taken_out:
                continue
            special = found.get(item.code)
            self._answer_one(checkup, basement, item, component, technician, on, special)
            if special is not None:
                self._deal_with(checkup, item, component, technician, on, special)
                if special.swap and component is not None:
                    taken_out.add(component.pk)
        # A part that was swapped brings lines of its own, which the first walk has not seen.
        answered = set(checkup.answers.values_list("item_id", "component_id"))
        for item, component in checkup_lines(checkup):
            if (item.pk, component.pk if component else None) not in answered:
                self._answer_one(checkup, basement, item, component, technician, on, None)

    def _answer_one(
        self,
        checkup: CheckUp,
        basement: Basement,
        item: ChecklistItem,
        component: Component | None,
        technician: User,
        on: date,
        special: Found | None,
    ) -> None:
        seen: Seen = {"basement": basement, "part": component, "on": on, "source": self.source}
        answer: dict[str, object] = {}
        if item.kind == "check":
            answer["condition"] = special.condition if special else "good"
        elif item.kind == "timed_test":
            answer["typed"], answer["seconds"] = readings.usual_time(item.code, **seen)
            answer["unit"] = item.unit_us
        elif item.kind == "note":
            answer["text"] = readings.NOTES.get(item.code, "Nothing out of the ordinary.")
        elif item.kind in {"measurement", "count"}:
            usual = readings.usual_reading(item.code, **seen)
            answer["typed"] = special.typed if special and special.typed else usual
            answer["unit"] = item.unit_us
        if item.kind == "photo" or (special and item.photo == "when_bad"):
            self._picture(checkup, item, component, technician, on)
        if item.kind == "photo":
            return
        if item.kind in {"measurement", "count"} and not answer["typed"]:
            return
        checkups.record_answer(
            checkup_id=checkup.pk,
            item_id=item.pk,
            component_id=component.pk if component else None,
            by_user=technician,
            at=moment(on, 14),
            **answer,  # type: ignore[arg-type]  # one of the answers that the item's kind asks for
        )

    def _picture(
        self, checkup: CheckUp, item: ChecklistItem, component: Component | None, technician: User, on: date
    ) -> None:
        self.pictures += 1
        evidence.add_photo(
            checkup_id=checkup.pk,
            content=readings.sketch(item.prompt, number=self.pictures),
            by_user=technician,
            at=moment(on, 14),
            item_id=item.pk,
            component_id=component.pk if component else None,
        )

    def _deal_with(
        self,
        checkup: CheckUp,
        item: ChecklistItem,
        component: Component | None,
        technician: User,
        on: date,
        special: Found,
    ) -> None:
        finding = evidence.raise_finding(
            checkup_id=checkup.pk,
            severity=item.severity if special.condition == "bad" else "watch",
            what=special.what or item.prompt,
            what_to_do=item.what_to_do,
            by_user=technician,
            at=moment(on, 14),
            component_id=component.pk if component else None,
            item_id=item.pk,
        )
        if special.swap and component is not None:
            checkups.swap_component(
                checkup_id=checkup.pk,
                component_id=component.pk,
                model_id=component.model_id,
                serial_number=self.serial(component.part_kind),
                because=special.swap,
                failed=special.condition == "bad",
                by_user=technician,
                on=on,
                at=moment(on, 14),
            )
        if special.swap or special.repaired:
            evidence.close_finding(
                finding_id=finding.pk,
                note=special.repaired or special.swap,
                by=technician.actor,
                at=moment(on, 15),
                done_by=technician,
            )
