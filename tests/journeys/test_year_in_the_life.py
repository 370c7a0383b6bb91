"""One house from its first warranty to its second owner, told through the addresses that people use.

Nobody calls an action here: Nora, Theo, the owners and a stranger press what their pages offer, the nightly command
runs, and the mail goes where it goes. Only time is moved.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import User
from contractor.checkups.models import ChecklistItem, CheckUp, Finding
from contractor.core import clock
from contractor.estimates.models import LifeEstimate
from contractor.notices.models import Notice
from contractor.office import first_setup
from contractor.properties.models import Ownership, Property
from contractor.systems.models import CatalogueModel, Component, System
from contractor.visits.models import Appointment, Request
from contractor.warranties.actions.certifying import certificate_file
from contractor.warranties.models import Certificate, Claim, StoredStanding, TermsEdition, Transfer, Warranty
from contractor.warranties.numbers import display_number
from contractor.warranties.queries import promise_standings
from tests.journeys.hands import (
    answer_all,
    answer_card,
    begin,
    cards,
    in_words,
    mail_to,
    page,
    pdf_words,
    photo,
    press,
    secret_link,
    sign_and_finish,
)

STREET = "31 Alder Reach"
PARTS = {
    "channel": ("Northfold", "EdgeRun 4"),
    "liner": ("Northfold", "Wallsheet 60"),
    "pit": ("Northfold", "Basin 18-30 S"),
    "primary_pump": ("Northfold", "Castwell 50"),
    "float_switch": ("Northfold", "Riser V"),
    "standby_pump": ("Northfold", "Nightwatch 12"),
    "battery": ("Merrowick", "Stillmat 75"),
    "charger": ("Tarn & Hobb", "Steady 10"),
    "high_water_alarm": ("Northfold", "Bellfloat 9"),
    "check_valve": ("Sallow Mill", "Quiet Flap 1½"),
    "discharge_line": ("Northfold", "Rigid 1½"),
    "freeze_relief": ("Sallow Mill", "Icegap 1½"),
    "containment_ring": ("Northfold", "Ringwall 26"),
}


@dataclass
class Calendar:
    """The only clock of the story."""

    on: date

    def now(self) -> datetime:
        return datetime.combine(self.on, time(15), tzinfo=UTC)

    def today(self) -> date:
        return self.on


@pytest.fixture
def calendar(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> Calendar:
    """The story's clock; its signing key is its own, because it grows old in it."""
    settings.SIGNING_KEY_DIR = tmp_path / "keys"
    made = Calendar(date(2026, 5, 14))
    monkeypatch.setattr(clock, "now", made.now)
    monkeypatch.setattr(clock, "today", made.today)
    return made


@dataclass
class Browsers:
    """Who sits where."""

    office: Client
    tablet: Client
    owner: Client = field(default_factory=Client)
    buyer: Client = field(default_factory=Client)
    stranger: Client = field(default_factory=Client)


@pytest.fixture
def browsers(
    transactional_db: None, nora: User, theo: User, ruth: User, signed_in_as: Callable[[User], Client]
) -> Browsers:
    at = datetime(2026, 5, 1, 15, tzinfo=UTC)
    first_setup.load_catalogue(by=ruth, at=at)
    first_setup.load_checklist(by=ruth, at=at)
    first_setup.load_terms(by=ruth, at=at)
    return Browsers(office=signed_in_as(nora), tablet=signed_in_as(theo))


def register(office: Client, *, owner: str, email: str) -> tuple[System, Warranty]:
    """The office registers house, owner, system, parts and walls, and issues the first warranty."""
    next_address = press(
        office,
        reverse("properties:register"),
        street=STREET,
        city="Larkmere",
        state="PA",
        postcode="17099",
        access_notes="Side door; ring twice.",
        name=owner,
        phone="(555) 555-0123",
        email=email,
        owner_since="2021-09-01",
    )
    next_address = press(office, next_address, name="Basement", installed_on="2026-05-14")
    for kind, (maker, name) in PARTS.items():
        model = CatalogueModel.objects.get(part_kind=kind, maker=maker, name=name)
        next_address = press(
            office, f"{next_address.partition('?')[0]}?kind={kind}", model=model.pk, serial_number="", on="2026-05-14"
        )
    system = System.objects.get()
    for letter, wall in (("A", "Back wall"), ("B", "Stair side")):
        address = reverse("systems:wall_add", args=[system.pk])
        press(office, address, letter=letter, name=wall, length="32 ft", has_channel="on", has_liner="on")
    terms = TermsEdition.objects.get()
    press(office, reverse("warranties:issue", args=[system.pk]), terms=terms.pk, issued_on="2026-05-14")
    return system, Warranty.objects.get()


