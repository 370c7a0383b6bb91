"""The company's signing keys: files in a folder of their own, never in the database and never in the repository.

``current.pem`` holds the private key, its certificate and the certificates above it; ``roots/`` holds, for every key
that ever signed here, the certificate by which its signatures are still known; ``distrusted/`` names, for a key that
leaked, the day from which on nothing that it signed is believed. A key made here comes with a root of its
own, whose private key is thrown away as soon as it has signed: nothing else can ever be issued under it. For a
key issued by a certificate authority the anchor is the company's own certificate, not the authority's root, under
which strangers have certificates too.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import cast

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
    pkcs12,
)
from cryptography.x509.oid import NameOID
from django.conf import settings

from contractor.warranties.distrust_errors import DistrustedFromAhead, SigningKeyDistrusted, SigningKeyUnknown
from contractor.warranties.errors import (
    KeyUnreadable,
    NoSigningKey,
    SigningKeyExpired,
    SigningKeyThere,
    SigningKeyUnfit,
)

SigningPrivateKey = ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey
DEVELOPMENT = "DEVELOPMENT"
# Certificates outlive the key that signed them: the root states how long, and rotating is a yearly habit
# (common practice, no source).
ROOT_YEARS = 40
KEY_YEARS = 3
DAYS_OF_WARNING = 60
# Of a fingerprint that somebody types: the sixteen digits that are shown first.
FEWEST_DIGITS = 16
_YEAR = timedelta(days=365)
# A clock that runs a little behind must not find a key from the future.
_CLOCK_SLACK = timedelta(minutes=5)
_KEY_USE = {
    "digital_signature": True,
    "content_commitment": True,
    "key_encipherment": False,
    "data_encipherment": False,
    "key_agreement": False,
    "key_cert_sign": False,
    "crl_sign": False,
    "encipher_only": False,
    "decipher_only": False,
}
_ROOT_USE = {**_KEY_USE, "digital_signature": False, "content_commitment": False, "key_cert_sign": True}


@dataclass(frozen=True, slots=True, kw_only=True)
class SigningKey:
    """A private key (elliptic curve or RSA), its certificate, and the certificates above it, nearest first.

    ``anchor`` is the certificate by which its signatures are known.
    """

    private_key: SigningPrivateKey = field(compare=False, repr=False)
    certificate: x509.Certificate
    chain: tuple[x509.Certificate, ...]
    anchor: x509.Certificate

    @property
    def is_development(self) -> bool:
        """Whether it was made for trying out and must sign nothing real."""
        return any(
            str(one.value).startswith(DEVELOPMENT)
            for one in self.certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)
        )

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the anchor, in hexadecimal."""
        return fingerprint_of(self.anchor)


def fingerprint_of(certificate: x509.Certificate) -> str:
    """SHA-256 of a certificate, in lower-case hexadecimal."""
    return certificate.fingerprint(hashes.SHA256()).hex()


def current_key(*, organisation: str, at: datetime) -> SigningKey:
    """The key that signs at this moment; in development one is made when there is none yet.

    Raises NoSigningKey (none, or only a development key where real certificates are signed), SigningKeyExpired,
    SigningKeyDistrusted or KeyUnreadable.
    """
    key = stored_key()
    if settings.DEBUG and (key is None or (key.is_development and _is_over(key, at))):
        key = make_key(organisation=organisation, at=at, is_development=True, replaces=key is not None)
    if key is None or (key.is_development and not settings.DEBUG):
        raise NoSigningKey
    if _is_over(key, at):
        raise SigningKeyExpired(key.certificate.not_valid_after_utc.date())
    if key.fingerprint in distrusted():
        raise SigningKeyDistrusted
    return key


def stored_key() -> SigningKey | None:
    """The key in the folder, whatever its state, or None. Raises KeyUnreadable."""
    try:
        content = _current().read_bytes()
    except FileNotFoundError:
        return None
    except OSError as problem:
        raise KeyUnreadable(problem.strerror or "it can't be opened") from problem
    try:
        certificate, *chain = x509.load_pem_x509_certificates(content)
        private_key = cast("SigningPrivateKey", load_pem_private_key(content, password=None))
    except (ValueError, TypeError) as problem:
        raise KeyUnreadable("it holds no key with its certificate") from problem
    known = anchors()
    anchor = next((one for one in chain if one in known), certificate)
    return SigningKey(private_key=private_key, certificate=certificate, chain=tuple(chain), anchor=anchor)


def make_key(*, organisation: str, at: datetime, is_development: bool = False, replaces: bool = False) -> SigningKey:
    """Makes a new root and a key under it, and makes that the one that signs.

    ``replaces`` puts it in the place of the present key, whose root stays among the roots; otherwise a key that is
    there already is an error: SigningKeyThere.
    """
    root_key, private_key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    mark = f"{DEVELOPMENT}, nothing real: " if is_development else ""
    root_name = _name(organisation, f"{mark}root of warranty certificates")
    own_name = _name(organisation, f"{mark}warranty certificates")
    begins = at - _CLOCK_SLACK
    root = (
        _builder(root_name, root_name, root_key.public_key(), begins, ROOT_YEARS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.KeyUsage(**_ROOT_USE), critical=True)
        .sign(root_key, hashes.SHA256())
    )
    certificate = (
        _builder(own_name, root_name, private_key.public_key(), begins, KEY_YEARS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.KeyUsage(**_KEY_USE), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(root_key.public_key()), critical=False)
        .sign(root_key, hashes.SHA256())
    )
    key = SigningKey(private_key=private_key, certificate=certificate, chain=(root,), anchor=root)
    return _keep(key, replaces=replaces)


