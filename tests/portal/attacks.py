"""What somebody may do to the file of a certificate, one function for each attack; the table is in test_attacks.py.

From the literature on signed PDFs, from memory: Mladenov and others, "1 Trillion Dollar Refund: How To Spoof PDF
Signatures" (ACM CCS 2019: universal forgery, incremental saving, wrapping); Mainka and others, "Shadow Attacks" (NDSS
2021: hide, replace); Rohlmann and others, "Breaking the Specification: PDF Certification" (IEEE S&P 2021: annotations
and signatures added to certified files).
"""

import io
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from asn1crypto import cms, keys
from asn1crypto import x509 as asn1_x509
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import Encoding
from django.test import override_settings
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import PdfSignatureMetadata, PdfSigner, PdfTimeStamper
from pyhanko.sign.timestamps import DummyTimeStamper
from pypdf import PdfReader, PdfWriter
from pypdf.annotations import FreeText
from pypdf.generic import DictionaryObject, IndirectObject, NameObject, TextStringObject

from contractor.warranties.frozen_facts import freeze
from contractor.warranties.models import Certificate
from contractor.warranties.signing import _RepeatableSigner, sign_file
from contractor.warranties.signing_keys import SigningKey, make_key, stored_key
from tests.portal.test_check_upload import (
    plain_page,
    rewritten,
)
from tests.warranties.authorities import Authority, der_of


class Case(NamedTuple):
    """What an attacker has: a file, its certificate, another file of ours, a folder for keys, the moment of issue."""

    file: bytes
    certificate: Certificate
    other: bytes
    folder: Path
    at: datetime


# What is done in place, byte for byte.


def untouched(case: Case) -> bytes:
    return case.file


def one_bit(case: Case) -> bytes:
    changed = bytearray(case.file)
    changed[case.file.index(b"<dc:identifier>") + 40] ^= 1
    return bytes(changed)


def capitals_in_the_signature(case: Case) -> bytes:
    """Hexadecimal digits in capitals say the same; only the hash of the whole file tells."""
    start, end = region_of(case.file, "signature")
    return case.file[:start] + case.file[start:end].swapcase() + case.file[end:]


def padding_written_on(case: Case) -> bytes:
    """The digits set aside behind the signature are outside of every digest."""
    _, end = region_of(case.file, "padding of the signature")
    return case.file[: end - 8] + b"deadbeef" + case.file[end:]


def signature_of_another(case: Case) -> bytes:
    """Splicing: the signature of another certificate of ours."""
    start, end = contents_of(case.file)
    there, over = contents_of(case.other)
    assert over - there == end - start
    return case.file[:start] + case.other[there:over] + case.file[end:]


def number_of_another(case: Case) -> bytes:
    """The number on the page is overwritten by one of the same length."""
    title = b"Certificate"
    assert title in case.file
    return case.file.replace(title, b"Certifikate")


# What is added behind the end: incremental updates of every kind.


def added(change: Callable[[PdfWriter], None]) -> Callable[[Case], bytes]:
    def attack(case: Case) -> bytes:
        return rewritten(case.file, change, incremental=True)

    attack.__name__ = f"added: {change.__name__}"
    return attack


def a_note_over_the_page(writer: PdfWriter) -> None:
    """Evil annotation: words that cover what was signed."""
    note = FreeText(text="In force for ever", rect=(0, 0, 600, 700), background_color="ffffff")
    writer.add_annotation(0, note)


def a_form_field(writer: PdfWriter) -> None:
    box = {"/FT": "/Tx", "/T": "(n)", "/Type": "/Annot", "/Subtype": "/Widget"}
    made = DictionaryObject({NameObject(name): NameObject(value) for name, value in box.items() if name != "/T"})
    made[NameObject("/T")] = TextStringObject("Owner")
    writer.root_object["/AcroForm"]["/Fields"].append(writer._add_object(made))  # type: ignore[index]


def a_script(writer: PdfWriter) -> None:
    script = {"/S": NameObject("/JavaScript"), "/JS": TextStringObject("app.alert('In force');")}
    writer.root_object[NameObject("/OpenAction")] = DictionaryObject(
        {NameObject(name): value for name, value in script.items()}
    )


