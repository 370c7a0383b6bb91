"""Two technicians at one house, an office that opens the check-up again between their batches: what stands is written.

Each seed is a day drawn anew. Both type, take photos, sign and finish without knowing of each other until they hear;
parts of what they kept come in in any order; the office chooses, gives the visit to the other, opens it again.
"""

from datetime import UTC, date, datetime
from random import Random
from uuid import UUID, uuid4

import pytest

from contractor.accounts.models import Role, User
from contractor.checkups.models import Answer, CheckUp, Finding, Photo
from contractor.core import audit
from contractor.core.errors import Refusal
from contractor.tablet.actions import decisions
from contractor.tablet.actions.apply import apply_visit
from contractor.tablet.models import OFFICE_DEVICE, Event, PhotoUpload, SetAside, TabletVisit
from contractor.tablet.rules.heads import Heads, conflicts_of, heads_of, of_kind
from contractor.tablet.told import read_events
from contractor.visits.actions.appointments import move_appointment
from tests.checkups import factories as made
from tests.factories import CompanyFactory, SystemFactory, UserFactory
from tests.tablet.hands import Tablet, registered, whole_checkup

ON, AT = date(2026, 5, 4), datetime(2026, 5, 4, 14, 0, tzinfo=UTC)
STEPS = 30


class House:
    """The visit, two tablets and an office; ``frozen`` are the answers of a finished check-up."""

    def __init__(self, dice: Random) -> None:
        self.dice = dice
        CompanyFactory()
        made.published_checklist(AT)
        self.nora = UserFactory(name="Nora Vance", role=Role.OFFICE)
        people = [UserFactory(name=name, role=Role.TECHNICIAN) for name in ("Theo Marsh", "Ana Delgado")]
        system = SystemFactory()
        self.parts = made.parts_of(system)
        self.visit = made.appointment_for(system, people[0], ON)
        for person in reversed(people):  # so that the trail says that it was both of theirs
            self.give(person)
        self.tablets = [registered(person, self.visit, AT, name=person.name) for person in people]
        self.sent: dict[str, str] = {}
        self.frozen: set[UUID] | None = None
        self.finished = 0

    def give(self, person: User) -> None:
        self.visit.refresh_from_db()
        if self.visit.state == "planned":
            move_appointment(appointment_id=self.visit.pk, technician_id=person.pk, on=ON, by=self.nora.actor, at=AT)

    @property
    def heads(self) -> Heads:
        desk = frozenset({self.nora.pk})
        return heads_of(read_events(list(Event.objects.order_by("received_at", "id"))), desk=desk)

    # What the two do.

    def type(self, tablet: Tablet) -> None:
        what = self.dice.choice(["temperature", "mould", "rest-volts", "photo", "finding", "all"])
        if what == "temperature":
            tablet.answer("temperature", number=str(self.dice.randint(50, 80)), unit="degF")
        elif what == "mould":
            tablet.answer("mould", condition=self.dice.choice(["good", "watch"]))
        elif what == "rest-volts":
            tablet.answer("rest-volts", self.parts["battery"], number=self.dice.choice(["12.6", "12.8"]), unit="V")
        elif what == "photo":
            tablet.photo(made.picture(f"#{self.dice.randrange(16**6):06x}"), item="room-photo")
        elif what == "finding":
            about = {"severity": "watch", "what": f"Rust {self.dice.random()}", "what_to_do": "Grease", "done": False}
            tablet.say("finding", f"finding:{uuid4()}", {**about, "item": "", "component": "0"})
        else:
            whole_checkup(tablet, self.parts)

    def hand_in(self, tablet: Tablet, *, everything: bool = False) -> None:
        own = [one for one in tablet.kept if f'"{tablet.device}"' in tablet.kept[one]]
        chosen = own if everything else self.dice.sample(own, self.dice.randint(0, len(own)))
        if chosen:
            tablet.send(AT, *chosen)
            self.sent |= {one: tablet.kept[one] for one in chosen}

    def hear(self, tablet: Tablet) -> None:
        tablet.kept |= {str(pk): raw for pk, raw in Event.objects.values_list("pk", "raw")}
        heads = heads_of(read_events([Event(raw=raw) for raw in tablet.kept.values()]))
        tablet.heads = {field: [str(one.id) for one in found] for field, found in heads.items()}

    # What the office and its server do.

    def apply(self) -> None:
        apply_visit(appointment_id=self.visit.pk, at=AT)
        self.check()

    def open_again(self) -> None:
        if self.frozen is not None:
            self.frozen = None
            decisions.reopen(appointment_id=self.visit.pk, because="There was more", by_user=self.nora, at=AT)
            self.check()

    def choose(self) -> None:
        for field, sides in conflicts_of(self.heads).items():
            seen = [one.id for one in sides]
            words = {"appointment_id": self.visit.pk, "field": field, "by_user": self.nora, "at": AT}
            decisions.choose(event_id=self.dice.choice(seen), seen=seen, **words)

    def check(self) -> None:
        """What holds after every step of the server."""
        checkup = CheckUp.objects.first()
        if checkup is None or checkup.finished_at is None:
            assert self.frozen is None, "A finished check-up was opened by itself."
            return
        standing = set(Answer.objects.standing().values_list("pk", flat=True))
        if self.frozen is None:
            # Just finished: exactly what stood when it was.
            heads = self.heads
            assert standing == {event.id for event in of_kind(heads, "answer")}
            findings = {str(event.value["what"]) for event in of_kind(heads, "finding") if event.value}
            assert set(Finding.objects.filter(done_at__isnull=True).values_list("what", flat=True)) == findings
            taken = {event.value["sha256"] for event in of_kind(heads, "photo") if event.value}
            here = set(PhotoUpload.objects.filter(done_at__isnull=False).values_list("sha256", flat=True))
            assert set(Photo.objects.values_list("original_sha256", flat=True)) == taken & here
            self.frozen = standing
            self.finished += 1
        assert standing == self.frozen, "A finished check-up changed."


