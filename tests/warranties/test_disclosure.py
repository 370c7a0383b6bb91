"""What a seller's disclosure form asks, as far as the register knows it, and no word more."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.systems.actions import replace_component
from contractor.warranties.actions import certifying, claims
from contractor.warranties.disclosure_lines import disclosure_lines
from contractor.warranties.models import Claim, Warranty
from tests.warranties.test_certificate_pdf import pdf_of, words_of

pytestmark = pytest.mark.django_db


def lines(warranty: Warranty, on: date) -> dict[str, object]:
    return disclosure_lines(warranty=warranty, company="Harrow Creek Dry Basements LLC", licence="PA-1", on=on)


def report(warranty: Warranty, office: Actor, at: datetime, *, lost_on: date, part_kind: str = "pit") -> Claim:
    return claims.report_claim(
        warranty_id=warranty.pk,
        part_kind=part_kind,
        lost_on=lost_on,
        reported_on=lost_on,
        what="Iris is upset about the carpet.",
        cause="not_known",
        by=office,
        at=at,
    )


def test_the_work_is_told_with_day_maker_parts_and_walls(cared_for: Warranty, on: date) -> None:
    told = lines(cared_for, on)
    assert told["work"] == {
        "what": "Basement",
        "on": "2020-05-14",
        "by": "Harrow Creek Dry Basements LLC",
        "licence": "PA-1",
        "parts": ["channel", "liner", "pit", "primary pump", "float switch", "standby pump", "battery"],
        "walls": ["A", "B"],
    }
    assert (told["replaced"], told["replaced_in_all"]) == ([], 0)
    assert (told["reported"], told["reported_in_all"]) == ([], 0)


def test_replaced_parts_are_told_newest_first_and_counted(
    cared_for: Warranty, office: Actor, on: date, at: datetime
) -> None:
    part = cared_for.system.components.get(part_kind="battery")
    for year in (2022, 2023, 2024, 2025):
        part = replace_component(
            component_id=part.pk, on=date(year, 6, 1), because="Weak.", failed=year == 2024, by=office, at=at
        )
    told = lines(cared_for, on)
    assert told["replaced"] == [
        {"part": "battery", "on": "2025-06-01", "had_failed": False},
        {"part": "battery", "on": "2024-06-01", "had_failed": True},
        {"part": "battery", "on": "2023-06-01", "had_failed": False},
    ]
    assert told["replaced_in_all"] == 4
    # What came later than the day of issue isn't told.
    assert lines(cared_for, date(2023, 1, 1))["replaced_in_all"] == 1


def test_failures_are_told_by_day_and_part_and_not_by_what_was_said(
    cared_for: Warranty, office: Actor, ruth: User, on: date, at: datetime
) -> None:
    report(cared_for, office, at, lost_on=date(2026, 5, 2))
    decided = report(cared_for, office, at, lost_on=date(2026, 4, 1))
    Claim.objects.filter(pk=decided.pk).update(state="decided", outcome="not_covered", decided_at=at)
    taken_back = report(cared_for, office, at, lost_on=date(2026, 3, 1))
    Claim.objects.filter(pk=taken_back.pk).update(state="withdrawn")
    told = lines(cared_for, on)
    assert told["reported"] == [
        {"part": "pit", "lost_on": "2026-05-02", "reported_on": "2026-05-02", "outcome": "not decided yet"},
        {"part": "pit", "lost_on": "2026-04-01", "reported_on": "2026-04-01", "outcome": "decided"},
    ]
    assert told["reported_in_all"] == 2
    assert "upset" not in str(told)


def test_the_page_prints_them_as_facts_without_an_opinion(
    cared_for: Warranty, office: Actor, on: date, at: datetime
) -> None:
    report(cared_for, office, at, lost_on=date(2026, 5, 2))
    certificate = certifying.issue_certificate(warranty_id=cared_for.pk, on=on, by=office, at=at)
    said = words_of(pdf_of(certificate))
    for words in (
        "For a seller’s disclosure form: what this record holds",
        "water-control system (Basement), installed May 14, 2020 by Harrow Creek Dry Basements LLC",
        "along the walls A, B.",
        "Replaced since: nothing.",
        "Failures reported to us: pit, loss of May 2, 2026, not decided yet.",
        "Permits: not kept in this record.",
        "These are facts, not an opinion on the house",
        "sealed with its electronic signature",
    ):
        assert words in said, words
    assert "upset" not in said