def another_title(writer: PdfWriter) -> None:
    writer.add_metadata({"/Title": "Certificate of full warranty"})


def swapped_attachment(writer: PdfWriter) -> None:
    """Other facts under the same name, in the place of ours."""
    names: Any = writer.root_object["/Names"]
    [_name, file] = names["/EmbeddedFiles"]["/Names"]
    file.get_object()["/EF"]["/F"].get_object().set_data(b'{"owner":"Mallory"}')


def shadow_page(writer: PdfWriter) -> None:
    """Replace: the page tree is pointed at a page that was hidden in the file."""
    blank = PdfWriter()
    blank.add_blank_page(612, 792)
    hidden = writer._add_object(blank.pages[0].clone(writer))
    writer.root_object["/Pages"]["/Kids"][0] = hidden  # type: ignore[index]


def a_signature_of_their_own(case: Case) -> bytes:
    """Sneaky signature: a stranger signs what we certified once more."""
    signer = PdfSigner(PdfSignatureMetadata(field_name="Mine"), signer=_RepeatableSigner(stranger(case, "Mallory")))
    return signed_again(case.file, signer)


def our_own_signature_again(case: Case) -> bytes:
    """The same by our own key, as a thief of the key would: the register has no such file."""
    signer = PdfSigner(PdfSignatureMetadata(field_name="Mine"), signer=_RepeatableSigner(our_key()))
    return signed_again(case.file, signer)


def a_time_stamp_of_the_document(case: Case) -> bytes:
    """ISO 32000-2, 12.8.2.2.2 (from memory): time stamps may be added to any certified file; ours is still another."""
    writer = IncrementalPdfFileWriter(io.BytesIO(case.file))
    return bytes(PdfTimeStamper(stamper(case.at)).timestamp_pdf(writer, "sha256").getvalue())


# What another tool or another key makes of it.


def anew(change: Callable[[PdfWriter], None]) -> Callable[[Case], bytes]:
    def attack(case: Case) -> bytes:
        return rewritten(case.file, change, incremental=False)

    attack.__name__ = f"written anew: {change.__name__}"
    return attack


def right_facts_by_a_stranger(case: Case) -> bytes:
    return sign_file(page(case.certificate.facts), key=stranger(case, "Harrow Creek Dry Basements LLC"), moment=case.at)


def another_installation(case: Case) -> bytes:
    """A certificate that another contractor's site issued, under a number that is also one of ours."""
    facts = {**case.certificate.facts, "company": {"name": "Quillbrook"}, "owner": {"name": "A", "since": "2026-01-01"}}
    return sign_file(page(facts), key=stranger(case, "Quillbrook Basements"), moment=case.at)


def another_customer_of_an_authority(case: Case) -> bytes:
    authority, key = Authority(), ec.generate_private_key(ec.SECP256R1())
    certificate = authority.issue("Harrow Creek Dry Basements LLC", key=key)
    theirs = SigningKey(
        private_key=key, certificate=certificate, chain=(authority.certificate,), anchor=authority.certificate
    )
    return sign_file(page({**case.certificate.facts, "owner": {"name": "Mallory"}}), key=theirs, moment=case.at)


def other_facts_by_our_own_key(case: Case) -> bytes:
    """What a thief of the key makes: every rule of the signature holds, and still the register has no such file."""
    return sign_file(page({**case.certificate.facts, "owner": {"name": "Mallory"}}), key=our_key(), moment=signed_at())


def unsigned(case: Case) -> bytes:
    return page(case.certificate.facts)


def in_place(change: Callable[[bytes], bytes]) -> Callable[[Case], bytes]:
    def attack(case: Case) -> bytes:
        return change(case.file)

    attack.__name__ = change.__name__
    return attack



def page(facts: dict[str, Any]) -> bytes:
    return plain_page(freeze(facts), facts)



def our_key() -> SigningKey:
    key = stored_key()
    assert key is not None
    return key


