"""What follows from finishing: the house is renewed, the report is made after the commit, the right owner hears."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from django.core import mail
from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.actions.checkup import finish_checkup, sign
from contractor.checkups.actions.evidence import add_photo, close_finding, raise_finding
from contractor.checkups.actions.reporting import make_report
from contractor.checkups.errors import AlreadyFinished, NotSigned
from contractor.checkups.models import Answer, CheckUp, CheckUpReport, Finding, Signature
from contractor.core import renewal
from contractor.notices.models import Notice
from contractor.properties.actions import hand_over
from contractor.properties.models import Ownership, Person
from tests.checkups import factories as made

Callbacks = Callable[..., object]


@pytest.fixture
def renewed(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The houses whose facts were said to have changed."""
    houses: list[int] = []
    monkeypatch.setattr(renewal, "facts_changed", lambda *, property_id: houses.append(property_id))
    return houses


@pytest.fixture
def begun_tasks(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, dict[str, int]]]:
    """The tasks that were begun, by name and ids; nothing is really started."""
    begun: list[tuple[str, dict[str, int]]] = []
    monkeypatch.setattr("contractor.celery.start", lambda task, **ids: begun.append((task, ids)))
    return begun


def test_finishing_renews_the_house_and_answering_does_not(
    checkup: CheckUp, at: datetime, renewed: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    # Ending the visit renews the house as well; here only what finishing itself does is looked at.
    monkeypatch.setattr("contractor.checkups.actions.checkup.mark_done", lambda **_: None)
    made.answer_all(checkup, at)
    made.signed(checkup, at)
    assert renewed == []
    finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at)
    assert renewed == [checkup.system.property_id]


def test_a_refused_finish_changes_nothing(
    checkup: CheckUp, at: datetime, renewed: list[int], begun_tasks: list[tuple[str, dict[str, int]]]
) -> None:
    made.answer_all(checkup, at, instead={"rest-volts": {"typed": "11.2", "unit": "V"}})
    with pytest.raises(NotSigned):
        finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at)
    checkup.refresh_from_db()
    assert (checkup.finished_at, checkup.appointment.state) == (None, "planned")
    assert not Finding.objects.exists()
    assert (renewed, begun_tasks) == ([], [])


def test_putting_something_right_later_renews_the_house_too(
    checkup: CheckUp, theo: User, at: datetime, renewed: list[int]
) -> None:
    found = raise_finding(checkup_id=checkup.pk, severity="bad", what="Wet floor.", by_user=theo, at=at)
    made.finished(checkup, at)
    renewed.clear()
    close_finding(finding_id=found.pk, note="Dried.", by=theo.actor, at=at + timedelta(days=30))
    assert renewed == [checkup.system.property_id]


def test_the_report_is_begun_once_and_only_after_the_commit(
    checkup: CheckUp,
    at: datetime,
    begun_tasks: list[tuple[str, dict[str, int]]],
    django_capture_on_commit_callbacks: Callbacks,
) -> None:
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
        made.finished(checkup, at)
        assert begun_tasks == []
    wanted = ("contractor.checkups.tasks.render_report", {"checkup_id": checkup.pk})
    assert begun_tasks.count(wanted) == 1


@pytest.mark.django_db(transaction=True)
def test_a_finish_that_is_undone_begins_no_report(
    checkup: CheckUp, at: datetime, begun_tasks: list[tuple[str, dict[str, int]]]
) -> None:
    made.answer_all(checkup, at)
    made.signed(checkup, at)
    with transaction.atomic():
        finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at)
        transaction.set_rollback(True)
    checkup.refresh_from_db()
    assert (checkup.finished_at, begun_tasks) == (None, [])


