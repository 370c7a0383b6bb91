"""Makes the report of a check-up once, keeps it, and tells the owner that it is there."""

import hashlib
from datetime import datetime, timedelta

from django.core.files.base import ContentFile
from django.db import transaction

from contractor.checkups.errors import NotFinished
from contractor.checkups.models import CheckUp, CheckUpReport
from contractor.checkups.queries import whole_checkups
from contractor.checkups.reports import report_context
from contractor.core import audit
from contractor.core.audit import SYSTEM
from contractor.notices.actions import queue_notice
from contractor.notices.printing import render_pdf
from contractor.properties.queries import present_ownership

# A report that is made long after the visit, for a check-up taken over from elsewhere, is no news to the owner.
NEWS_FOR = timedelta(days=30)


def make_report(*, checkup_id: int, at: datetime) -> CheckUpReport:
    """The report of a finished check-up: made now, or the one that was made before. Raises NotFinished."""
    checkup = whole_checkups().get(pk=checkup_id)
    present = CheckUpReport.objects.filter(checkup=checkup).first()
    if present is not None:
        return present
    if checkup.finished_at is None:
        raise NotFinished
    # Printing takes a second or two; nobody should wait for the table meanwhile.
    pdf = render_pdf("checkups/report.html", report_context(checkup))
    return _keep(checkup, pdf, at)


@transaction.atomic
def _keep(checkup: CheckUp, pdf: bytes, at: datetime) -> CheckUpReport:
    # The check-up's row is locked, so of two workers that printed at once the first one's report stays.
    CheckUp.objects.select_for_update().get(pk=checkup.pk)
    present = CheckUpReport.objects.filter(checkup=checkup).first()
    if present is not None:
        return present
    report = CheckUpReport(checkup=checkup, sha256=hashlib.sha256(pdf).hexdigest(), made_at=at)
    report.file.save(f"check-up-{checkup.pk}.pdf", ContentFile(pdf), save=False)
    report.save(force_insert=True)
    house = checkup.system.property
    audit.record(
        by=SYSTEM,
        at=at,
        verb="check-up report made",
        subject=report,
        property_id=house.pk,
        after={"checkup_id": checkup.pk, "sha256": report.sha256},
    )
    ownership = present_ownership(property_id=house.pk)
    if ownership is not None and checkup.finished_at is not None and at - checkup.finished_at <= NEWS_FOR:
        queue_notice(
            occasion=f"report:{checkup.pk}",
            template="report_ready",
            person=ownership.person,
            property=house,
            context={"checkup": checkup, "findings": list(checkup.findings.still_open())},
            by=SYSTEM,
            at=at,
        )
    return report
