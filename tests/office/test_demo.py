"""The demo scenario: loaded once, as the command loads it, then asked whether every story left its mark."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from itertools import pairwise

import pytest
from django.core.management import call_command
from django.db import transaction
from django.test import override_settings
from pytest_django import DjangoDbBlocker

from contractor.accounts.models import Role, User
from contractor.celery import app
from contractor.checkups.models import Answer, CheckUp, Finding, OutsideRecord
from contractor.core import clock
from contractor.estimates.models import ClimateNormals, LifeEstimate
from contractor.notices.models import Notice
from contractor.office.demo.cast import PASSWORD
from contractor.office.demo.scenario import DemoHouse, read_scenario
from contractor.plans.models import Invoice
from contractor.plans.queries import UNPAID, agreements_page
from contractor.plans.rules.terms import State
from contractor.properties.models import Ownership, Property
from contractor.systems.models import AsBuilt, Component
from contractor.visits.models import Appointment, Request
from contractor.warranties.claim_costs import costs_of
from contractor.warranties.claim_record import worked_out
from contractor.warranties.inquiry_tables import TransferInquiry
from contractor.warranties.models import Certificate, Claim, StoredStanding, Transfer, Warranty
from contractor.warranties.queries import check_by_number, transfer_lacks
from contractor.warranties.warranty_file import warranty_file

pytestmark = pytest.mark.django_db
HOUSES = 60


@pytest.fixture(scope="module")
def loaded(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[date]:
    """The demo in the test database, taken back when the module is done; gives the day on which it was loaded.

    One load for all tests (it takes about a minute): each of them works in a transaction of its own within it.
    Run in parallel, the tests of a file stay together (``--dist loadfile``), so that it stays one.
    """
    before = app.conf.task_always_eager, app.conf.broker_url
    folder = tmp_path_factory.mktemp("demo")
    with (
        django_db_blocker.unblock(),
        override_settings(MEDIA_ROOT=folder, EMAIL_BACKEND="django.core.mail.backends.dummy.EmailBackend"),
        transaction.atomic(),
    ):
        call_command("load_demo")
        yield clock.today()
        transaction.set_rollback(True)
    app.conf.task_always_eager, app.conf.broker_url = before


@pytest.fixture
def demo(loaded: date) -> dict[str, list[DemoHouse]]:
    """The houses of the scenario by their story."""
    stories: dict[str, list[DemoHouse]] = {}
    for house in read_scenario(on=loaded).houses:
        stories.setdefault(house.story, []).append(house)
    return stories


def registered(house: DemoHouse) -> Property:
    return Property.objects.get(street=house.street, postcode=house.postcode)


def warranty_of(house: DemoHouse) -> Warranty:
    return Warranty.objects.get(system__property=registered(house))


def standing_of(house: DemoHouse) -> StoredStanding:
    return StoredStanding.objects.get(warranty=warranty_of(house), part_kind="")


def test_sixty_houses_each_with_owner_system_and_warranty(demo: dict[str, list[DemoHouse]]) -> None:
    assert sum(len(houses) for houses in demo.values()) == HOUSES
    assert Property.objects.count() == HOUSES
    assert Warranty.objects.count() == HOUSES
    assert Ownership.objects.open_ended().count() == HOUSES
    assert not Component.objects.filter(part_kind="primary_pump", model__isnull=True).exists()


def test_the_staff_can_sign_in_with_the_password_that_is_printed(loaded: date) -> None:
    assert {user.role for user in User.objects.all()} == set(Role)
    assert all(user.check_password(PASSWORD) for user in User.objects.all())


def test_a_failed_pump_was_claimed_covered_and_replaced(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["failed_primary_pump"]:
        claim = Claim.objects.get(warranty=warranty_of(house))
        assert (claim.state, claim.outcome) == (Claim.State.DECIDED, "covered")
        assert claim.owner_pays is not None
        assert claim.contractor_pays is not None
        assert claim.decision is not None
        assert claim.decision["lines"]
        assert claim.component is not None
        successor = Component.objects.get(replaces=claim.component)
        assert successor.in_on == claim.component.out_on


def test_a_claim_that_turns_on_a_gap_waits_with_question_answer_and_photos(demo: dict[str, list[DemoHouse]]) -> None:
    claim = Claim.objects.get(warranty=warranty_of(demo["gap_in_care"][0]))
    assert claim.state == Claim.State.REPORTED
    assert claim.photos.count() == 3
    assert claim.questions.get().answer
    assert worked_out(claim, cost=Decimal(500)).question.startswith("The check-up was missing for")


def test_one_appeal_waits_and_another_has_changed_the_decision(demo: dict[str, list[DemoHouse]]) -> None:
    waiting = Claim.objects.get(warranty=warranty_of(demo["open_finding"][0]))
    assert (waiting.outcome, waiting.appeal.decided_at) == ("not_covered", None)
    changed = Claim.objects.get(warranty=warranty_of(demo["frozen_discharge"][0]), appeal__isnull=False)
    first, second = changed.letters.all()
    assert (first.facts["outcome"], second.facts["outcome"]) == ("not_covered", "covered")
    assert first.issued_by != second.issued_by
    assert Request.objects.wanting().filter(occasion=f"claim:{changed.pk}:repair:1").exists()


def test_claims_cost_cash_and_kind_once_by_mistake_and_once_as_goodwill(demo: dict[str, list[DemoHouse]]) -> None:
    pumps = [costs_of(Claim.objects.get(warranty=warranty_of(house))) for house in demo["failed_primary_pump"]]
    assert all(costs.in_kind > 0 and not costs.cautions for costs in pumps)
    # At one house all is booked, with a mistake undone; at the other the electrician's invoice is still to come.
    assert sorted(bool(costs.money.to_come) for costs in pumps) == [False, True]
    assert sorted(sum(line.is_undone for line in costs.lines) for costs in pumps) == [0, 1]
    for house in demo["frozen_discharge"]:
        claim = Claim.objects.get(warranty=warranty_of(house), goodwill__isnull=False)
        costs = costs_of(claim)
        assert claim.outcome == "not_covered"
        assert costs.money.goodwill == costs.money.booked_goodwill == costs.in_cash > 0


def test_a_house_sold_properly_has_a_genuine_certificate_for_its_buyer(
    demo: dict[str, list[DemoHouse]], loaded: date
) -> None:
    for house in demo["sold_properly"]:
        assert house.buyer is not None
        certificate = Certificate.objects.get(warranty=warranty_of(house))
        assert certificate.issued_to.person.name == house.buyer.name
        assert Ownership.objects.open_ended().get(property=registered(house)).person.name == house.buyer.name
        checked = check_by_number(number=certificate.number, code=certificate.check_code, on=loaded)
        assert checked.verdict == "genuine"


def test_a_transfer_waits_for_the_buyer_and_one_for_its_check_up(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["transfer_open"]:
        transfer = Transfer.objects.get(warranty=warranty_of(house))
        assert transfer.state == Transfer.State.ASKED
        assert [need.code for need in transfer_lacks(transfer)] == ["accepted"]
        assert Notice.objects.filter(template="transfer_moved", property=transfer.seller.property).count() == 2
    for house in demo["sold_missing_checkup"]:
        transfer = Transfer.objects.get(warranty=warranty_of(house))
        assert "checkup" in [need.code for need in transfer_lacks(transfer)]
        assert Request.objects.filter(system=warranty_of(house).system, kind="transfer").exists()


def test_a_year_without_a_check_up_stays_on_record(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["gap_in_care"]:
        file = warranty_file(warranty_of(house), on=clock.today())
        assert file.care.gaps
        assert standing_of(house).cover == "in_force"


def test_an_outside_record_waits_to_be_looked_at(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["outside_record"]:
        records = OutsideRecord.objects.filter(system__property=registered(house), by_us=False)
        assert sorted(str(record.accepted) for record in records) == ["None", "True"]


def test_an_open_finding_keeps_the_check_up_from_passing(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["open_finding"]:
        last = CheckUp.objects.finished().filter(system__property=registered(house)).with_passed().latest("done_on")
        assert Finding.objects.blocking().filter(checkup=last).exists()
        assert not last.is_passed  # type: ignore[attr-defined]


def test_a_weak_battery_and_a_frozen_line_were_put_right(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["battery_swapped"]:
        parts = Component.objects.filter(system__property=registered(house), part_kind="battery")
        assert [part.out_on is None for part in parts.order_by("in_on", "pk")] == [False, True]
        assert LifeEstimate.objects.filter(component=parts.get(out_on__isnull=True)).exists()
    for house in demo["frozen_discharge"]:
        finding = Finding.objects.get(checkup__system__property=registered(house))
        assert finding.done_note.startswith("Thawed")


def test_a_house_in_grace_is_still_to_be_seen(demo: dict[str, list[DemoHouse]], loaded: date) -> None:
    for house in demo["in_grace"]:
        assert standing_of(house).care == "in_grace"
        request = Request.objects.get(
            system__property=registered(house),
            kind="checkup",
            target_on__lt=loaded,
            appointments__checkup__finished_at__isnull=True,  # a tablet may have begun it today
        )
        assert request.latest_on >= loaded


def test_the_climate_of_both_regions_is_there_and_says_that_it_is_invented(loaded: date) -> None:
    regions = list(ClimateNormals.objects.all())
    assert [region.name for region in regions] == ["Tamarack County", "Upper Tamarack"]
    assert all(region.source.startswith("Invented") for region in regions)
    prefixes = tuple(prefix for region in regions for prefix in region.postcode_prefixes)
    assert all(house.postcode.startswith(prefixes) for house in Property.objects.all())


def test_most_lines_and_pits_were_measured_and_one_in_six_was_not(demo: dict[str, list[DemoHouse]]) -> None:
    assert 45 <= AsBuilt.objects.count() <= 52
    assert AsBuilt.objects.filter(cover_m__isnull=True).exists()
    for house in [*demo["frozen_discharge"], *demo["failed_primary_pump"], *demo["battery_nearly_done"]]:
        assert AsBuilt.objects.filter(system__property=registered(house)).exists(), house.street


def test_the_line_that_froze_has_its_reasons(demo: dict[str, list[DemoHouse]]) -> None:
    county = ClimateNormals.objects.get(name="Tamarack County")
    for house in demo["frozen_discharge"]:
        built = AsBuilt.objects.get(system__property=registered(house))
        assert built.cover_m is not None
        assert built.cover_m < county.frost_depth_m
        assert built.outlet_above_ground_m is not None
        assert built.outlet_above_ground_m > county.snow_depth_m  # it was raised when the line was freed
        assert (built.falls_to_outlet, built.sags, built.is_insulated) == (False, 1, False)


def readings(feeds: str) -> dict[int, list[Answer]]:
    """The standing answers that feed a name, by component, the oldest first."""
    found: dict[int, list[Answer]] = {}
    answers = Answer.objects.standing().filter(item__feeds=feeds).select_related("checkup", "component__model")
    for answer in answers.order_by("checkup__done_on", "pk"):
        assert answer.component_id is not None
        found.setdefault(answer.component_id, []).append(answer)
    return found


def values(answers: list[Answer]) -> list[float]:
    return [answer.value_si for answer in answers if answer.value_si is not None]


@pytest.mark.parametrize("counter", ["pump.run_hours", "pump.starts"])
def test_counters_only_grow(loaded: date, counter: str) -> None:
    several = [values(answers) for answers in readings(counter).values() if len(answers) > 1]
    assert len(several) > 10
    assert all(before < after for counts in several for before, after in pairwise(counts))


def test_flow_falls_slowly_as_pumps_wear_and_capacity_as_batteries_age(loaded: date) -> None:
    flows = [values(answers) for answers in readings("pump.flow_m3_s").values() if len(answers) > 2]
    assert flows
    assert all(0.85 * flow[0] < flow[-1] < 1.03 * flow[0] for flow in flows)
    assert sum(flow[-1] for flow in flows) < sum(flow[0] for flow in flows)
    measured = readings("battery.capacity_ah")
    assert measured
    for answers in measured.values():
        battery = answers[0].component
        assert battery is not None
        assert battery.declared["capacity_test"] == "timed_discharge"
        assert all(0.8 < value / battery.declared["capacity_ah"] < 1.01 for value in values(answers))
    falling = [values(answers) for answers in measured.values() if len(answers) > 1]
    assert falling
    assert all(after < before for capacities in falling for before, after in pairwise(capacities))


def test_rooms_are_as_warm_as_basements(loaded: date) -> None:
    rooms = Answer.objects.standing().filter(item__feeds="basement.temperature_c").values_list("value_si", flat=True)
    assert all(12 <= room <= 24.5 for room in rooms if room is not None)
    assert len(rooms) > 50


def test_nothing_was_found_weak_but_what_the_stories_tell(demo: dict[str, list[DemoHouse]]) -> None:
    told = {house.street for story in ("battery_swapped", "frozen_discharge", "open_finding") for house in demo[story]}
    weak = Answer.objects.standing().filter(verdict__in=("watch", "bad"))
    assert {
        answer.checkup.system.property.street for answer in weak.select_related("checkup__system__property")
    } <= told
    assert not Answer.objects.standing().filter(item__kind="timed_test", value_si__isnull=True).exists()


def test_the_pump_that_failed_had_made_more_starts_than_it_was_rated_for(demo: dict[str, list[DemoHouse]]) -> None:
    for house in demo["failed_primary_pump"]:
        pump = Component.objects.get(system__property=registered(house), part_kind="primary_pump", failed=True)
        counts = values(readings("pump.starts")[pump.pk])
        a_year = counts[-1] / ((pump.answers.latest("checkup__done_on").checkup.done_on - pump.in_on).days / 365.25)
        assert pump.out_on is not None
        assert a_year * (pump.out_on - pump.in_on).days / 365.25 > pump.declared["rated_starts"]


def test_no_battery_is_older_than_one_that_is_nearly_done(loaded: date) -> None:
    ages = [
        (loaded - battery.in_on).days / 365.25
        for battery in Component.objects.filter(part_kind="battery", out_on__isnull=True)
    ]
    assert max(ages) < 6
    assert Component.objects.filter(out_because="Five years old: replaced as planned").count() > 5


def test_each_technician_has_stops_today(loaded: date) -> None:
    for technician in User.objects.technicians():
        assert Appointment.objects.filter(technician=technician, on=loaded, state="planned").exists(), technician


def test_every_chain_holds_and_every_standing_is_the_derived_one(
    loaded: date, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("verify_audit")
    call_command("verify_standings")
    said = capsys.readouterr().out
    assert "streams hold" in said
    assert "Every stored standing is the derived one." in said


def test_no_message_of_the_past_is_still_to_be_sent(loaded: date) -> None:
    assert Notice.objects.filter(channel=Notice.Channel.EMAIL, state=Notice.State.SENT).exists()
    assert not Notice.objects.filter(channel=Notice.Channel.EMAIL).exclude(state=Notice.State.SENT).exists()


def test_a_second_load_loads_nothing(loaded: date, capsys: pytest.CaptureFixture[str]) -> None:
    before = (Property.objects.count(), User.objects.count(), Notice.objects.count())
    call_command("load_demo")
    assert "nothing was loaded" in capsys.readouterr().out
    assert (Property.objects.count(), User.objects.count(), Notice.objects.count()) == before


def test_care_plans_stand_in_every_state_and_their_numbers_have_no_gaps(loaded: date) -> None:
    for state in State:
        assert agreements_page(show=state.value, on=loaded).rows, state
    assert len(agreements_page(show=UNPAID, on=loaded).rows) == 3
    years: dict[int, list[int]] = {}
    for year, sequence in Invoice.objects.order_by("year", "sequence").values_list("year", "sequence"):
        years.setdefault(year, []).append(sequence)
    assert all(found == list(range(1, len(found) + 1)) for found in years.values())


def test_an_agent_waits_for_an_answer_about_a_sale_and_somebody_got_a_no(demo: dict[str, list[DemoHouse]]) -> None:
    [waiting] = TransferInquiry.objects.waiting()
    assert waiting.role == "buyers_agent"
    assert Notice.objects.get(occasion=f"transfer inquiry:{waiting.pk}:owner").person.email
    assert TransferInquiry.objects.get(state="declined").because
