"""Secret addresses at which the staff read visits in calendars of their own."""

import secrets
from datetime import datetime

from django.db import transaction

from contractor.accounts.models import User
from contractor.core import audit
from contractor.visits.actions.owner_answers import token_sha256
from contractor.visits.errors import FeedRevoked, TooManyFeeds
from contractor.visits.owner_tables import CalendarFeed

MOST = 5


@transaction.atomic
def make_feed(*, user: User, name: str, at: datetime) -> str:
    """Makes a feed and returns its token, which is shown once and kept nowhere. Raises TooManyFeeds."""
    User.objects.select_for_update().get(pk=user.pk)
    if user.calendar_feeds.filter(revoked_at__isnull=True).count() >= MOST:
        raise TooManyFeeds(MOST)
    token = secrets.token_urlsafe(32)
    feed = CalendarFeed.objects.create(user=user, name=name.strip(), token_sha256=token_sha256(token), made_at=at)
    audit.record(by=user.actor, at=at, verb="calendar feed made", subject=feed, property_id=None, after={"user": user})
    return token


@transaction.atomic
def revoke_feed(*, feed_id: int, user: User, at: datetime) -> CalendarFeed:
    """Shuts one of somebody's own feeds. Raises CalendarFeed.DoesNotExist for another's, or FeedRevoked."""
    feed = CalendarFeed.objects.select_for_update().get(pk=feed_id, user=user)
    if feed.revoked_at is not None:
        raise FeedRevoked
    feed.revoked_at = at
    feed.save()
    audit.record(by=user.actor, at=at, verb="calendar feed revoked", subject=feed, property_id=None)
    return feed