def one_day(dice: Random) -> House:
    house = House(dice)
    for _ in range(STEPS):
        tablet = dice.choice(house.tablets)
        act = dice.choices(
            ["type", "sign", "finish", "hand in", "photos", "hear", "apply", "open", "choose", "give"],
            [24, 5, 6, 14, 8, 8, 14, 8, 5, 5],
        )[0]
        if act == "type":
            house.type(tablet)
        elif act == "sign":
            tablet.sign()
        elif act == "finish":
            tablet.finish()
        elif act == "hand in":
            house.hand_in(tablet, everything=dice.random() < 0.5)
        elif act == "photos":
            tablet.send_photos(AT, *dice.sample(list(tablet.photos), dice.randint(0, len(tablet.photos))))
        elif act == "hear":
            house.hear(tablet)
        elif act == "apply":
            house.apply()
        elif act == "open":
            house.open_again()
        elif act == "choose":
            house.choose()
        else:
            house.give(tablet.person)
    return house


def end_of(house: House) -> None:
    """Both come home, the office chooses, one of the two completes and finishes what both did."""
    first, second = house.tablets
    for tablet in house.tablets:
        house.hand_in(tablet, everything=True)
        tablet.send_photos(AT)
    house.choose()
    house.apply()
    house.hear(first)
    first.photos |= second.photos
    whole_checkup(first, house.parts)
    first.sign()
    first.finish()
    house.hand_in(first, everything=True)
    first.send_photos(AT)
    house.apply()
    house.open_again()
    house.apply()


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(24))
def test_two_technicians_and_a_check_up_that_is_opened_again_lose_nothing(seed: int) -> None:
    house = one_day(Random(seed))
    end_of(house)
    assert TabletVisit.objects.get().problems == []
    assert CheckUp.objects.get().finished_at is not None
    assert house.finished >= 1
    # Byte for byte what was handed in, once, and what the office chose beside it.
    from_tablets = Event.objects.exclude(device_id=OFFICE_DEVICE).values_list("pk", "raw")
    assert {str(pk): raw for pk, raw in from_tablets} == house.sent
    assert not SetAside.objects.exists()
    assert audit.breaks(f"property:{house.visit.request.system.property_id}") == []


@pytest.mark.django_db
def test_a_check_up_that_is_not_finished_is_not_opened_again() -> None:
    house = House(Random(1))
    house.type(house.tablets[0])
    house.hand_in(house.tablets[0], everything=True)
    house.apply()
    with pytest.raises(Refusal):
        decisions.reopen(appointment_id=house.visit.pk, because="Why not", by_user=house.nora, at=AT)
