"""One-time codes against the vectors printed in the standards."""

import base64
from urllib.parse import parse_qs, urlsplit

import pytest

from maker.accounts.one_time_codes import (
    app_address,
    base32,
    code_at,
    counter_of,
    matching_counter,
)

# RFC 4226, appendix D: the secret and the ten values
SECRET = b"12345678901234567890"
HOTP = [
    "755224", "287082", "359152", "969429", "338314",
    "254676", "287922", "162583", "399871", "520489",
]  # fmt: skip
# RFC 6238, appendix B: Unix time, and the eight digits with SHA-1, SHA-256 and SHA-512. The secrets
# are those of the reference program in appendix A (erratum 2866): as long as the digest.
TOTP = [
    (59, "94287082", "46119246", "90693936"),
    (1111111109, "07081804", "68084774", "25091201"),
    (1111111111, "14050471", "67062674", "99943326"),
    (1234567890, "89005924", "91819424", "93441116"),
    (2000000000, "69279037", "90698825", "38618901"),
    (20000000000, "65353130", "77737706", "47863826"),
]


@pytest.mark.parametrize(("counter", "code"), list(enumerate(HOTP)))
def test_codes_by_counter_are_those_of_rfc_4226(counter: int, code: str) -> None:
    assert code_at(SECRET, counter) == code


@pytest.mark.parametrize(("seconds", "sha1", "sha256", "sha512"), TOTP)
def test_codes_by_time_are_those_of_rfc_6238(
    seconds: int, sha1: str, sha256: str, sha512: str
) -> None:
    step = counter_of(seconds)
    for digest, length, code in (
        ("sha1", 20, sha1),
        ("sha256", 32, sha256),
        ("sha512", 64, sha512),
    ):
        secret = (SECRET * 4)[:length]
        assert code_at(secret, step, digits=8, digest=digest) == code
    assert matching_counter(SECRET, sha1[2:], seconds) == step


def test_one_step_either_way_is_taken_and_no_more() -> None:
    code = code_at(SECRET, 100)
    taken = [at for at in range(97, 104) if matching_counter(SECRET, code, at * 30) is not None]
    assert taken == [99, 100, 101]
    assert matching_counter(SECRET, code, 101 * 30 + 29.9) == 100


@pytest.mark.parametrize("code", ["", "12345", "1234567", "abcdef", "١٢٣٤٥٦".encode().hex()])
def test_what_is_no_code_matches_nothing(code: str) -> None:
    assert matching_counter(SECRET, code, 59) is None


def test_the_app_reads_the_same_secret() -> None:
    address = urlsplit(app_address(SECRET, "ada+cards@example.test", "Pleat & Penny"))
    assert (address.scheme, address.netloc) == ("otpauth", "totp")
    assert address.path == "/Pleat%20%26%20Penny:ada%2Bcards%40example.test"
    said = parse_qs(address.query)
    assert said["issuer"] == ["Pleat & Penny"]
    # RFC 4648 without the padding, as the appendix of RFC 6238's secret in base 32
    assert said["secret"] == [base32(SECRET)] == ["GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"]
    assert base64.b32decode(said["secret"][0]) == SECRET
