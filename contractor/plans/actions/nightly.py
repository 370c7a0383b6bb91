"""What a night does for plans: tell of renewals, renew what may renew by itself, remind of what is unpaid."""

from datetime import date, datetime

from contractor.core.audit import SYSTEM
from contractor.core.errors import Refusal
from contractor.plans.actions.agreements import renew_by_itself
from contractor.plans.actions.letters import remind_of_unpaid, send_renewal_notices
from contractor.plans.queries import notice_was_in_time, to_renew_on
from contractor.plans.rules.renewal import renews_by_itself


def follow_the_calendar(*, on: date, at: datetime) -> int:
    """Does what is due on a day; safe to run twice. Returns how many plans began another year."""
    renewed = renew_what_may(on=on, at=at)
    send_renewal_notices(on=on, at=at)
    remind_of_unpaid(on=on, at=at)
    return renewed


def renew_what_may(*, on: date, at: datetime) -> int:
    """Begins the next year of plans whose last day is here, where the owner agreed to that and was told in time.

    Nothing is charged before: the invoice is written now. The rest simply ends, and the office sees it as lapsed.
    """
    renewed = 0
    for agreement in to_renew_on(on):
        notice = agreement.renewal_notice
        may = renews_by_itself(
            is_automatic=agreement.renews == agreement.Renews.AUTOMATIC,
            has_consent=agreement.renewal_consent_at is not None,
            is_same_edition=notice.offer_id == agreement.offer_id and notice.offer.is_open,
            was_notice_in_time=notice_was_in_time(agreement),
        )
        if not may:
            continue
        try:
            renew_by_itself(agreement_id=agreement.pk, by=SYSTEM, at=at)
        except Refusal:
            # The house changed hands or the owner chose another plan in the meantime: then it ends.
            continue
        renewed += 1
    return renewed
