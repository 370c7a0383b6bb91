"""Keeping the photos that come with a claim."""

from collections.abc import Sequence
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import transaction

from contractor.core import audit
from contractor.core.audit import Actor
from contractor.warranties.claim_tables import ClaimAppeal, ClaimQuestion
from contractor.warranties.models import Claim, ClaimPhoto
from contractor.warranties.sent_photos import SentPhoto


@transaction.atomic
def keep_photos(
    *,
    claim: Claim,
    photos: Sequence[SentPhoto],
    by: Actor,
    at: datetime,
    question: ClaimQuestion | None = None,
    appeal: ClaimAppeal | None = None,
) -> None:
    """Keeps originals as evidence beside clean pictures without position; the same photo once.

    ``question`` or ``appeal`` is what they come with, when not with the report.
    """
    known = set(claim.photos.values_list("original_sha256", flat=True))
    new = {one.checked.original_sha256: one for one in photos if one.checked.original_sha256 not in known}
    for sent in new.values():
        photo = ClaimPhoto(
            claim=claim,
            question=question,
            appeal=appeal,
            original_sha256=sent.checked.original_sha256,
            width=sent.checked.width,
            height=sent.checked.height,
            sent_by=by.ref,
            sent_at=at,
        )
        photo.original.save(f"{photo.pk}.{sent.checked.original_suffix}", ContentFile(sent.content), save=False)
        photo.shown.save(f"{photo.pk}.jpg", ContentFile(sent.checked.shown_jpeg), save=False)
        photo.save(force_insert=True)
        audit.record(
            subject=photo,
            property_id=claim.warranty.system.property_id,
            verb="claim photo kept",
            by=by,
            at=at,
            after={"claim_id": claim.pk, "sha256": photo.original_sha256},
        )
