"""Certificate authorities and time-stamp authorities of the tests, made with the library cryptography alone."""

from datetime import UTC, datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    pkcs12,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

BEGINS, ENDS = datetime(2026, 1, 1, tzinfo=UTC), datetime(2028, 1, 1, tzinfo=UTC)
PrivateKey = ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey


class Authority:
    """A certificate authority that issues certificates to whoever the test wants."""

    def __init__(self, name: str = "Quillbrook Certificates") -> None:
        self.key = ec.generate_private_key(ec.SECP256R1())
        self.name = _name(name)
        self.certificate = (
            _builder(self.name, self.name, self.key, BEGINS, ENDS)
            .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
            .sign(self.key, hashes.SHA256())
        )

    def issue(self, name: str, *, key: PrivateKey, use: str = "sign", ends: datetime = ENDS) -> x509.Certificate:
        """A certificate to sign documents ("sign"), to encrypt ("encrypt"), or for time stamps ("stamp")."""
        builder = _builder(_name(name), self.name, key, BEGINS, ends)
        builder = builder.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        builder = builder.add_extension(_use(signs=use != "encrypt"), critical=True)
        if use == "stamp":
            # RFC 3161, 2.3: the extended use must be critical and be time stamping alone.
            builder = builder.add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.TIME_STAMPING]), critical=True)
        return builder.sign(self.key, hashes.SHA256())

    def parcel(self, name: str, *, passphrase: str = "open sesame", use: str = "sign", ends: datetime = ENDS) -> bytes:
        """A key with its certificate as the authority sends it: PKCS#12 (RFC 7292)."""
        key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
        certificate = self.issue(name, key=key, use=use, ends=ends)
        protection = BestAvailableEncryption(passphrase.encode()) if passphrase else NoEncryption()
        return pkcs12.serialize_key_and_certificates(b"key", key, certificate, [self.certificate], protection)


def der_of(key: PrivateKey) -> bytes:
    """A private key as PKCS#8."""
    return key.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())


def _name(common_name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common_name)])


def _use(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=signs,
        content_commitment=signs,
        key_encipherment=not signs,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def _builder(
    subject: x509.Name, issuer: x509.Name, key: PrivateKey, begins: datetime, ends: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins - timedelta(days=1))
        .not_valid_after(ends)
    )
