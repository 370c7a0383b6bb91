"""Writes of what backs a check-up: photos, and findings from raising to putting right."""

from datetime import datetime
from uuid import UUID

from django.core.files.base import ContentFile
from django.db import transaction

from contractor.accounts.models import User
from contractor.checkups.actions.own_checkup import (
    component_of_house,
    item_of_checklist,
    open_checkup,
    record,
    refuse_other_kind,
)
from contractor.checkups.errors import FindingDone, NothingAnswered, NotOfThisHouse, PhotoAtAnotherCard, ReasonMissing
from contractor.checkups.models import Finding, Photo
from contractor.checkups.photos import CheckedPhoto, check_photo
from contractor.core import audit, renewal
from contractor.core.audit import Actor


def add_photo(
    *,
    checkup_id: int,
    content: bytes,
    by_user: User,
    at: datetime,
    item_id: int | None = None,
    component_id: int | None = None,
    finding_id: UUID | None = None,
    caption: str = "",
    is_handed_in: bool = False,
) -> Photo:
    """Keeps a photo: the original as evidence, and a clean picture to show. The same photo again gives the same row.

    Raises AlreadyFinished, NotYourVisit, NotOfThisHouse, UnreadablePhoto, PhotoTooLarge, or PhotoAtAnotherCard when
    the same picture is sent for something else.
    """
    # Decoding takes a second or more: the check-up's row is locked only afterwards.
    checked = check_photo(content)
    return _keep_photo(
        checkup_id=checkup_id,
        content=content,
        checked=checked,
        by_user=by_user,
        at=at,
        item_id=item_id,
        component_id=component_id,
        finding_id=finding_id,
        caption=caption,
        is_handed_in=is_handed_in,
    )


@transaction.atomic
def _keep_photo(
    *,
    checkup_id: int,
    content: bytes,
    checked: CheckedPhoto,
    by_user: User,
    at: datetime,
    item_id: int | None,
    component_id: int | None,
    finding_id: UUID | None,
    caption: str,
    is_handed_in: bool,
) -> Photo:
    checkup = open_checkup(checkup_id, by_user, is_handed_in=is_handed_in)
    known = checkup.photos.filter(original_sha256=checked.original_sha256).first()
    if known is not None:
        if (known.item_id, known.component_id) != (item_id, component_id):
            raise PhotoAtAnotherCard
        return known
    finding = checkup.findings.filter(pk=finding_id).first() if finding_id else None
    if finding_id and finding is None:
        raise NotOfThisHouse
    item, component = (
        item_of_checklist(checkup, item_id) if item_id else None,
        component_of_house(checkup, component_id),
    )
    refuse_other_kind(item, component)
    photo = Photo(
        checkup=checkup,
        item=item,
        component=component,
        finding=finding,
        original_sha256=checked.original_sha256,
        width=checked.width,
        height=checked.height,
        caption=caption.strip(),
        taken_at=at,
        taken_by=by_user,
    )
    photo.original.save(f"{photo.pk}.{checked.original_suffix}", ContentFile(content), save=False)
    photo.shown.save(f"{photo.pk}.jpg", ContentFile(checked.shown_jpeg), save=False)
    photo.save(force_insert=True)
    kept = {"sha256": photo.original_sha256, "item_id": photo.item_id, "component_id": photo.component_id}
    record(checkup, photo, verb="photo kept", by=by_user.actor, at=at, after=kept)
    return photo


@transaction.atomic
def raise_finding(
    *,
    checkup_id: int,
    severity: str,
    what: str,
    by_user: User,
    at: datetime,
    what_to_do: str = "",
    component_id: int | None = None,
    item_id: int | None = None,
    is_handed_in: bool = False,
) -> Finding:
    """Writes down something wrong or worth watching. Raises AlreadyFinished, NotYourVisit or NotOfThisHouse."""
    checkup = open_checkup(checkup_id, by_user, is_handed_in=is_handed_in)
    if not what.strip():
        raise NothingAnswered("Say in a few words what you found.")
    item = item_of_checklist(checkup, item_id) if item_id else None
    component = component_of_house(checkup, component_id, also_taken_out=True)
    refuse_other_kind(item, component)
    finding = Finding.objects.create(
        checkup=checkup,
        item=item,
        component=component,
        severity=Finding.Severity(severity),
        what=what.strip(),
        what_to_do=what_to_do.strip(),
        raised_at=at,
        raised_by=by_user,
    )
    record(checkup, finding, verb="finding raised", by=by_user.actor, at=at, after=audit.snapshot(finding))
    return finding


@transaction.atomic
def close_finding(*, finding_id: UUID, note: str, by: Actor, at: datetime, done_by: User | None = None) -> Finding:
    """Notes that a finding was put right, also long after its check-up. Raises FindingDone or ReasonMissing."""
    finding = Finding.objects.select_for_update(of=("self",)).select_related("checkup__system").get(pk=finding_id)
    if finding.done_at is not None:
        raise FindingDone
    if not note.strip():
        raise ReasonMissing
    before = audit.snapshot(finding)
    finding.done_at, finding.done_by, finding.done_note = at, done_by, note.strip()
    finding.save()
    record(
        finding.checkup,
        finding,
        verb="finding put right",
        by=by,
        at=at,
        before=before,
        after=audit.snapshot(finding),
    )
    renewal.facts_changed(property_id=finding.checkup.system.property_id)
    return finding
