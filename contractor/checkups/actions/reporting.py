"""Writes of reports: made once, kept, and announced to the owner."""

import hashlib
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import transaction

from contractor.checkups.models import CheckUp, CheckUpReport
from contractor.checkups.reports import report_pdf
from contractor.core import audit
from contractor.core.audit import SYSTEM
from contractor.notices.actions import queue_notice


@transaction.atomic
def make_report(*, checkup_id: int, at: datetime) -> CheckUpReport:
    """The report of a finished check-up: the one that is there, or made now. The owner hears of it once.

    The check-up's row is locked, so that two who ask at once get the same file.
    """
    checkup = (
        CheckUp.objects.select_for_update(of=("self",))
        .select_related("system__property", "technician")
        .get(pk=checkup_id)
    )
    known = CheckUpReport.objects.filter(checkup=checkup).first()
    if known is not None:
        return known
    content = report_pdf(checkup)
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
    ownership = house.ownerships.open_ended().select_related("person").first()
    if ownership is not None and ownership.from_on <= checkup.done_on:
        queue_notice(
            occasion=f"report:{checkup.pk}",
            template="report_ready",
            person=ownership.person,
            property=house,
            context={"checkup": checkup, "technician": checkup.technician},
            by=SYSTEM,
            at=at,
        )
    return report
