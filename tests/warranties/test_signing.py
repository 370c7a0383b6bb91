"""The signature itself, read back with another library and by hand, and what each attack does to it."""

import asyncio
import hashlib
import io
import re
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
from asn1crypto import cms, keys, tsp
from asn1crypto import x509 as asn1_x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import Encoding
from pyhanko.sign.timestamps import DummyTimeStamper
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject, TextStringObject
from weasyprint import HTML, Attachment

from contractor.warranties.archive_metadata import accessible_archive
from contractor.warranties.errors import TimestampFailed
from contractor.warranties.signing import (
    HttpTimestamper,
    attached_facts,
    configured_timestamper,
    read_signature,
    sign_file,
)
from contractor.warranties.signing_keys import SigningKey, anchors, import_key, make_key
from tests.warranties.authorities import Authority, der_of

AT = datetime(2026, 5, 4, 14, tzinfo=UTC)
FACTS = b'{"number":"7K3M9QX2C"}'


@pytest.fixture(autouse=True)
def own_key_folder(settings: Any, tmp_path: Path, own_folders: None) -> None:
    settings.SIGNING_KEY_DIR = tmp_path / "keys"


@pytest.fixture
def key() -> SigningKey:
    return make_key(organisation="Harrow Creek Dry Basements LLC", at=AT - timedelta(days=1))


@pytest.fixture(scope="module")
def page() -> bytes:
    """A small page with an attachment, as the certificate is made."""
    moment = AT.isoformat()
    html = f'<html lang="en"><head><title>Page</title><meta name="dcterms.modified" content="{moment}"></head><h1>Page'
    attachment = Attachment(string=FACTS, name="certificate.json", created=AT, modified=AT, relationship="Data")
    made = HTML(string=html).write_pdf(
        pdf_variant="pdf/a-3a",
        pdf_identifier=b"0" * 16,
        attachments=[attachment],
        finisher=accessible_archive(hashlib.sha256(FACTS).hexdigest()),
    )
    return bytes(made)


@pytest.fixture
def signed(page: bytes, key: SigningKey) -> bytes:
    return sign_file(page, key=key, moment=AT)


def seen(content: bytes) -> tuple[bool, bool, bool] | None:
    """Whether intact, whether all is covered, whether ours."""
    read = read_signature(content, anchors=anchors())
    return None if read is None else (read.is_intact, read.covers_all, read.is_ours)


def parts_of(content: bytes) -> tuple[bytes, cms.SignedData]:
    """The bytes that are signed and the signature, found without the library that signed (ISO 32000-1, 12.8.1)."""
    [numbers] = re.findall(rb"/ByteRange \[(\d+) (\d+) (\d+) (\d+)\s*\]", content)
    first, length, second, rest = (int(number) for number in numbers)
    assert (first, second + rest) == (0, len(content))
    placed = content[length:second]
    assert (placed[:1], placed[-1:]) == (b"<", b">")
    return content[:length] + content[second:], cms.ContentInfo.load(bytes.fromhex(placed[1:-1].decode()))["content"]


def test_the_signature_holds_for_another_library(signed: bytes, key: SigningKey) -> None:
    covered, signature = parts_of(signed)
    [signer] = signature["signer_infos"]
    attributes = {one["type"].native: one["values"][0] for one in signer["signed_attrs"]}
    assert attributes["message_digest"].native == hashlib.sha256(covered).digest()
    # RFC 5652, 5.4: the attributes are signed as a SET, whose tag is 0x31.
    said = b"\x31" + signer["signed_attrs"].dump()[1:]
    public_key = key.certificate.public_key()
    assert isinstance(public_key, ec.EllipticCurvePublicKey)
    public_key.verify(signer["signature"].native, said, ec.ECDSA(hashes.SHA256()))


