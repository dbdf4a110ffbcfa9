"""Fresh certificates for the broker and the machine, signed by an authority of their own.

Responsible for their contents; not for where they are written. The authority's key is never
written anywhere: whoever wants new certificates makes the whole set anew.
"""

import ipaddress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from controller.service.broker import NAME_LENGTH

# Phones of some makes refuse a server's certificate that is valid for longer (from memory, not
# checked).
SERVER_DAYS = 825
# What only our own programs check begins and ends where no wrong clock of a board will get. Own
# engineering values.
EVER_FROM = datetime(2000, 1, 1, tzinfo=UTC)
EVER_UNTIL = datetime(2099, 12, 31, tzinfo=UTC)
_SLACK = timedelta(days=1)  # between the clocks of this computer and a phone


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """A certificate and its private key, as PEM."""

    certificate: bytes
    key: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificates:
    """A whole set."""

    authority: bytes  # its certificate alone, PEM
    server: Pair
    device: Pair
    server_until: datetime


def issue(hosts: tuple[str, ...], device: str, now: datetime) -> Certificates:
    """A set for a broker that is reached under `hosts`, names or addresses, and for one device."""
    authority_key = ec.generate_private_key(ec.SECP256R1())
    authority = _authority(authority_key)
    until = now + timedelta(days=SERVER_DAYS) - _SLACK

    def signed(name: str, span: tuple[datetime, datetime], *more: x509.ExtensionType) -> Pair:
        key = ec.generate_private_key(ec.SECP256R1())
        builder = _builder(name, authority.subject, key.public_key(), span)
        issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key())
        builder = builder.add_extension(issuer, critical=False)
        for extension in (x509.BasicConstraints(ca=False, path_length=None), *more):
            builder = builder.add_extension(
                extension, critical=isinstance(extension, x509.BasicConstraints)
            )
        return Pair(
            certificate=_pem(builder.sign(authority_key, hashes.SHA256())), key=_pem_key(key)
        )

    return Certificates(
        authority=_pem(authority),
        server=signed(
            hosts[0][:NAME_LENGTH],  # clients look at the alternative names
            (now - _SLACK, until),
            x509.SubjectAlternativeName([_place(host) for host in hosts]),
            x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]),
        ),
        device=signed(
            device,
            (EVER_FROM, EVER_UNTIL),
            x509.ExtendedKeyUsage([ExtendedKeyUsageOID.CLIENT_AUTH]),
        ),
        server_until=until,
    )


def _authority(key: ec.EllipticCurvePrivateKey) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "bainward broker authority")])
    usage = x509.KeyUsage(
        digital_signature=False,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=True,
        crl_sign=True,
        encipher_only=False,
        decipher_only=False,
    )
    builder = _builder("bainward broker authority", name, key.public_key(), (EVER_FROM, EVER_UNTIL))
    builder = builder.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
    builder = builder.add_extension(usage, critical=True)
    return builder.sign(key, hashes.SHA256())


def _builder(
    name: str,
    issuer: x509.Name,
    key: ec.EllipticCurvePublicKey,
    span: tuple[datetime, datetime],
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)]))
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(span[0])
        .not_valid_after(span[1])
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _place(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _pem(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.PEM)


def _pem_key(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