def give_to_theo(office: Client, request: Request, theo: User, on: date) -> None:
    press(
        office,
        reverse("visits:give", args=[request.pk]),
        technician=theo.pk,
        on=on.isoformat(),
        arrive_from="09:00",
        arrive_until="11:00",
    )


def yearly_checkup(browsers: Browsers, calendar: Calendar, theo: User, *, on: date, owner: str) -> CheckUp:
    """An ordinary year: due by night, given out, done, nothing found."""
    calendar.on = date(on.year, 4, 1)
    call_command("nightly")
    give_to_theo(browsers.office, Request.objects.without_appointment().get(kind="checkup"), theo, on)
    calendar.on = on
    checkup = begin(browsers.tablet, street=STREET)
    answer_all(browsers.tablet, checkup)
    sign_and_finish(browsers.tablet, checkup, name=owner)
    return checkup


def next_due_on(warranty: Warranty, on: date) -> date | None:
    """The next due day as derived, after a look that the stored one is the same."""
    derived = {one.standing.next_due_on for one in promise_standings(warranty=warranty, on=on)}
    stored = StoredStanding.objects.get(warranty=warranty, part_kind="")
    assert stored.on == on
    assert stored.next_due_on in derived
    return stored.next_due_on


def test_a_house_from_its_first_warranty_to_its_second_owner(
    browsers: Browsers, calendar: Calendar, theo: User, capsys: pytest.CaptureFixture[str]
) -> None:
    iris, ben = "iris@example.com", "ben@example.com"
    office, tablet = browsers.office, browsers.tablet

    # Spring 2026: the system is in, the warranty is issued, the owner hears of it.
    system, warranty = register(office, owner="Iris Holloway", email=iris)
    house = Property.objects.get()
    assert Component.objects.in_place(calendar.on).filter(system=system).count() == len(PARTS)
    house_file = page(office, reverse("office:house", args=[house.pk]))
    assert "Iris Holloway" in house_file
    assert "Back wall" in house_file
    assert next_due_on(warranty, calendar.on) == date(2027, 5, 14)
    assert len(mail_to(iris, "warranty_issued")) == 1
    call_command("nightly")
    assert not Request.objects.exists()

    # Eleven months later the night puts the house on the due list, once, and writes to the owner, once.
    calendar.on = date(2027, 4, 14)
    call_command("nightly")
    call_command("nightly")
    request = Request.objects.get()
    assert (request.kind, request.target_on) == ("checkup", date(2027, 5, 14))
    # 60 days before the due day to 30 days after it, as the terms say.
    assert (request.earliest_on, request.latest_on) == (date(2027, 3, 15), date(2027, 6, 13))
    assert STREET in page(office, reverse("office:due"))
    assert len(mail_to(iris, "checkup_due")) == 1

    # Theo gets it; the owner's message names the day.
    give_to_theo(office, request, theo, date(2027, 4, 27))
    [told] = mail_to(iris, "appointment_set")
    assert "April 27, 2027" in str(told.body)
    assert STREET in page(office, reverse("visits:round_day", args=[theo.pk, date(2027, 4, 27)]))
    assert STREET not in page(tablet, reverse("checkups:my_round"))

    # The day itself: every card; the battery is weak and the verdict is there at once.
    calendar.on = date(2027, 4, 27)
    checkup = begin(tablet, street=STREET)
    load_test = next(key for key, item in cards(tablet, checkup) if item.code == "battery-load-test")
    answer_all(tablet, checkup, but={load_test})
    item = ChecklistItem.objects.get(code="battery-load-test")
    card = answer_card(tablet, checkup, load_test, item, typed="9.1")
    assert "is-bad" in card
    assert "Write it down for the owner" in card
    too_early = tablet.post(reverse("checkups:finish", args=[checkup.pk]))
    assert too_early.status_code == 422
    assert CheckUp.objects.get().finished_at is None

    # It is written down and swapped; the new battery brings cards of its own.
    old = Component.objects.get(system=system, part_kind="battery")
    written = tablet.post(
        reverse("checkups:finding_add", args=[checkup.pk, load_test]),
        {"severity": "bad", "what": "The battery fell below its least voltage.", "repaired": "A new battery is in."},
        headers={"HX-Request": "true"},
    )
    assert written.status_code == 200
    press(
        tablet,
        reverse("checkups:swap", args=[checkup.pk, old.pk]),
        model=old.model_id,
        serial_number="BA-77120",
        because="Tested weak under load",
        failed="on",
    )
    old.refresh_from_db()
    new = Component.objects.get(system=system, part_kind="battery", out_on__isnull=True)
    assert (old.out_on, new.in_on, new.replaces) == (calendar.on, calendar.on, old)
    for key, line in cards(tablet, checkup):
        if key.endswith(f"-{new.pk}"):
            answer_card(tablet, checkup, key, line)
    sign_and_finish(tablet, checkup, name="Iris Holloway")
    assert Appointment.objects.get().state == Appointment.State.DONE
    assert Finding.objects.get().done_note == "A new battery is in."

    # What the year left: a report, a standing that moved on, new estimates, and a link in the owner's mail.
    assert next_due_on(warranty, calendar.on) == date(2028, 5, 14)
    assert LifeEstimate.objects.filter(component=new, made_on=calendar.on, replace_by__gt=calendar.on).exists()
    assert not LifeEstimate.objects.filter(component=old).exists()
    [battery] = [one for one in promise_standings(warranty=warranty, on=calendar.on) if one.part_kind == "battery"]
    # 36 months from the day the battery was put in.
    assert battery.standing.through_on == date(2030, 4, 27)
    [ready] = mail_to(iris, "report_ready")
    link = secret_link(ready)
    assert "Open my house" in page(browsers.owner, link)
    assert browsers.owner.get(reverse("portal:house")).status_code == 302
    assert press(browsers.owner, link) == reverse("portal:house")
    assert "in good order" in page(browsers.owner, reverse("portal:house"))
    report = pdf_words(browsers.owner, reverse("portal:report", args=[checkup.pk]))
    assert "BA-77120" in report
    assert "April 27, 2027" in report
    assert STREET in pdf_words(browsers.owner, reverse("portal:warranty_document", args=[warranty.pk]))

    # Third year: the primary pump fails in a storm, and the record decides.
    yearly_checkup(browsers, calendar, theo, on=date(2028, 5, 9), owner="Iris Holloway")
    settle_pump_claim(office, calendar, warranty, system)
    [decided] = mail_to(iris, "claim_decided")
    assert "$75.00" in str(decided.body)

    # Two ordinary years; the key that signs certificates is rotated, as its habit is.
    call_command("signing_key", "make")
    for on in (date(2029, 5, 2), date(2030, 5, 20)):
        yearly_checkup(browsers, calendar, theo, on=on, owner="Iris Holloway")
    call_command("signing_key", "rotate")
    assert next_due_on(warranty, calendar.on) == date(2031, 5, 14)

    # Fifth year: the house is sold; the check-up that the terms ask for becomes a visit and is done.
    transfer = ask_transfer(office, calendar, warranty, buyer="Ben Okafor", email=ben)
    assert len(mail_to(iris, "transfer_asked")) == 1
    request = Request.objects.without_appointment().get()
    assert request.kind == "transfer"
    give_to_theo(office, request, theo, date(2031, 3, 18))
    calendar.on = date(2031, 3, 18)
    checkup = begin(tablet, street=STREET)
    answer_all(tablet, checkup)
    sign_and_finish(tablet, checkup, name="Iris Holloway")
    certificate = close_the_sale(office, calendar, transfer)

    # The closing table: real by number and code, by the QR code and by the file, and no name is told.
    code = press_check(browsers.stranger, certificate.number, certificate.check_code)
    token = page(browsers.stranger, reverse("portal:check_token", args=[certificate.token]))
    with certificate_file(certificate_id=certificate.pk).open("rb") as opened:
        content = opened.read()
    file, changed = (press_file(browsers.stranger, body) for body in (content, content.replace(b"sha256:", b"sha265:")))
    assert "This file was changed." in changed
    for answer in (code, token, file):
        assert f"Certificate {display_number(certificate.number)} is genuine." in answer
        assert "Okafor" not in answer
        assert "Holloway" not in answer
        assert STREET not in answer
    assert "No certificate has this number and code." in press_check(browsers.stranger, certificate.number, "AAAAAA")
    assert browsers.stranger.get(reverse("portal:house")).status_code == 302

    # The seller's page is closed, the buyer's opens.
    assert browsers.owner.get(reverse("portal:house"))["Location"] == reverse("portal:ask_link")
    assert browsers.owner.post(link).status_code == 410
    [welcome] = mail_to(ben, "transfer_issued_buyer")
    assert press(browsers.buyer, secret_link(welcome)) == reverse("portal:house")
    assert "Ben Okafor" in page(browsers.buyer, reverse("portal:house"))
    paper = pdf_words(browsers.buyer, reverse("portal:certificate", args=[certificate.pk]))
    assert "Ben Okafor" in paper
    assert display_number(certificate.number) in paper

    # Next year's letter goes to the new owner alone.
    assert next_due_on(warranty, calendar.on) == date(2032, 5, 14)
    to_iris = len(mail_to(iris, "checkup_due"))
    calendar.on = date(2032, 4, 1)
    call_command("nightly")
    assert len(mail_to(ben, "checkup_due")) == 1
    assert len(mail_to(iris, "checkup_due")) == to_iris

    # And everything that was written in six years holds.
    call_command("verify_audit")
    call_command("verify_standings")
    assert "streams hold" in capsys.readouterr().out
    assert not Notice.objects.exclude(state=Notice.State.SENT).exists()


