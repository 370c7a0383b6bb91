"""Signs a certificate's file and reads the signature of one: PAdES (ETSI EN 319 142-1), level B-B or B-T.

The signature is invisible, because a visible one breaks PDF/A and PDF/UA; the page says in words that it is sealed.
It certifies the file (ISO 32000-1, 12.8.2.2): nothing may be changed or added after it. Everything in it comes from
the arguments, so the same page, key and moment give the same bytes (ECDSA after RFC 6979); only a time stamp differs.
"""

import asyncio
import hashlib
import urllib.request
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import TypeVar

from asn1crypto import keys as asn1_keys
from asn1crypto import tsp
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from django.conf import settings
from pyhanko.pdf_utils.generic import ArrayObject, ByteStringObject
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.misc import PdfReadError
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.fields import MDPPerm, SigFieldSpec, SigSeedSubFilter
from pyhanko.sign.signers.cms_embedder import PdfCMSEmbedder, SigIOSetup, SigMDPSetup, SigObjSetup
from pyhanko.sign.signers.pdf_byterange import SignatureObject
from pyhanko.sign.signers.pdf_cms import SimpleSigner
from pyhanko.sign.timestamps.api import TimeStamper
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.settings import KeyUsageConstraints
from pyhanko.sign.validation.status import PdfSignatureStatus, SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext
from pyhanko_certvalidator.authority import CertTrustAnchor
from pyhanko_certvalidator.registry import SimpleCertificateStore

from contractor.warranties.errors import TimestampFailed
from contractor.warranties.signing_keys import SigningKey

FIELD = "Seal"
DIGEST = "sha256"
# Hexadecimal digits set aside for the signature: room for a chain of certificates and a time stamp with its own.
SIGNATURE_DIGITS = 32768
TIMESTAMP_SECONDS = 20
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureRead:
    """What the one signature of a file proves.

    ``is_intact``: the signed bytes are unchanged and the signature is right; ``covers_all``: nothing lies outside of
    it; ``forbids_changes``: it certifies the file against any change, and none was made; ``is_ours``: its key stands
    under one of the anchors given, whose SHA-256 is ``anchor``. ``claimed_at`` is the time of signing as the signer
    says. ``has_broken_stamp``: a time stamp is there that is not of this signature; ``stamped_at`` is the time of one
    that is. Whose stamp it is isn't asked: the register keeps its own time, and a stamp can only make it later.
    """

    is_intact: bool
    covers_all: bool
    forbids_changes: bool
    is_ours: bool
    has_broken_stamp: bool = False
    anchor: str = ""
    claimed_at: datetime | None = None
    stamped_at: datetime | None = None

    @property
    def is_good(self) -> bool:
        """All four, and no time stamp that was put in from elsewhere."""
        holds = self.is_intact and self.covers_all and self.forbids_changes and self.is_ours
        return holds and not self.has_broken_stamp


def sign_file(body: bytes, *, key: SigningKey, moment: datetime, timestamper: TimeStamper | None = None) -> bytes:
    """The file with a signature added behind its bytes; ``moment`` is the claimed time of signing.

    Raises TimestampFailed when the time-stamp service gives no usable answer.
    """
    return _apart(lambda: _sign(body, key, moment, timestamper))


def read_signature(content: bytes, *, anchors: Sequence[x509.Certificate]) -> SignatureRead | None:
    """What the signature of a file proves, or None for a file without exactly one that can be read.

    Only for files whose bytes are known from the register: a reader of PDFs is no place for a stranger's file.
    """
    try:
        return _apart(lambda: _read(content, [_plain(one) for one in anchors]))
    except (PdfReadError, ValueError):
        # The library's own refusals of a signature are ValueErrors, as are those of its reader of ASN.1.
        return None


def attached_facts(content: bytes) -> bytes:
    """The one file attached to a certificate's file, whose bytes are known from the register; empty without one."""
    root = PdfFileReader(BytesIO(content)).root
    try:
        # Names and files in turns (ISO 32000-1, 7.9.6).
        [_name, file] = root["/Names"]["/EmbeddedFiles"]["/Names"]
    except (KeyError, ValueError):
        return b""
    return bytes(file.get_object()["/EF"]["/F"].data)


def configured_timestamper() -> TimeStamper | None:
    """The time-stamp service that the settings name."""
    return HttpTimestamper(settings.TIMESTAMP_ADDRESS) if settings.TIMESTAMP_ADDRESS else None


class HttpTimestamper(TimeStamper):
    """Asks a time-stamp service over HTTP (RFC 3161, 3.4)."""

    def __init__(self, address: str) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        if not address.startswith(("https://", "http://")):
            raise ValueError(f"TIMESTAMP_ADDRESS must begin with https:// or http://, not {address!r}.")
        self.address = address

    async def async_request_tsa_response(self, req: tsp.TimeStampReq) -> tsp.TimeStampResp:
        """The service's answer to one request."""
        asked = urllib.request.Request(  # noqa: S310  # the scheme was looked at above
            self.address, data=req.dump(), headers={"Content-Type": "application/timestamp-query"}
        )
        with urllib.request.urlopen(asked, timeout=TIMESTAMP_SECONDS) as answer:  # noqa: S310
            return tsp.TimeStampResp.load(answer.read())


