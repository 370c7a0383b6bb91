"""Certificates: facts frozen, a chain without branches, and what the public check answers."""

from datetime import date, datetime
from typing import Any

import pytest

from contractor.accounts.models import User
from contractor.core import audit
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry
from contractor.properties.actions import hand_over
from contractor.properties.models import Person
from contractor.warranties.actions import certifying, claims, issuing, transfers
from contractor.warranties.certificates import initials
from contractor.warranties.errors import DayAhead, HolderUnknown, NothingInForce
from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Certificate, Warranty
from contractor.warranties.numbers import display_number, draw_number, read_number
from contractor.warranties.queries import check_by_number, check_by_token, present_certificate
from tests.warranties.factories import checkup_done

pytestmark = pytest.mark.django_db


@pytest.fixture
def certificate(cared_for: Warranty, office: Actor, on: date, at: datetime) -> Certificate:
    return certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)


def texts(value: Any) -> list[str]:
    """Every text in nested data."""
    if isinstance(value, dict):
        return [text for item in value.values() for text in texts(item)]
    if isinstance(value, list):
        return [text for item in value for text in texts(item)]
    return [value] if isinstance(value, str) else []


def test_number_code_and_token_are_what_the_check_page_needs(certificate: Certificate) -> None:
    assert read_number(certificate.number).number == certificate.number
    assert len(certificate.check_code) == 6
    assert set(certificate.check_code) <= set("0123456789ABCDEFGHJKMNPQRSTVWXYZ")
    # 27 symbols of base64url are 160 bits, more than the 128 that keep a token from being guessed.
    assert len(certificate.token) == 27
    assert certificate.facts["check_url"].endswith(f"/check/{certificate.token}/")


def test_the_facts_are_frozen_with_their_hash(certificate: Certificate) -> None:
    kept = Certificate.objects.get(pk=certificate.pk)
    assert freeze(kept.facts).sha256 == kept.facts_sha256
    facts = kept.facts
    assert facts["sentence"] == "As of May 4, 2026 this limited warranty is in force."
    assert [wall["letter"] for wall in facts["walls"]] == ["A", "B"]
    assert facts["walls"][0]["length_mm"] == 9144
    assert [done["on"] for done in facts["care_record"]["checkups"]] == [
        "2025-05-10",
        "2024-05-10",
        "2023-05-10",
        "2022-05-10",
        "2021-05-10",
    ]
    assert facts["care_record"]["next_due_on"] == "2026-05-14"


def test_the_lines_give_last_days_and_shares_of_the_day(certificate: Certificate) -> None:
    lines = {line["kind"]: line for line in certificate.facts["promises"]}
    assert lines["channel"]["life"] == "for the life of the structure"
    assert (lines["pit"]["through_on"], lines["pit"]["share_today"]) == ("2045-05-14", "100 %")
    assert (lines["primary_pump"]["cover"], lines["primary_pump"]["share_today"]) == ("ended", "")
    assert "charger" not in lines


def test_no_sentence_of_a_certificate_promises_a_dry_basement(certificate: Certificate) -> None:
    said = " ".join(texts(certificate.facts)).replace("Harrow Creek Dry Basements", "").casefold()
    assert "dry" not in said.split()
    assert "guarantee" not in said
    assert "not insurance and not an inspection" in said


def test_the_trail_keeps_the_hash_and_no_name(certificate: Certificate) -> None:
    entry = AuditEntry.objects.get(verb="certificate issued")
    assert entry.body["after"]["facts_sha256"] == certificate.facts_sha256
    assert "Holloway" not in str(entry.body)
    assert certificate.facts["record_head"] == entry.previous_hash
    assert audit.breaks(entry.stream) == []


def test_a_new_certificate_takes_the_place_of_the_one_before(
    certificate: Certificate, cared_for: Warranty, office: Actor, on: date, at: datetime
) -> None:
    second = certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)
    assert second.supersedes == certificate
    assert second.facts["supersedes"] == display_number(certificate.number)
    assert present_certificate(cared_for) == second
    answer = check_by_token(certificate.token, on=on)
    assert (answer.verdict, answer.ended_on) == ("superseded", on)


def test_an_open_claim_is_shown_and_not_what_was_said_in_it(
    cared_for: Warranty, office: Actor, on: date, at: datetime
) -> None:
    claims.report_claim(
        warranty_id=cared_for.pk,
        part_kind="pit",
        lost_on=date(2026, 5, 1),
        reported_on=date(2026, 5, 2),
        what="Iris is upset.",
        cause="not_known",
        by=office,
        at=at,
    )
    facts = certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at).facts
    assert facts["open_claims"] == [{"part": "pit", "lost_on": "2026-05-01", "reported_on": "2026-05-02"}]
    assert "upset" not in str(facts)


