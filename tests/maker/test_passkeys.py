"""Passkeys on the server, with an authenticator made of the library's own primitives.

In Chromium: tests/pages/test_passkeys.py. What is signed and how it is laid out:
WebAuthn Level 2, 6.1 (authenticator data), 6.3.3 (assertion), 6.5.4 and 8.7 (attestation "none").
"""

import base64
import hashlib
import json
import secrets
from dataclasses import dataclass, field
from typing import Any

import cbor2
import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from django.test import Client

from maker.accounts.models import Passkey, RecoveryCode, Try, User
from maker.activity.models import Event

RIGHT = "paper-and-twine"
HOST = "localhost"
ORIGIN = "http://localhost"
SECOND_STEP = "/sign-in/second-step/asked/"
PRESENT, VERIFIED, HAS_KEY = 0x01, 0x04, 0x40


def to_text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode().rstrip("=")


def to_bytes(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


@dataclass
class Authenticator:
    """Makes one passkey and signs with it; its parts may be told to lie."""

    origin: str = ORIGIN
    site: str = HOST
    flags: int = PRESENT | VERIFIED
    count: int = 0
    handle: bytes = b""
    key: Any = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))
    credential_id: bytes = field(default_factory=lambda: secrets.token_bytes(16))

    def _client_data(self, kind: str, challenge: str) -> bytes:
        said = {"type": kind, "challenge": challenge, "origin": self.origin, "crossOrigin": False}
        return json.dumps(said).encode()

    def _data(self, flags: int) -> bytes:
        self.count += 1
        site = hashlib.sha256(self.site.encode()).digest()
        return site + bytes([flags]) + self.count.to_bytes(4, "big")

    def make(self, asked: dict[str, Any]) -> str:
        """Answer navigator.credentials.create()."""
        self.handle = to_bytes(asked["user"]["id"])
        numbers = self.key.public_key().public_numbers()
        # COSE: an elliptic key (2) for ES256 (-7) on P-256 (1), RFC 9053
        key = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32, "big")}
        key[-3] = numbers.y.to_bytes(32, "big")
        attested = bytes(16) + len(self.credential_id).to_bytes(2, "big") + self.credential_id
        data = self._data(self.flags | HAS_KEY) + attested + cbor2.dumps(key)
        statement = {"fmt": "none", "attStmt": {}, "authData": data}
        client_data = self._client_data("webauthn.create", asked["challenge"])
        return self._answer(clientDataJSON=client_data, attestationObject=cbor2.dumps(statement))

    def show(self, asked: dict[str, Any]) -> str:
        """Answer navigator.credentials.get()."""
        data = self._data(self.flags)
        client_data = self._client_data("webauthn.get", asked["challenge"])
        signed = self.key.sign(data + hashlib.sha256(client_data).digest(), ec.ECDSA(SHA256()))
        return self._answer(
            clientDataJSON=client_data,
            authenticatorData=data,
            signature=signed,
            userHandle=self.handle,
        )

    def _answer(self, **response: bytes) -> str:
        told = {name: to_text(value) for name, value in response.items()}
        name = to_text(self.credential_id)
        return json.dumps({"id": name, "rawId": name, "type": "public-key", "response": told})


def browser(user: User | None = None) -> Client:
    client = Client(SERVER_NAME=HOST)
    if user:
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        client.post("/account/prove/", {"password": RIGHT})
    return client


def asked(client: Client, path: str = "/sign-in/passkey/asked/") -> dict[str, Any]:
    answer = client.post(path)
    assert answer.status_code == 200
    return dict(answer.json())


def add(user: User, passkey: Authenticator, name: str = "Phone") -> str:
    client = browser(user)
    made = passkey.make(asked(client, "/account/second-step/passkeys/asked/"))
    answer = client.post("/account/second-step/passkeys/", {"name": name, "answer": made})
    return str(answer.content.decode())


def sign_in(client: Client, passkey: Authenticator) -> bool:
    shown = passkey.show(asked(client))
    client.post("/sign-in/passkey/", {"answer": shown})
    return is_in(client)


def is_in(client: Client) -> bool:
    return client.get("/workshops/?all").status_code == 200