def test_it_is_a_pades_baseline_signature(signed: bytes, key: SigningKey) -> None:
    _, signature = parts_of(signed)
    [signer] = signature["signer_infos"]
    attributes = {one["type"].native: one["values"][0] for one in signer["signed_attrs"]}
    # ETSI EN 319 142-1, 6.3 (from memory): signing-certificate-v2 is asked for, signing-time is not allowed; the time
    # stands in the entry M; the format is ETSI.CAdES.detached.
    named = attributes["signing_certificate_v2"].native["certs"][0]
    assert named["cert_hash"] == hashlib.sha256(key.certificate.public_bytes(Encoding.DER)).digest()
    assert "signing_time" not in attributes
    reader = PdfReader(io.BytesIO(signed))
    root: Any = reader.trailer["/Root"]
    field = root["/AcroForm"]["/Fields"][0].get_object()
    seal = field["/V"].get_object()
    assert (seal["/SubFilter"], seal["/M"][:17]) == ("/ETSI.CAdES.detached", "D:20260504140000Z")
    # ISO 32000-1, 12.8.2.2: a certification that permits no change (P = 1).
    assert root["/Perms"]["/DocMDP"].get_object()["/Reference"][0]["/TransformParams"]["/P"] == 1
    # Invisible: no area on the page (12.7.4.5).
    assert [float(side) for side in field["/Rect"]] == [0, 0, 0, 0]


def test_the_page_is_kept_byte_for_byte_and_the_same_signing_gives_the_same_bytes(
    page: bytes, signed: bytes, key: SigningKey
) -> None:
    assert signed.startswith(page)
    assert sign_file(page, key=key, moment=AT) == signed
    assert sign_file(page, key=key, moment=AT + timedelta(seconds=1)) != signed
    assert attached_facts(signed) == FACTS


def test_signing_works_where_an_event_loop_runs_already(page: bytes, key: SigningKey, signed: bytes) -> None:
    async def inside() -> bytes:
        return sign_file(page, key=key, moment=AT)

    # In a thread of its own: a browser that drove an earlier test leaves its loop running in this one.
    with ThreadPoolExecutor(1) as thread:
        assert thread.submit(lambda: asyncio.run(inside())).result() == signed


def changed(content: bytes, change: Callable[[PdfWriter], None], *, incremental: bool) -> bytes:
    """The file as pypdf writes it after a change, added at its end or written anew."""
    writer = PdfWriter(io.BytesIO(content), incremental=incremental)
    change(writer)
    output = io.BytesIO()
    writer.write(output)
    return output.getvalue()


def another_language(writer: PdfWriter) -> None:
    writer.root_object[NameObject("/Lang")] = TextStringObject("fr")


def one_more_page(writer: PdfWriter) -> None:
    writer.add_blank_page(612, 792)


def test_each_attack_shows(signed: bytes) -> None:
    assert seen(signed) == (True, True, True)
    flipped = bytearray(signed)
    flipped[signed.index(b"<dc:identifier>") + 20] ^= 1
    assert seen(bytes(flipped))[:2] == (False, True)  # type: ignore[index]
    for change in (another_language, one_more_page):
        # Something added behind the signature leaves it intact, and it covers less than the file.
        assert seen(changed(signed, change, incremental=True)) == (True, False, True)
        # Written anew by another tool, the signature is broken (or gone).
        assert (seen(changed(signed, change, incremental=False)) or (False,))[0] is False
    read = read_signature(signed, anchors=[Authority().certificate])
    assert read is not None
    assert (read.is_intact, read.covers_all, read.is_ours, read.is_good) == (True, True, False, False)


def test_a_file_without_a_signature_or_facts_proves_nothing(page: bytes, key: SigningKey) -> None:
    assert read_signature(page, anchors=anchors()) is None
    assert attached_facts(HTML(string="<title>No facts</title>").write_pdf()) == b""
    assert attached_facts(changed(page, lambda writer: writer.add_attachment("b", b"2"), incremental=False)) == b""