def settle_pump_claim(office: Client, calendar: Calendar, warranty: Warranty, system: System) -> None:
    """Reported on the telephone, replaced, worked out, decided."""
    calendar.on = date(2029, 2, 3)
    pump = Component.objects.in_place(calendar.on).get(system=system, part_kind="primary_pump")
    address = press(
        office,
        reverse("warranties:report_claim", args=[warranty.pk]),
        part_kind="primary_pump",
        component=pump.pk,
        lost_on="2029-02-02",
        reported_on="2029-02-03",
        cause="part_failed",
        what="The pump hummed in the storm and lifted nothing; the standby pump held.",
    )
    claim = Claim.objects.get()
    press(
        office,
        reverse("systems:replace", args=[pump.pk]),
        on="2029-02-03",
        failed="yes",
        because="Seized bearing",
        model=pump.model_id,
        serial_number="PR-90411",
    )
    worked_out = office.post(address, {"cost": "486.50", "component": pump.pk, "cause": "part_failed", "step": "see"})
    assert worked_out.status_code == 200
    # Two years and eight months after the issue, within the 36 months in which the company bears the whole repair;
    # the owner pays the call-out fee beside it, as the terms say.
    assert "We pay $486.50, the owner $75.00." in in_words(worked_out)
    claim.refresh_from_db()
    assert claim.state == Claim.State.REPORTED
    press(office, address, cost="486.50", component=pump.pk, cause="part_failed", step="decide")
    claim.refresh_from_db()
    assert (claim.state, claim.outcome) == (Claim.State.DECIDED, "covered")
    assert (claim.owner_pays, claim.contractor_pays) == (Decimal("75.00"), Decimal("486.50"))
    assert claim.decision is not None
    assert claim.decision["lines"]


