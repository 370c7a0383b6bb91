"""Writes of reports: made once, kept, and announced to the owner."""

import hashlib
from datetime import datetime, timedelta

from django.core.files.base import ContentFile
from django.db import transaction

from contractor.checkups.models import CheckUp, CheckUpReport
from contractor.checkups.reports import report_pdf
from contractor.core import audit
from contractor.core.audit import SYSTEM
from contractor.notices.actions import queue_notice
from contractor.notices.models import Notice

# A report made later than this after its visit is there to be read, but is no news to write to the owner about.
NEWS_FOR = timedelta(days=14)


def make_report(*, checkup_id: int, at: datetime) -> CheckUpReport:
    """The report of a finished check-up: the one that is there, or made now. The owner hears of it once.

    Printing takes seconds, so it comes before the lock; when two ask at once, both get what was kept first.
    """
    checkup = CheckUp.objects.select_related("system__property", "technician").get(pk=checkup_id)
    known = CheckUpReport.objects.filter(checkup=checkup).first()
    return known or _keep_report(checkup_id=checkup_id, content=report_pdf(checkup), at=at)


@transaction.atomic
def _keep_report(*, checkup_id: int, content: bytes, at: datetime) -> CheckUpReport:
    checkup = (
        CheckUp.objects.select_for_update(of=("self",))
        .select_related("system__property", "technician")
        .get(pk=checkup_id)
    )
    known = CheckUpReport.objects.filter(checkup=checkup).first()
    if known is not None:
        return known
    report = CheckUpReport(checkup=checkup, sha256=hashlib.sha256(content).hexdigest(), made_at=at)
    report.file.save(f"check-up-{checkup.pk}.pdf", ContentFile(content), save=False)
    report.save(force_insert=True)
    house = checkup.system.property
    audit.record(
        by=SYSTEM,
        at=at,
        verb="report made",
        subject=report,
        property_id=house.pk,
        after={"checkup_id": checkup.pk, "sha256": report.sha256},
    )
    _announce(checkup, at=at)
    return report


def _announce(checkup: CheckUp, *, at: datetime) -> None:
    """Tells the owner, when it is news and the house was theirs on that day."""
    ownership = checkup.system.property.ownerships.open_ended().select_related("person").first()
    is_news = checkup.finished_at is not None and at - checkup.finished_at <= NEWS_FOR
    if not is_news or ownership is None or ownership.from_on > checkup.done_on:
        return
    # A check-up that was opened again and finished has another report, which the owner hears of as well.
    earlier = Notice.objects.filter(template="report_ready", occasion__regex=rf"^report:{checkup.pk}(:|$)").count()
    queue_notice(
        occasion=f"report:{checkup.pk}:{earlier + 1}" if earlier else f"report:{checkup.pk}",
        template="report_ready",
        person=ownership.person,
        property=checkup.system.property,
        context={"checkup": checkup, "technician": checkup.technician, "is_again": bool(earlier)},
        by=SYSTEM,
        at=at,
    )
