"""Opening a finished check-up again, when work on it came in afterwards."""

from datetime import datetime

from django.db import transaction

from contractor.checkups.errors import NotFinished, ReasonMissing
from contractor.checkups.models import CheckUp, CheckUpReport
from contractor.core import audit, renewal
from contractor.core.audit import Actor


@transaction.atomic
def reopen_checkup(*, checkup_id: int, because: str, by: Actor, at: datetime) -> CheckUp:
    """Opens a finished check-up, so that it can be completed and finished once more.

    Nothing that was answered goes. Its report is taken back, because the next finishing makes a new one; the file
    that the owner got stays where it lies, and the trail keeps its hash. Raises NotFinished or ReasonMissing.
    """
    checkup = CheckUp.objects.select_for_update(of=("self",)).select_related("system").get(pk=checkup_id)
    if checkup.finished_at is None:
        raise NotFinished
    if not because.strip():
        raise ReasonMissing
    report = CheckUpReport.objects.filter(checkup=checkup).first()
    before = {**audit.snapshot(checkup), "report_sha256": report.sha256 if report else ""}
    if report is not None:
        report.delete()
    checkup.finished_at, checkup.summary = None, ""
    checkup.save()
    house_id = checkup.system.property_id
    after = {**audit.snapshot(checkup), "report_sha256": "", "because": because.strip()}
    audit.record(
        by=by, at=at, verb="check-up opened again", subject=checkup, property_id=house_id, before=before, after=after
    )
    renewal.facts_changed(property_id=house_id)
    return checkup
