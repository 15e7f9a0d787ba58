"""A small authority of the installation's own, and the certificate it gives to the server.

No public authority certifies an address of a home network, so the phone is told once to trust this
one. The authority's certificate says which names and addresses it may speak for (RFC 5280,
4.2.1.10): whoever steals its key can pretend to be nothing outside the home.
"""

import os
import socket
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from maker.calc.refusal import Refusal

AUTHORITY_LASTS = timedelta(days=3650)
# 825 days are the most that iPhones take (Apple: Requirements for trusted certificates in iOS 13)
SERVER_LASTS = timedelta(days=397)
RENEWED_BEFORE = timedelta(days=30)
# a phone's clock may be behind
CLOCKS_DIFFER = timedelta(days=1)
LONGEST_NAME = 64  # RFC 5280, ub-common-name
# RFC 1918, 3927, 4193, 4291, 6598 and the machine itself
HOME_NETWORKS = (
    "127.0.0.0/8",
    "10.0.0.0/8",
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",
    "100.64.0.0/10",
    "::1/128",
    "fc00::/7",
    "fe80::/10",
)
# RFC 6761, 6762, 8375, and what routers call their network
HOME_NAMES = ("localhost", "local", "home.arpa", "internal", "lan", "home")

Key = ec.EllipticCurvePrivateKey
Network = IPv4Network | IPv6Network


class CannotCertify(Refusal):
    """No certificate can be made for this address."""


def folder_of(data: Path) -> Path:
    """Return where keys and certificates lie."""
    return data / "https"


def server_file(data: Path) -> Path:
    """Return the file with the server's certificate and key."""
    return folder_of(data) / "server.pem"


def authority_file(data: Path) -> Path:
    """Return the file a phone is given: the authority's certificate, without its key."""
    return folder_of(data) / "pleat-and-penny.crt"


def ensure_certificates(data: Path, names: Sequence[str], now: datetime | None = None) -> None:
    """Make what is missing or ends soon; the first name must be covered, others if they can be.

    Refusals: CannotCertify.
    """
    now = now or datetime.now(UTC)
    folder = folder_of(data)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    key, authority = _authority(folder, names, now)
    covered = [name for name in dict.fromkeys(names) if _is_permitted(authority, name)]
    if names[0] not in covered:
        raise CannotCertify(
            f"The certificate made here does not cover {names[0]}: delete the folder {folder}, "
            "start again, and let your phones trust the new one."
        )
    if not _will_do(server_file(data), key, covered, now):
        _write_private(server_file(data), *_server(key, authority, covered, now))
    _write(authority_file(data), authority.public_bytes(serialization.Encoding.PEM), 0o644)


def renew_if_due(data: Path, now: datetime | None = None) -> bool:
    """Renew the server's certificate for the names it has; False when it need not be."""
    found = _read(server_file(data))
    if found is None:
        return False
    now = now or datetime.now(UTC)
    if not _ends_soon(found[1], now):
        return False
    ensure_certificates(data, _names_in(found[1]), now)
    return True


def fingerprint(certificate_file: Path) -> str:
    """Return the SHA-256 of a certificate as phones show it; nothing where there is none."""
    if not certificate_file.exists():
        return ""
    certificate = x509.load_pem_x509_certificate(certificate_file.read_bytes())
    return certificate.fingerprint(hashes.SHA256()).hex(" ").upper()


def _authority(folder: Path, names: Sequence[str], now: datetime) -> tuple[Key, x509.Certificate]:
    path = folder / "authority.pem"
    found = _read(path)
    if found is None and path.exists():
        raise CannotCertify(
            f"{path} cannot be read: delete the folder {folder}, start again, and let your phones "
            "trust the new certificate."
        )
    if found and not _ends_soon(found[1], now):
        return found
    key = ec.generate_private_key(ec.SECP256R1())
    subject = _subject(f"Pleat & Penny on {socket.gethostname()}")
    certificate = (
        _certificate(subject, subject, key, key, now, AUTHORITY_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_key_usage(for_authority=True), critical=True)
        .add_extension(_constraints(names), critical=True)
        .sign(key, hashes.SHA256())
    )
    _write_private(path, key, certificate)
    return key, certificate


