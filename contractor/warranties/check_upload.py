"""Is this file one of our certificates? What the check page answers to the PDF itself.

A file is known by the SHA-256 that the register keeps of it, so that one changed byte anywhere shows. The register
doesn't vouch for itself: the signature, whose key lies outside of it, and the facts attached must fit as well. Any
other file is only looked through for traces of a certificate, never opened: it may be made to harm its reader.
"""

import hashlib
import re
from dataclasses import dataclass
from datetime import date
from typing import Literal

from contractor.core import clock
from contractor.warranties.archive_metadata import facts_identifier
from contractor.warranties.frozen_facts import fingerprint, freeze
from contractor.warranties.models import Certificate
from contractor.warranties.numbers import display_number
from contractor.warranties.queries import CertificateCheck, check_by_token
from contractor.warranties.signing import SignatureRead, attached_facts, read_signature
from contractor.warranties.signing_keys import anchors, distrusted

# A certificate is a tenth of this.
LARGEST_BYTES = 5 * 1024 * 1024
# Readers look for the header in the first 1,024 bytes (common practice of PDF readers, from memory).
HEADER_WITHIN = 1024
# More traces than any honest file has are not followed up.
MOST_TRACES = 16
_IDENTIFIER = re.compile(re.escape(facts_identifier("").encode()) + rb"([0-9a-f]{64})")
_FILE_ID = re.compile(rb"/ID\s*\[\s*<([0-9a-fA-F]{32})>")
_SIGNED_RANGE = re.compile(rb"/ByteRange\s*\[\s*(\d{1,9})\s+(\d{1,9})\s+(\d{1,9})\s+(\d{1,9})\s*\]")
_ENCRYPTED = re.compile(rb"/Encrypt\s+\d+\s+\d+\s+R|/Encrypt\s*<<")

Trouble = Literal["", "added_to", "altered", "unproven", "distrusted", "locked", "not_pdf", "foreign", "unsigned"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileCheck:
    """The answer: either ``check`` (the certificate is ours, with its standing today) or a ``trouble``.

    ``number`` is the certificate that a changed file was made from; ``signed_under`` the start of the fingerprint of
    the root that a good signature stands under; ``untrusted_from_on`` the day from which on its key is not trusted.
    """

    trouble: Trouble = ""
    check: CertificateCheck | None = None
    number: str = ""
    signed_under: str = ""
    untrusted_from_on: date | None = None

    @property
    def is_known(self) -> bool:
        """Whether the file is, byte for byte, one that we issued and signed."""
        return self.check is not None


def check_file(content: bytes, *, on: date) -> FileCheck:
    """Whether a file is one of our certificates, unchanged, and how its warranty stands on a day."""
    certificate = _issued_as(content)
    if certificate is None:
        return _trouble_with(content)
    signature = read_signature(content, anchors=anchors())
    proven = signature is not None and signature.is_good and _facts_fit(certificate, content)
    if signature is None or not proven:
        return FileCheck(trouble="unproven", number=display_number(certificate.number))
    untrusted_from_on = distrusted().get(signature.anchor)
    if untrusted_from_on is not None and not _was_before(certificate, signature, untrusted_from_on):
        number = display_number(certificate.number)
        return FileCheck(trouble="distrusted", number=number, untrusted_from_on=untrusted_from_on)
    check = check_by_token(certificate.token, on=on)
    return FileCheck(
        check=check,
        number=check.number,
        signed_under=fingerprint(signature.anchor),
        untrusted_from_on=untrusted_from_on,
    )


def signed_since(fingerprint_of_key: str, *, from_on: date) -> list[str]:
    """The certificates that speak for a house now and were signed with a key, and not before ``from_on``."""
    numbers = []
    speaking = Certificate.objects.exclude(file="").filter(revoked_at__isnull=True, superseded_by__isnull=True)
    for certificate in speaking.order_by("number"):
        with certificate.file.open("rb") as file:
            signature = read_signature(file.read(), anchors=anchors())
        is_its = signature is not None and signature.anchor == fingerprint_of_key
        if signature is not None and is_its and not _was_before(certificate, signature, from_on):
            numbers.append(display_number(certificate.number))
    return numbers


def _was_before(certificate: Certificate, signature: SignatureRead, on: date) -> bool:
    """Whether register, signature and time stamp all say a day before: a thief can claim any day, but not in ours."""
    if signature.claimed_at is None:
        return False
    moments = (certificate.issued_at, signature.claimed_at, signature.stamped_at)
    return max(clock.day_of(one) for one in moments if one is not None) < on


def _issued_as(content: bytes) -> Certificate | None:
    return Certificate.objects.filter(file_sha256=hashlib.sha256(content).hexdigest()).first()


def _facts_fit(certificate: Certificate, content: bytes) -> bool:
    """Whether the facts attached, those in the register and the hash of the day of issue are the same."""
    attached = hashlib.sha256(attached_facts(content)).hexdigest()
    return attached == certificate.facts_sha256 == freeze(certificate.facts).sha256


def _trouble_with(content: bytes) -> FileCheck:
    """Why a file isn't one of ours as it was issued."""
    within = _original_within(content)
    if within is not None:
        return FileCheck(trouble="added_to", number=display_number(within.number))
    if _ENCRYPTED.search(content):
        return FileCheck(trouble="locked")
    claimed = _claimed(content)
    if claimed is not None:
        return FileCheck(trouble="altered", number=display_number(claimed.number))
    if b"%PDF-" not in content[:HEADER_WITHIN]:
        return FileCheck(trouble="not_pdf")
    return FileCheck(trouble="foreign" if _SIGNED_RANGE.search(content) else "unsigned")


def _original_within(content: bytes) -> Certificate | None:
    """The certificate that the file begins with, unchanged, when something was only added behind it."""
    for _, found in zip(range(MOST_TRACES), _SIGNED_RANGE.finditer(content), strict=False):
        end = int(found[3]) + int(found[4])
        if 0 < end < len(content):
            certificate = _issued_as(content[:end])
            if certificate is not None:
                return certificate
    return None


def _claimed(content: bytes) -> Certificate | None:
    """The certificate that the file was made from, by the hash of its facts as the file names them.

    Nobody knows that hash who hasn't had the file, so the answer tells a stranger nothing.
    """
    for _, named in zip(range(MOST_TRACES), _IDENTIFIER.finditer(content), strict=False):
        found = Certificate.objects.filter(facts_sha256=named[1].decode()).first()
        if found is not None:
            return found
    for _, named in zip(range(MOST_TRACES), _FILE_ID.finditer(content), strict=False):
        found = Certificate.objects.filter(facts_sha256__startswith=named[1].decode().lower()).first()
        if found is not None:
            return found
    return None
