"""The certificate for the home network: whom it holds for, how long, and what is refused."""

import shutil
import ssl
import stat
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from maker.phone.certificates import (
    CannotCertify,
    authority_file,
    ensure_certificates,
    fingerprint,
    renew_if_due,
    server_file,
)

NAMES = ["192.168.1.20", "127.0.0.1", "localhost", "::1", "bench", "bench.local"]
NOW = datetime(2026, 11, 29, 12, tzinfo=UTC)


def certificate(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())


def checked(data: Path, subject: x509.GeneralName, on: datetime) -> None:
    """Follow the chain as RFC 5280 says, by a verifier that is not what made it."""
    store = Store([certificate(authority_file(data))])
    builder = PolicyBuilder().store(store).time(on)
    builder.build_server_verifier(subject).verify(certificate(server_file(data)), [])


def test_openssl_takes_the_chain_strictly(tmp_path: Path) -> None:
    ensure_certificates(tmp_path, NAMES)
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("no openssl here")
    command = [openssl, "verify", "-x509_strict", "-verify_ip", NAMES[0], "-CAfile"]
    done = subprocess.run(
        [*command, str(authority_file(tmp_path)), str(server_file(tmp_path))],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    # the file with the key is what the server loads
    ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(server_file(tmp_path))


def test_what_was_made_is_kept_and_keys_are_closed(tmp_path: Path) -> None:
    ensure_certificates(tmp_path, NAMES, NOW)
    before = {file.name: file.read_bytes() for file in (tmp_path / "https").iterdir()}
    ensure_certificates(tmp_path, NAMES, NOW + timedelta(days=30))
    assert {file.name: file.read_bytes() for file in (tmp_path / "https").iterdir()} == before
    assert b"PRIVATE" not in before["pleat-and-penny.crt"]
    for name in ("authority.pem", "server.pem"):
        assert b"PRIVATE" in before[name]
        assert stat.S_IMODE((tmp_path / "https" / name).stat().st_mode) == 0o600


def test_another_address_needs_no_new_trust(tmp_path: Path) -> None:
    ensure_certificates(tmp_path, NAMES, NOW)
    trusted = fingerprint(authority_file(tmp_path))
    ensure_certificates(tmp_path, ["10.0.0.7", *NAMES[1:]], NOW)
    assert fingerprint(authority_file(tmp_path)) == trusted
    covered = certificate(server_file(tmp_path)).extensions.get_extension_for_class(
        x509.SubjectAlternativeName
    )
    assert str(covered.value[0].value) == "10.0.0.7"


def test_it_is_renewed_before_it_ends_and_lasts_as_long_as_phones_take(tmp_path: Path) -> None:
    ensure_certificates(tmp_path, NAMES, NOW)
    first = certificate(server_file(tmp_path))
    assert first.not_valid_after_utc - first.not_valid_before_utc <= timedelta(days=398)
    assert not renew_if_due(tmp_path, NOW + timedelta(days=300))
    assert renew_if_due(tmp_path, NOW + timedelta(days=370))
    second = certificate(server_file(tmp_path))
    assert second.not_valid_after_utc > first.not_valid_after_utc + timedelta(days=300)
    assert not renew_if_due(tmp_path / "elsewhere", NOW)


def test_the_authority_speaks_for_the_home_alone(tmp_path: Path) -> None:
    ensure_certificates(tmp_path, NAMES, NOW)
    authority = certificate(authority_file(tmp_path))
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert limits.critical
    with pytest.raises(CannotCertify, match=r"does not cover shop\.example"):
        ensure_certificates(tmp_path, ["shop.example"], NOW)
    with pytest.raises(CannotCertify, match=r"does not cover 203\.0\.113\.9"):
        ensure_certificates(tmp_path, ["203.0.113.9"], NOW)
    # a name that came later and is not the one printed is left out
    ensure_certificates(tmp_path, [*NAMES, "notlocal"], NOW)
    assert b"notlocal" not in certificate(server_file(tmp_path)).tbs_certificate_bytes


def test_a_stranger_authority_or_a_later_date_is_not_believed(tmp_path: Path) -> None:
    ensure_certificates(tmp_path / "one", NAMES, NOW)
    ensure_certificates(tmp_path / "two", NAMES, NOW)
    shutil.copy(server_file(tmp_path / "two"), server_file(tmp_path / "one"))
    shown = x509.DNSName("bench.local")
    with pytest.raises(VerificationError):
        checked(tmp_path / "one", shown, NOW)
    # noticed at the next start
    ensure_certificates(tmp_path / "one", NAMES, NOW)
    authority = certificate(authority_file(tmp_path / "one"))
    certificate(server_file(tmp_path / "one")).verify_directly_issued_by(authority)


@pytest.mark.parametrize("kept", [b"", b"not a key", b"-----BEGIN " + b"PRIVATE KEY-----\nAA"])
def test_a_broken_authority_is_said_and_a_broken_certificate_made_anew(
    tmp_path: Path, kept: bytes
) -> None:
    ensure_certificates(tmp_path, NAMES, NOW)
    server_file(tmp_path).write_bytes(kept)
    ensure_certificates(tmp_path, NAMES, NOW)
    assert certificate(server_file(tmp_path))
    (tmp_path / "https" / "authority.pem").write_bytes(kept)
    with pytest.raises(CannotCertify, match="cannot be read: delete the folder"):
        ensure_certificates(tmp_path, NAMES, NOW)


def test_the_fingerprint_is_what_phones_show(tmp_path: Path) -> None:
    ensure_certificates(tmp_path, NAMES, NOW)
    digest = certificate(authority_file(tmp_path)).fingerprint(hashes.SHA256())
    assert bytes.fromhex(fingerprint(authority_file(tmp_path))) == digest
    assert fingerprint(tmp_path / "none") == ""