def signed_at() -> datetime:
    """The first moment of our key."""
    return our_key().certificate.not_valid_before_utc


def stranger(case: Case, name: str) -> SigningKey:
    with override_settings(SIGNING_KEY_DIR=case.folder / str(len(list(case.folder.iterdir())))):
        return make_key(organisation=name, at=case.at)


def signed_again(file: bytes, signer: PdfSigner) -> bytes:
    output = io.BytesIO()
    writer = IncrementalPdfFileWriter(io.BytesIO(file))
    with forced_through():
        signer.sign_pdf(writer, output=output)
    return output.getvalue()


@contextmanager
def forced_through() -> Iterator[None]:
    """The library refuses to sign what is certified against changes; an attacker's tool doesn't."""
    asked = PdfSigner._enforce_certification_constraints
    PdfSigner._enforce_certification_constraints = lambda *_: None  # type: ignore[method-assign]
    try:
        yield
    finally:
        PdfSigner._enforce_certification_constraints = asked  # type: ignore[method-assign]


def stamper(moment: datetime) -> DummyTimeStamper:
    own = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    certificate = Authority("Quillbrook Time").issue("Quillbrook Time 1", key=own, use="stamp")
    plain = asn1_x509.Certificate.load(certificate.public_bytes(Encoding.DER))
    return DummyTimeStamper(plain, keys.PrivateKeyInfo.load(der_of(own)), fixed_dt=moment)


def contents_of(file: bytes) -> tuple[int, int]:
    """Where the digits of the signature stand, their padding included."""
    [numbers] = re.findall(rb"/ByteRange \[0 (\d+) (\d+) \d+\s*\]", file)
    return int(numbers[0]) + 1, int(numbers[1]) - 1


def with_stamp_of(file: bytes, other: bytes) -> bytes:
    """The file with its signature's time stamp replaced by that of another file's signature."""
    start, end = contents_of(file)
    there, over = contents_of(other)
    own = cms.ContentInfo.load(bytes.fromhex(file[start:end].decode()))
    theirs = cms.ContentInfo.load(bytes.fromhex(other[there:over].decode()))
    own["content"]["signer_infos"][0]["unsigned_attrs"] = theirs["content"]["signer_infos"][0]["unsigned_attrs"]
    digits = own.dump(force=True).hex().encode()
    return file[:start] + digits.ljust(end - start, b"0") + file[end:]


def region_of(file: bytes, name: str) -> tuple[int, int]:
    """Where a region of the file begins and ends (ISO 32000-1, 7.5: header, body, table, trailer)."""
    body = file.index(b" obj")
    body = file.rindex(b"\n", 0, body) + 1
    [embedded] = re.finditer(rb"/EmbeddedFile\b", file)
    attached = file.index(b"stream", embedded.end()), file.index(b"endstream", embedded.end())
    first_end = file.index(b"%%EOF") + len(b"%%EOF")
    start, end = contents_of(file)
    length = len(cms.ContentInfo.load(bytes.fromhex(file[start:end].decode())).dump()) * 2
    return {
        "header": (0, body),
        "page and objects": (body, start - 1),
        "attachment": attached,
        "first table": (first_end - 400, first_end),
        "signature": (start, start + length),
        "padding of the signature": (start + length, end),
        "second table": (end + 1, file.rindex(b"startxref")),
        "end": (file.rindex(b"startxref"), len(file)),
    }[name]


def reachable(reader: PdfReader) -> set[int]:
    """The numbers of all objects that the trailer leads to."""
    found: set[int] = set()
    waiting: list[Any] = [reader.trailer.raw_get(name) for name in ("/Root", "/Info") if name in reader.trailer]
    while waiting:
        one = waiting.pop()
        if isinstance(one, IndirectObject):
            if one.idnum not in found:
                found.add(one.idnum)
                waiting.append(reader.get_object(one))
        elif isinstance(one, DictionaryObject):
            waiting.extend(one.raw_get(name) for name in one)
        elif isinstance(one, list):
            waiting.extend(list.__iter__(one))
    return found