class _RepeatableWriter(IncrementalPdfFileWriter):
    """Adds to a file without touching its dates, and names the result after the file instead of by chance."""

    @classmethod
    def _handle_id(cls, prev: PdfFileReader) -> ArrayObject:
        first = ByteStringObject(prev.trailer["/ID"][0].original_bytes)
        return ArrayObject([first, first])

    def _update_meta(self) -> None:
        """The metadata are those of the page; its dates are the day of issue."""


class _RepeatableSigner(SimpleSigner):
    """Signs with the chance-free form of ECDSA (RFC 6979); RSA as it is here has no chance in it."""

    def __init__(self, key: SigningKey) -> None:
        self.own_key = key.private_key
        content = key.private_key.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
        store = SimpleCertificateStore()  # type: ignore[no-untyped-call]
        store.register_multiple([_plain(one) for one in key.chain])
        super().__init__(
            signing_cert=_plain(key.certificate),
            signing_key=asn1_keys.PrivateKeyInfo.load(content),
            cert_registry=store,
        )

    def sign_raw(self, data: bytes, digest_algorithm: str) -> bytes:
        if isinstance(self.own_key, ec.EllipticCurvePrivateKey):
            return self.own_key.sign(data, ec.ECDSA(hashes.SHA256(), deterministic_signing=True))
        return bytes(super().sign_raw(data, digest_algorithm))


def _sign(body: bytes, key: SigningKey, moment: datetime, timestamper: TimeStamper | None) -> bytes:
    writer = _RepeatableWriter(BytesIO(body))
    steps = PdfCMSEmbedder(new_field_spec=SigFieldSpec(FIELD)).write_cms(field_name=FIELD, writer=writer)
    next(steps)
    place = SignatureObject(timestamp=moment, subfilter=SigSeedSubFilter.PADES, bytes_reserved=SIGNATURE_DIGITS)
    certify = SigMDPSetup(md_algorithm=DIGEST, certify=True, docmdp_perms=MDPPerm.NO_CHANGES)
    steps.send(SigObjSetup(sig_placeholder=place, mdp_setup=certify))
    prepared, output = steps.send(SigIOSetup(md_algorithm=DIGEST))
    signature = _RepeatableSigner(key).async_sign(
        prepared.document_digest, digest_algorithm=DIGEST, use_pades=True, timestamper=timestamper
    )
    try:
        steps.send(asyncio.run(signature))
    except Exception as problem:
        if timestamper is None:
            raise
        raise TimestampFailed from problem
    return bytes(output.getvalue())


def _read(content: bytes, anchors: list[asn1_x509.Certificate]) -> SignatureRead | None:
    found = PdfFileReader(BytesIO(content)).embedded_signatures
    if len(found) != 1:
        return None
    [signature] = found
    # A key's certificate runs out while what it signed stays good, so the chain is judged at the time of signing. That
    # time is the signer's own claim; from when on a key that leaked is not believed is judged by whoever asks.
    context = ValidationContext(
        trust_roots=anchors, allow_fetching=False, moment=signature.self_reported_timestamp, best_signature_time=None
    )
    use = KeyUsageConstraints(key_usage={"digital_signature", "non_repudiation"}, match_all_key_usages=False)
    status = validate_pdf_signature(signature, signer_validation_context=context, key_usage_settings=use)
    stamp = status.timestamp_validity
    is_stamped = stamp is not None and bool(stamp.intact and stamp.valid)
    return SignatureRead(
        is_intact=bool(status.intact and status.valid),
        covers_all=status.coverage is SignatureCoverageLevel.ENTIRE_FILE,
        forbids_changes=bool(signature.docmdp_level is MDPPerm.NO_CHANGES and status.docmdp_ok),
        is_ours=bool(status.trusted),
        has_broken_stamp=stamp is not None and not is_stamped,
        anchor=_anchor(status) if status.trusted else "",
        claimed_at=signature.self_reported_timestamp,
        stamped_at=stamp.timestamp if stamp is not None and is_stamped else None,
    )


def _anchor(status: PdfSignatureStatus) -> str:
    path = status.validation_path
    if path is None or not isinstance(path.trust_anchor, CertTrustAnchor):
        return ""
    return hashlib.sha256(path.trust_anchor.certificate.dump()).hexdigest()


def _plain(certificate: x509.Certificate) -> asn1_x509.Certificate:
    return asn1_x509.Certificate.load(certificate.public_bytes(Encoding.DER))


def _apart(work: Callable[[], T]) -> T:
    """Does it in a thread of its own: the library runs an event loop, and the caller's thread may have one already."""
    with ThreadPoolExecutor(max_workers=1) as worker:
        return worker.submit(work).result()