@pytest.fixture
def passkey(owner: User) -> Authenticator:
    made = Authenticator()
    add(owner, made)
    assert Passkey.objects.count() == 1
    return made


def test_a_passkey_is_added_with_recovery_codes_and_lets_in_alone(owner: User) -> None:
    made = Authenticator()
    page = add(owner, made)
    assert page.count("<li><code>") == 8
    client = browser()
    assert sign_in(client, made)
    assert Event.objects.latest("pk").about == "passkey"
    assert Event.objects.latest("pk").user == owner
    row = Passkey.objects.get()
    assert (row.name, row.sign_count) == ("Phone", made.count)
    assert row.used_at is not None


def test_what_is_asked_tells_no_stranger_who_has_an_account(
    owner: User, passkey: Authenticator
) -> None:
    said = asked(browser())
    assert said["rpId"] == HOST
    assert said["userVerification"] == "required"
    assert not said.get("allowCredentials")
    assert to_text(passkey.credential_id) not in json.dumps(said)
    assert owner.email.encode() not in passkey.handle


def test_a_passkey_is_the_second_step_after_the_password(
    owner: User, passkey: Authenticator
) -> None:
    client = browser()
    client.post("/sign-in/", {"username": owner.email, "password": RIGHT})
    assert not is_in(client)
    said = asked(client, SECOND_STEP)
    assert [one["id"] for one in said["allowCredentials"]] == [to_text(passkey.credential_id)]
    client.post("/sign-in/second-step/", {"answer": passkey.show(said)})
    assert is_in(client)
    assert Event.objects.latest("pk").about == "password and passkey"


def test_a_passkey_alone_still_lets_in_after_the_password(
    owner: User, reader: User, passkey: Authenticator
) -> None:
    hers = Authenticator()
    add(reader, hers)
    for shown, person in ((passkey, owner), (hers, reader)):
        client = browser()
        client.post("/sign-in/", {"username": owner.email, "password": RIGHT})
        # she goes back to the first page, or somebody else does
        assert not asked(client).get("allowCredentials")
        assert sign_in(client, shown)
        assert Event.objects.latest("pk").user == person


def test_a_passkey_made_with_an_older_secret_key_lets_in_while_that_is_named(
    owner: User, passkey: Authenticator, settings: Any
) -> None:
    old, settings.SECRET_KEY = settings.SECRET_KEY, "a new key of the installation, long enough"
    assert not sign_in(browser(), passkey)
    settings.SECRET_KEY_FALLBACKS = [old]
    assert sign_in(browser(), passkey)


def test_nobody_is_asked_for_a_second_step_before_the_first(passkey: Authenticator) -> None:
    assert browser().post(SECOND_STEP)["Location"] == "/sign-in/"


@pytest.mark.parametrize(
    "lie",
    [
        {"origin": "https://localhost.elsewhere.example"},
        {"origin": "http://localhost:9"},
        {"site": "elsewhere.example"},
        {"flags": PRESENT},  # nobody showed the phone who she is
        {"flags": VERIFIED},  # nobody touched it
        {"count": 0},  # a copy of the key that stayed behind
        {"key": ec.generate_private_key(ec.SECP256R1())},
        {"handle": b"somebody else"},
        {"credential_id": b"x" * 16},
    ],
    ids=lambda lie: next(iter(lie)),
)
def test_a_passkey_that_is_not_quite_right_lets_nobody_in(
    passkey: Authenticator, lie: dict[str, Any]
) -> None:
    assert sign_in(browser(), passkey)
    for name, value in lie.items():
        setattr(passkey, name, value)
    assert not sign_in(browser(), passkey)
    assert Event.objects.latest("pk").kind == Event.Kind.REFUSED


def test_an_answer_is_taken_once_and_in_its_own_browser(passkey: Authenticator) -> None:
    client = browser()
    shown = passkey.show(asked(client))
    stolen = browser()
    asked(stolen)
    for other in (browser(), stolen):
        other.post("/sign-in/passkey/", {"answer": shown})
        assert not is_in(other)
    client.post("/sign-in/passkey/", {"answer": shown})
    assert is_in(client)
    client.post("/sign-out/")
    client.post("/sign-in/passkey/", {"answer": shown})
    assert not is_in(client)