def test_what_an_old_key_signed_stays_good_after_rotation_and_after_it_ran_out(
    page: bytes, signed: bytes, key: SigningKey
) -> None:
    later = make_key(organisation="Harrow Creek", at=AT + timedelta(days=400), replaces=True)
    assert seen(signed) == (True, True, True)
    # Nothing here reads the clock: the chain is judged at the time of signing, so the years to come change nothing.
    old = sign_file(page, key=key, moment=AT + timedelta(days=3 * 365 + 30))
    assert seen(old) == (True, True, False)
    newer = read_signature(sign_file(page, key=later, moment=AT + timedelta(days=401)), anchors=anchors())
    assert newer is not None
    assert (newer.is_good, newer.anchor) == (True, later.fingerprint)


def test_a_key_of_an_authority_signs_and_its_other_customers_are_strangers(page: bytes) -> None:
    authority = Authority()
    ours = import_key(content=authority.parcel("Harrow Creek"), passphrase="open sesame", at=AT)
    assert seen(sign_file(page, key=ours, moment=AT)) == (True, True, True)
    their_key = ec.generate_private_key(ec.SECP256R1())
    certificate = authority.issue("Somebody Else", key=their_key)
    theirs = SigningKey(
        private_key=their_key, certificate=certificate, chain=(authority.certificate,), anchor=certificate
    )
    assert seen(sign_file(page, key=theirs, moment=AT)) == (True, True, False)


def plain(certificate: Any) -> asn1_x509.Certificate:
    return asn1_x509.Certificate.load(certificate.public_bytes(Encoding.DER))


@pytest.fixture
def stamp_office() -> DummyTimeStamper:
    """A time-stamp authority: its key must be RSA for this library, its certificate for time stamping alone."""
    own = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    certificate = Authority("Quillbrook Time").issue("Quillbrook Time 1", key=own, use="stamp")
    info = keys.PrivateKeyInfo.load(der_of(own))
    return DummyTimeStamper(plain(certificate), info, fixed_dt=AT + timedelta(seconds=2))


@pytest.fixture
def stamp_address(stamp_office: DummyTimeStamper) -> Iterator[str]:
    """The same authority behind an address on this machine (RFC 3161, 3.4)."""

    class Desk(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            assert self.headers["Content-Type"] == "application/timestamp-query"
            asked = tsp.TimeStampReq.load(self.rfile.read(int(self.headers["Content-Length"])))
            answer = stamp_office.request_tsa_response(asked).dump()
            self.send_response(200)
            self.send_header("Content-Type", "application/timestamp-reply")
            self.send_header("Content-Length", str(len(answer)))
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, *_words: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Desk)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_address[1]}/"
    server.shutdown()
    server.server_close()


def test_a_time_stamp_is_put_in_when_a_service_is_named(
    page: bytes, key: SigningKey, stamp_address: str, settings: Any
) -> None:
    assert configured_timestamper() is None
    settings.TIMESTAMP_ADDRESS = stamp_address
    stamped = sign_file(page, key=key, moment=AT, timestamper=configured_timestamper())
    _, signature = parts_of(stamped)
    [signer] = signature["signer_infos"]
    [attribute] = signer["unsigned_attrs"]
    assert attribute["type"].native == "signature_time_stamp_token"
    stamp = attribute["values"][0]["content"]["encap_content_info"]["content"].parsed
    assert stamp["gen_time"].native == AT + timedelta(seconds=2)
    # RFC 3161 in CMS (RFC 5126, 6.1.1, from memory): what is stamped is the signature's value.
    assert stamp["message_imprint"]["hashed_message"].native == hashlib.sha256(signer["signature"].native).digest()
    assert seen(stamped) == (True, True, True)


@pytest.mark.parametrize("address", ["http://127.0.0.1:9/", "http://nowhere.invalid/"])
def test_a_time_stamp_service_that_is_silent_is_told(page: bytes, key: SigningKey, address: str) -> None:
    with pytest.raises(TimestampFailed, match="Try again"):
        sign_file(page, key=key, moment=AT, timestamper=HttpTimestamper(address))


def test_a_time_stamp_address_is_an_address_of_the_web() -> None:
    with pytest.raises(ValueError, match="TIMESTAMP_ADDRESS"):
        HttpTimestamper("file:///etc/passwd")