def ask_transfer(office: Client, calendar: Calendar, warranty: Warranty, *, buyer: str, email: str) -> Transfer:
    calendar.on = date(2031, 2, 24)
    address = press(
        office,
        reverse("warranties:ask_transfer", args=[warranty.pk]),
        closing_on="2031-03-28",
        notified_on="2031-02-24",
        name=buyer,
        phone="(555) 555-0177",
        email=email,
    )
    transfer = Transfer.objects.get()
    assert address == reverse("warranties:transfer", args=[transfer.pk])
    # The last check-up is of May 2030; the terms want one within 90 days of the closing.
    refused = office.post(reverse("warranties:issue_transfer", args=[transfer.pk]))
    assert refused.status_code == 409
    assert not Certificate.objects.exists()
    return transfer


def close_the_sale(office: Client, calendar: Calendar, transfer: Transfer) -> Certificate:
    """Fee and acceptance come in, then the certificate is issued on the closing day."""
    page_address = reverse("warranties:transfer", args=[transfer.pk])
    assert "150.00" in page(office, page_address)
    press(office, reverse("warranties:transfer_fee", args=[transfer.pk]), paid_on="2031-03-18")
    calendar.on = date(2031, 3, 28)
    press(
        office,
        reverse("warranties:transfer_accepted", args=[transfer.pk]),
        name="Ben Okafor",
        accepted_on="2031-03-28",
        document=photo(of=77),
    )
    press(office, reverse("warranties:issue_transfer", args=[transfer.pk]))
    transfer.refresh_from_db()
    assert transfer.state == Transfer.State.ISSUED
    seller, buyer = Ownership.objects.order_by("from_on")
    assert (seller.person.name, seller.until_on) == ("Iris Holloway", date(2031, 3, 28))
    assert (buyer.person.name, buyer.from_on, buyer.until_on) == ("Ben Okafor", date(2031, 3, 28), None)
    certificate = Certificate.objects.get()
    assert certificate.issued_to == buyer
    return certificate


def press_check(stranger: Client, number: str, code: str) -> str:
    answer = stranger.post(reverse("portal:check"), {"number": display_number(number), "code": code})
    assert answer.status_code == 200
    return answer.content.decode()


def press_file(stranger: Client, content: bytes) -> str:
    answer = stranger.post(reverse("portal:check_upload"), {"file": SimpleUploadedFile("certificate.pdf", content)})
    assert answer.status_code == 200
    return answer.content.decode()
