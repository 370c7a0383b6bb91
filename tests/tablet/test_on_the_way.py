"""The owner hears from the tablet that somebody has set out: of the day's own stop, once, and never later."""

from datetime import timedelta

import pytest
from django.urls import reverse

from contractor.core import clock
from contractor.notices.models import Notice
from contractor.visits.models import Appointment

pytestmark = pytest.mark.django_db


@pytest.fixture
def today(visit: Appointment) -> Appointment:
    """The visit on the day on which the test runs: the page asks the clock."""
    Appointment.objects.filter(pk=visit.pk).update(on=clock.today())
    visit.refresh_from_db()
    return visit


def press(client, visit):
    return client.post(reverse("tablet:on_the_way", args=[visit.pk]), content_type="application/json")


def about(visit):
    return Notice.objects.filter(template="visit_on_the_way")


def test_the_owner_is_told_once_however_often_it_is_pressed(client, theo, today):
    client.force_login(theo)
    answers = [press(client, today) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].json()["sentence"] == "Iris Holloway is told by e-mail."
    assert about(today).count() == 1


def test_nobody_tells_of_somebody_elses_stop(client, ana, today):
    client.force_login(ana)
    answer = press(client, today)
    assert answer.status_code == 409
    assert answer.json()["sentence"].startswith("This visit is not yours any more.")
    assert not about(today).exists()


def test_a_stop_of_another_day_is_refused_with_its_day(client, theo, today):
    Appointment.objects.filter(pk=today.pk).update(on=today.on + timedelta(days=1))
    client.force_login(theo)
    answer = press(client, today)
    assert answer.status_code == 409
    assert "The owner is told on that day" in answer.json()["sentence"]
    assert not about(today).exists()


def test_whoever_is_not_signed_in_is_asked_to(client, today):
    assert press(client, today).status_code == 401