def import_key(*, content: bytes, passphrase: str, at: datetime) -> SigningKey:
    """Takes a key from a PKCS#12 file, as a certificate authority issues it, and makes it the one that signs.

    Raises KeyUnreadable (wrong passphrase, no PKCS#12), SigningKeyUnfit or SigningKeyExpired.
    """
    try:
        private_key, certificate, above = pkcs12.load_key_and_certificates(content, passphrase.encode() or None)
    except ValueError as problem:
        raise KeyUnreadable("it is no PKCS#12 file, or the passphrase is another one") from problem
    if certificate is None or not isinstance(private_key, ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey):
        raise SigningKeyUnfit("It must hold one key, elliptic-curve or RSA, with its certificate.")
    chain = _in_order(certificate, above)
    key = SigningKey(private_key=private_key, certificate=certificate, chain=chain, anchor=certificate)
    if not _may_sign(certificate):
        raise SigningKeyUnfit("Its certificate isn't meant for signatures; ask for one to sign documents.")
    if _is_over(key, at):
        raise SigningKeyExpired(certificate.not_valid_after_utc.date())
    return _keep(key, replaces=True)


def anchors() -> list[x509.Certificate]:
    """Every certificate by which a signature is known as this installation's, past keys included."""
    return [x509.load_pem_x509_certificate(path.read_bytes()) for path in sorted(_roots().glob("*.pem"))]


def distrusted() -> dict[str, date]:
    """The fingerprints of the keys that leaked, each with the day from which on it is not trusted.

    A day that can't be read means from the very beginning: when in doubt a leaked key is not believed.
    """
    days: dict[str, date] = {}
    for path in _distrusted().glob("*.day"):
        try:
            days[path.stem] = date.fromisoformat(path.read_text(encoding="ascii").strip())
        except ValueError:
            days[path.stem] = date.min
    return days


def distrust_key(*, fingerprint: str, from_on: date, today: date) -> str:
    """Writes down that a key leaked, and returns its whole fingerprint; said again, the later word counts.

    ``fingerprint`` may be its beginning, as it is shown. Its root stays among the roots, because what it signed before
    that day stays good. Raises SigningKeyUnknown or DistrustedFromAhead.
    """
    asked = "".join(fingerprint.split()).lower()
    found = [one for one in map(fingerprint_of, anchors()) if one.startswith(asked)]
    if len(asked) < FEWEST_DIGITS or len(found) != 1:
        raise SigningKeyUnknown(fingerprint)
    if from_on > today:
        raise DistrustedFromAhead
    _distrusted().mkdir(parents=True, exist_ok=True, mode=0o700)
    _write(_distrusted() / f"{found[0]}.day", from_on.isoformat().encode(), replaces=True)
    return found[0]


def is_open_to_others() -> bool:
    """Whether other accounts of the machine may read the private key."""
    return bool(_current().stat().st_mode & 0o077)


def _keep(key: SigningKey, *, replaces: bool) -> SigningKey:
    """Writes the anchor, then the key, each at one stroke: a signature is never made that can't be known again."""
    _roots().mkdir(parents=True, exist_ok=True, mode=0o700)
    _write(_roots() / f"{key.fingerprint}.pem", key.anchor.public_bytes(Encoding.PEM), replaces=True)
    content = key.private_key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    content += b"".join(one.public_bytes(Encoding.PEM) for one in (key.certificate, *key.chain))
    try:
        _write(_current(), content, replaces=replaces)
    except FileExistsError as problem:
        (_roots() / f"{key.fingerprint}.pem").unlink()
        there = stored_key() if key.is_development else None
        if there is None:
            raise SigningKeyThere from problem
        # Two processes of a fresh development site began at once: the first one's key counts for both.
        return there
    return key


def _write(path: Path, content: bytes, *, replaces: bool) -> None:
    """Writes a file that only this account may read; FileExistsError when it is there and must not be replaced."""
    begun = path.with_name(f".{path.name}.{os.getpid()}.{os.urandom(4).hex()}")
    handle = os.open(begun, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if replaces:
            begun.replace(path)
        else:
            path.hardlink_to(begun)
    finally:
        begun.unlink(missing_ok=True)


def _name(organisation: str, common_name: str) -> x509.Name:
    # X.520 allows 64 characters for each.
    words = [(NameOID.ORGANIZATION_NAME, organisation), (NameOID.COMMON_NAME, common_name)]
    return x509.Name([x509.NameAttribute(kind, word[:64]) for kind, word in words if word])


def _builder(
    subject: x509.Name, issuer: x509.Name, public_key: ec.EllipticCurvePublicKey, begins: datetime, years: int
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public_key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + years * _YEAR)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public_key), critical=False)
    )


def _in_order(certificate: x509.Certificate, above: Sequence[x509.Certificate]) -> tuple[x509.Certificate, ...]:
    """The certificates above one, each the issuer of the one before it; others are left out."""
    chain: list[x509.Certificate] = []
    below = certificate
    while below.issuer != below.subject:
        issuer = next((one for one in above if one.subject == below.issuer and one not in chain), None)
        if issuer is None:
            break
        chain.append(issuer)
        below = issuer
    return tuple(chain)


def _may_sign(certificate: x509.Certificate) -> bool:
    try:
        use = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    except x509.ExtensionNotFound:
        return True
    return use.digital_signature or use.content_commitment


def _is_over(key: SigningKey, at: datetime) -> bool:
    return at > key.certificate.not_valid_after_utc


def _folder() -> Path:
    return Path(settings.SIGNING_KEY_DIR)


def _current() -> Path:
    return _folder() / "current.pem"


def _roots() -> Path:
    return _folder() / "roots"


def _distrusted() -> Path:
    return _folder() / "distrusted"