def test_an_old_question_is_answered_too_late(
    passkey: Authenticator, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = browser()
    shown = passkey.show(asked(client))
    monkeypatch.setattr("maker.accounts.passkeys.ASKED_SECONDS", 0)
    answer = client.post("/sign-in/passkey/", {"answer": shown}, follow=True)
    assert "That took too long" in answer.content.decode()
    assert not is_in(client)


def test_a_passkey_of_somebody_else_is_no_second_step(
    owner: User, reader: User, passkey: Authenticator
) -> None:
    hers = Authenticator()
    add(reader, hers)
    client = browser()
    client.post("/sign-in/", {"username": owner.email, "password": RIGHT})
    answer = client.post("/sign-in/second-step/", {"answer": hers.show(asked(client, SECOND_STEP))})
    assert "was removed" in answer.content.decode()
    assert not is_in(client)


def test_one_passkey_is_not_added_twice_nor_to_two_people(
    owner: User, reader: User, passkey: Authenticator
) -> None:
    for user in (owner, reader):
        assert "has already been added" in add(user, passkey)
    assert Passkey.objects.count() == 1


def test_a_removed_passkey_lets_nobody_in(owner: User, passkey: Authenticator) -> None:
    client = browser(owner)
    client.post(f"/account/second-step/passkeys/{Passkey.objects.get().pk}/remove/")
    assert not sign_in(browser(), passkey)
    assert not RecoveryCode.objects.exists()
    other = browser()
    other.post("/sign-in/", {"username": owner.email, "password": RIGHT})
    assert is_in(other)


def test_nobody_removes_the_passkey_of_somebody_else(reader: User, passkey: Authenticator) -> None:
    pk = Passkey.objects.get().pk
    browser(reader).post(f"/account/second-step/passkeys/{pk}/remove/")
    assert Passkey.objects.count() == 1


def test_a_closed_account_is_not_let_in(owner: User, passkey: Authenticator) -> None:
    User.objects.filter(pk=owner.pk).update(is_active=False)
    assert not sign_in(browser(), passkey)


ODD = [
    "",
    "no json",
    "[]",
    "null",
    "{}",
    "[" * 10_000,
    "x" * 30_000,
    '{"id": 7}',
    '{"id": "\\u0000", "response": []}',
    '{"id": "AAAA", "rawId": "AAAA", "type": "public-key", "response": {"clientDataJSON": 1}}',
]


@pytest.mark.parametrize("odd", ODD, ids=range(len(ODD)))
def test_odd_answers_are_refused(owner: User, odd: str) -> None:
    client = browser()
    asked(client)
    assert client.post("/sign-in/passkey/", {"answer": odd}).status_code == 302
    assert not is_in(client)
    inside = browser(owner)
    asked(inside, "/account/second-step/passkeys/asked/")
    answer = inside.post("/account/second-step/passkeys/", {"name": "", "answer": odd})
    assert answer.status_code == 200
    assert "There is a problem" in answer.content.decode()


def test_an_answer_with_one_part_spoiled_is_refused(owner: User, passkey: Authenticator) -> None:
    """Each part cut short, empty, of another type or of other bytes: a refusal, never a fault."""
    spoiled = 0
    for part in ("id", "rawId", "type", "clientDataJSON", "authenticatorData", "signature"):
        for value in ("", "!", "AAAA", 7, None, [], to_text(b"\xff\xfe" * 40)):
            client = browser()
            answer = json.loads(passkey.show(asked(client)))
            (answer if part in answer else answer["response"])[part] = value
            # id and rawId name the key; a browser always sends them alike
            client.post("/sign-in/passkey/", {"answer": json.dumps(answer)})
            spoiled += 1
            assert not is_in(client), (part, value)
            if spoiled % 20 == 0:
                Try.objects.all().delete()


def test_a_number_is_no_name_to_keep_a_passkey_for(owner: User) -> None:
    client = Client(SERVER_NAME="127.0.0.1")
    answer = client.post("/sign-in/passkey/asked/")
    assert answer.status_code == 409
    assert "open it as localhost" in answer.json()["problem"]


def test_asking_for_ever_is_stopped(db: None) -> None:
    client = browser()
    answers = [client.post("/sign-in/passkey/asked/").status_code for _ in range(61)]
    assert answers[-2:] == [200, 409]