def test_what_cannot_be_certified_is_refused(
    cared_for: Warranty, ruth: User, buyer: Person, office: Actor, on: date, at: datetime
) -> None:
    def certify(day: date) -> None:
        certifying.issue_certificate(warranty_id=cared_for.pk, on=day, by=office, at=at)

    with pytest.raises(DayAhead):
        certify(date(2026, 5, 5))
    hand_over(property_id=cared_for.system.property_id, person_id=buyer.pk, on=date(2026, 5, 1), by=office, at=at)
    with pytest.raises(HolderUnknown):
        certify(on)
    assert not Certificate.objects.exists()


def test_a_void_warranty_is_not_certified(
    cared_for: Warranty, ruth: User, office: Actor, on: date, at: datetime
) -> None:
    issuing.void_warranty(
        warranty_id=cared_for.pk, voided_on=on, clause="Misuse", because="Torn out.", by_user=ruth, at=at
    )
    with pytest.raises(NothingInForce):
        certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)


@pytest.mark.parametrize(
    ("name", "short"),
    [("Iris Holloway", "I. H."), ("Sofía and Casimir Lindqvist", "S. C. L."), ("Jo Featherstone-Hale", "J. F. H.")],
)
def test_a_sellers_name_is_carried_on_by_initials_only(name: str, short: str) -> None:
    assert initials(name) == short


# What the public check page answers.


@pytest.mark.parametrize("typed", ["{n}", "{d}", " {d} ", "{lower}"])
def test_number_and_code_are_read_as_people_type_them(certificate: Certificate, on: date, typed: str) -> None:
    shown = display_number(certificate.number)
    number = typed.format(n=certificate.number, d=shown, lower=shown.lower())
    code = f"{certificate.check_code[:3].lower()} {certificate.check_code[3:]}"
    assert check_by_number(number=number, code=code, on=on).verdict == "genuine"


def test_a_wrong_code_an_unknown_number_and_a_slip_look_alike(certificate: Certificate, on: date) -> None:
    wrong = "000000" if certificate.check_code != "000000" else "111111"
    answers = [
        check_by_number(number=certificate.number, code=wrong, on=on),
        check_by_number(number=draw_number(), code=certificate.check_code, on=on),
        check_by_number(number=certificate.number[:-1], code=certificate.check_code, on=on),
        check_by_number(number="", code="", on=on),
        check_by_number(number="", code="------", on=on),
        check_by_token("", on=on),
        check_by_token("x" * 27, on=on),
    ]
    assert {answer.verdict for answer in answers} == {"unknown"}
    assert len(set(answers)) == 1
    assert answers[0].number == ""


def test_the_answer_is_about_today_not_about_the_day_of_issue(
    certificate: Certificate, cared_for: Warranty, theo: User
) -> None:
    later = check_by_token(certificate.token, on=date(2026, 6, 20))
    assert (later.verdict, later.cover, later.care) == ("genuine", "in_force", "gap")
    assert later.last_service_on == date(2025, 5, 10)
    checkup_done(cared_for.system, date(2026, 6, 25), theo)
    after = check_by_token(certificate.token, on=date(2026, 6, 26))
    assert (after.care, after.last_service_on) == ("current", date(2026, 6, 25))
    areas = {area.word: area for area in after.areas}
    assert areas["channel"].for_life
    assert areas["pit"].through_on == date(2045, 5, 14)
    assert areas["primary pump"].cover == "ended"


def test_the_answer_names_no_person_and_no_street(certificate: Certificate, on: date) -> None:
    answer = str(check_by_token(certificate.token, on=on))
    assert "Holloway" not in answer
    assert "Millrace" not in answer
    assert "17099" not in answer.replace(repr(check_by_token(certificate.token, on=on).issuer), "")
    assert check_by_token(certificate.token, on=on).postcode_prefix == "170"
    assert check_by_token(certificate.token, on=on).town == "Larkmere, PA"


def test_a_revoked_certificate_says_so_and_nothing_about_cover(
    cared_for: Warranty, buyer: Person, theo: User, ruth: User, office: Actor, on: date, at: datetime
) -> None:
    checkup_done(cared_for.system, date(2026, 4, 25), theo)
    transfer = transfers.ask_transfer(
        warranty_id=cared_for.pk,
        buyer_id=buyer.pk,
        closing_on=date(2026, 5, 1),
        notified_on=date(2026, 4, 20),
        by=office,
        at=at,
    )
    transfers.record_transfer_fee(transfer_id=transfer.pk, paid_on=date(2026, 5, 1), by=office, at=at)
    transfers.accept_transfer(
        transfer_id=transfer.pk, accepted_on=date(2026, 5, 1), name="Ben Okafor", by=office, at=at
    )
    issued = transfers.issue_transfer(transfer_id=transfer.pk, on=on, by=office, at=at)
    assert check_by_token(issued.token, on=on).verdict == "genuine"
    transfers.revoke_transfer(transfer_id=transfer.pk, because="Wrong buyer.", by_user=ruth, at=at)
    answer = check_by_token(issued.token, on=on)
    assert (answer.verdict, answer.areas, answer.cover) == ("revoked", (), None)
    assert present_certificate(cared_for) is None