def test_the_verdicts_finding_is_raised_once_and_in_the_technicians_own_words_where_there_are_some(
    checkup: CheckUp, theo: User, at: datetime
) -> None:
    row, part = made.line(checkup, "rest-volts")
    raise_finding(
        checkup_id=checkup.pk,
        severity="bad",
        what="Battery swollen.",
        by_user=theo,
        at=at,
        item_id=row.pk,
        component_id=part.pk if part else None,
    )
    weak = {"typed": "11.2", "unit": "V"}
    done = made.finished(checkup, at, instead={"rest-volts": weak, "load-test": {"typed": "8.8", "unit": "V"}})
    found = {finding.item.code: finding.what for finding in Finding.objects.select_related("item") if finding.item}
    assert found["rest-volts"] == "Battery swollen."
    assert "8.8 V under load" in found["load-test"]
    assert len(found) == Finding.objects.count() == 2
    assert done.summary.startswith("Not passed yet. 2 findings are still to be put right")


def test_everything_was_good_is_said_so(checkup: CheckUp, at: datetime) -> None:
    assert made.finished(checkup, at).summary == "Passed: everything was checked and nothing bad is left open."


def test_what_is_finished_takes_neither_photo_nor_finding_nor_signature(
    checkup: CheckUp, theo: User, at: datetime
) -> None:
    made.finished(checkup, at)
    answers, signature = Answer.objects.count(), Signature.objects.values().get()
    writes: list[Callable[[], object]] = [
        lambda: add_photo(checkup_id=checkup.pk, content=made.picture("red"), by_user=theo, at=at),
        lambda: raise_finding(checkup_id=checkup.pk, severity="bad", what="Wet.", by_user=theo, at=at),
        lambda: sign(checkup_id=checkup.pk, kind="nobody_home", name="", strokes=[], at=at, by=theo.actor),
    ]
    for write in writes:
        with pytest.raises(AlreadyFinished):
            write()
    assert (Answer.objects.count(), Signature.objects.values().get()) == (answers, signature)
    assert not Finding.objects.exists()


def test_each_kind_of_content_changes_what_a_signature_is_over(checkup: CheckUp, theo: User, at: datetime) -> None:
    def signs() -> str:
        return sign(checkup_id=checkup.pk, kind="typed", name="Iris", strokes=[], at=at, by=theo.actor).signed_sha256

    hashes = [signs()]
    assert signs() == hashes[0]
    made.answer(checkup, "mould", at, condition="good")
    hashes.append(signs())
    made.answer(checkup, "mould", at + timedelta(minutes=1), condition="good")
    hashes.append(signs())
    raise_finding(checkup_id=checkup.pk, severity="watch", what="Damp.", by_user=theo, at=at)
    hashes.append(signs())
    add_photo(checkup_id=checkup.pk, content=made.picture(), by_user=theo, at=at)
    hashes.append(signs())
    assert len(set(hashes)) == len(hashes)
    assert Signature.objects.count() == 1


# Who hears of the report.


def test_the_owner_gets_one_mail_with_a_link(
    checkup: CheckUp,
    ownership: Ownership,
    at: datetime,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Callbacks,
) -> None:
    monkeypatch.setattr("contractor.core.clock.now", lambda: at)
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
        made.finished(checkup, at)
    for _ in range(2):
        with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
            make_report(checkup_id=checkup.pk, at=at)
    [message] = [message for message in mail.outbox if "check-up report" in message.subject]
    assert message.to == ["iris@example.com"]
    assert "/home/link/" in str(message.body)


def test_a_buyer_who_came_later_does_not_hear_of_the_sellers_checkup(
    checkup: CheckUp, ownership: Ownership, buyer: Person, theo: User, at: datetime, on: date
) -> None:
    made.finished(checkup, at)
    later = at + timedelta(days=10)
    hand_over(
        property_id=checkup.system.property_id, person_id=buyer.pk, on=on + timedelta(days=9), by=theo.actor, at=later
    )
    make_report(checkup_id=checkup.pk, at=later)
    assert CheckUpReport.objects.count() == 1
    assert not Notice.objects.filter(template="report_ready").exists()


def test_a_house_without_a_known_owner_still_gets_its_report(
    checkup: CheckUp, ownership: Ownership, at: datetime
) -> None:
    ownership.delete()
    made.finished(checkup, at)
    make_report(checkup_id=checkup.pk, at=at)
    assert CheckUpReport.objects.count() == 1
    assert not Notice.objects.filter(template="report_ready").exists()
