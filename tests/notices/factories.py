"""Rows of notices for tests."""

from datetime import UTC, datetime

import factory
from factory.django import DjangoModelFactory

from contractor.notices.actions import OWNER_LINK
from contractor.notices.models import Notice
from tests.factories import PersonFactory

MORNING = datetime(2026, 5, 4, 14, 0, tzinfo=UTC)


class NoticeFactory(DjangoModelFactory):
    class Meta:
        model = Notice

    occasion = factory.Sequence(lambda n: f"test:{n}")
    template = "owner_link"
    channel = "email"
    person = factory.SubFactory(PersonFactory)
    address = factory.LazyAttribute(lambda row: row.person.email if row.channel == "email" else "")
    subject = factory.Sequence(lambda n: f"Message {n}")
    text = f"Dear owner, {OWNER_LINK}"
    html = f"<p>Dear owner, <a href='{OWNER_LINK}'>open</a></p>"
    queued_at = MORNING
    not_before = MORNING
    sent_at = factory.LazyAttribute(lambda row: MORNING if row.state == "sent" else None)
    state = "queued"