def _server(
    authority_key: Key, authority: x509.Certificate, names: Sequence[str], now: datetime
) -> tuple[Key, x509.Certificate]:
    key = ec.generate_private_key(ec.SECP256R1())
    ends = min(SERVER_LASTS, authority.not_valid_after_utc - now)
    certificate = (
        _certificate(_subject("Pleat & Penny"), authority.subject, key, authority_key, now, ends)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(for_authority=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.SubjectAlternativeName([_general_name(name) for name in names]), critical=False
        )
        .sign(authority_key, hashes.SHA256())
    )
    return key, certificate


def _certificate(
    subject: x509.Name, issuer: x509.Name, key: Key, signer: Key, now: datetime, lasts: timedelta
) -> x509.CertificateBuilder:
    public = key.public_key()
    identifier = x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key())
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCKS_DIFFER)
        .not_valid_after(now + lasts)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
        .add_extension(identifier, critical=False)
    )


def _subject(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name[:LONGEST_NAME])])


def _key_usage(*, for_authority: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not for_authority,
        key_cert_sign=for_authority,
        crl_sign=for_authority,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _constraints(names: Iterable[str]) -> x509.NameConstraints:
    """Permit home networks, home names, and what this machine is called now."""
    networks = {ip_network(text): None for text in HOME_NETWORKS}
    hosts = dict.fromkeys(HOME_NAMES)
    for name in names:
        address = _address(name)
        if address is None:
            hosts.setdefault(name.lower())
        elif not any(address in network for network in networks):
            networks.setdefault(ip_network(address))
    permitted: list[x509.GeneralName] = [x509.IPAddress(network) for network in networks]
    permitted += [x509.DNSName(host) for host in hosts]
    return x509.NameConstraints(permitted_subtrees=permitted, excluded_subtrees=None)


def _is_permitted(authority: x509.Certificate, name: str) -> bool:
    constraints = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    permitted = constraints.permitted_subtrees or []
    address = _address(name)
    if address is not None:
        networks: list[Network] = [
            one.value
            for one in permitted
            if isinstance(one, x509.IPAddress) and isinstance(one.value, IPv4Network | IPv6Network)
        ]
        return any(address in network for network in networks)
    hosts = [one.value for one in permitted if isinstance(one, x509.DNSName)]
    return any(name.lower() == host or name.lower().endswith(f".{host}") for host in hosts)


def _will_do(path: Path, authority_key: Key, names: Sequence[str], now: datetime) -> bool:
    found = _read(path)
    if found is None or _ends_soon(found[1], now) or _names_in(found[1]) != list(names):
        return False
    try:
        authority_key.public_key().verify(
            found[1].signature, found[1].tbs_certificate_bytes, ec.ECDSA(hashes.SHA256())
        )
    except InvalidSignature:
        return False
    return True


def _ends_soon(certificate: x509.Certificate, now: datetime) -> bool:
    return not (
        certificate.not_valid_before_utc <= now < certificate.not_valid_after_utc - RENEWED_BEFORE
    )


def _names_in(certificate: x509.Certificate) -> list[str]:
    found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return [str(one.value) for one in found]


def _address(name: str) -> IPv4Address | IPv6Address | None:
    try:
        return ip_address(name)
    except ValueError:
        return None


def _general_name(name: str) -> x509.GeneralName:
    address = _address(name)
    return x509.DNSName(name) if address is None else x509.IPAddress(address)


def _read(path: Path) -> tuple[Key, x509.Certificate] | None:
    """Return key and certificate, or None where there are none that can be read."""
    if not path.exists():
        return None
    kept = path.read_bytes()
    try:
        key = serialization.load_pem_private_key(kept, password=None)
        certificate = x509.load_pem_x509_certificate(kept)
    except (ValueError, TypeError):
        return None
    return (key, certificate) if isinstance(key, ec.EllipticCurvePrivateKey) else None


def _write_private(path: Path, key: Key, certificate: x509.Certificate) -> None:
    """Write key and certificate as one file, so that they can never be of two makings."""
    pem = serialization.Encoding.PEM
    private = key.private_bytes(
        pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    _write(path, private + certificate.public_bytes(pem), 0o600)


def _write(path: Path, content: bytes, mode: int) -> None:
    """Put the whole file in place at once: the server reads it for each visit."""
    fresh = path.with_suffix(f".{os.getpid()}")
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode), "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)
