"""Passkeys: what the browser is asked, and whether its answer is right (WebAuthn)."""

import json
import re
from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.http.request import split_domain_port
from django.utils import timezone
from django.utils.crypto import salted_hmac

from maker.accounts.models import Passkey, User
from maker.calc.refusal import Refusal

ASKED = "passkey_asked"
ASKED_SECONDS = 5 * 60
SITE_NAME = "Pleat & Penny"
LARGEST_ANSWER = 20_000


class PasskeyRefused(Refusal):
    """The passkey did not prove what it should."""


class NoPasskeysHere(Refusal):
    """Browsers take passkeys for names only."""


def options_to_add(request: HttpRequest, user: User) -> str:
    """Return what the browser is asked when it shall make a passkey. Refusals: NoPasskeysHere."""
    import webauthn
    from webauthn.helpers.structs import (
        AuthenticatorSelectionCriteria,
        ResidentKeyRequirement,
        UserVerificationRequirement,
    )

    options = webauthn.generate_registration_options(
        rp_id=_site(request),
        rp_name=SITE_NAME,
        user_id=_handle(user),
        user_name=user.email,
        user_display_name=str(user),
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.REQUIRED,
            user_verification=UserVerificationRequirement.REQUIRED,
        ),
        exclude_credentials=_descriptors(user),
    )
    _note(request, "add", user, options.challenge)
    return webauthn.options_to_json(options)


def read_added(request: HttpRequest, user: User, answer: str, name: str) -> Passkey:
    """Return the passkey that the browser made, not yet kept. Refusals: PasskeyRefused."""
    import webauthn
    from webauthn.helpers import bytes_to_base64url
    from webauthn.helpers.exceptions import WebAuthnException

    challenge = _asked(request, "add", user)
    credential = _read(answer)
    try:
        verified = webauthn.verify_registration_response(
            credential=credential,
            expected_challenge=challenge,
            expected_rp_id=_site(request),
            expected_origin=_origin(request),
            require_user_verification=True,
        )
    except (WebAuthnException, ValueError) as error:
        raise PasskeyRefused("This passkey could not be added. Try again.") from error
    credential_id = bytes_to_base64url(verified.credential_id)
    if len(credential_id) > 1364 or Passkey.objects.filter(credential_id=credential_id).exists():
        raise PasskeyRefused("This passkey has already been added.")
    return Passkey(
        name=name,
        credential_id=credential_id,
        public_key=bytes_to_base64url(verified.credential_public_key),
        sign_count=verified.sign_count,
        transports=_transports(credential),
        added_at=timezone.now(),
    )


def options_to_use(request: HttpRequest, user: User | None) -> str:
    """Return what the browser is asked when a passkey shall be shown.

    Without a person it replaces password and second step: the browser offers what it has
    for this site, and the person shows the phone or key who she is. Refusals: NoPasskeysHere.
    """
    import webauthn
    from webauthn.helpers.structs import UserVerificationRequirement

    options = webauthn.generate_authentication_options(
        rp_id=_site(request),
        allow_credentials=_descriptors(user) if user else None,
        user_verification=UserVerificationRequirement.PREFERRED
        if user
        else UserVerificationRequirement.REQUIRED,
    )
    _note(request, "use", user, options.challenge)
    return webauthn.options_to_json(options)


def check_used(request: HttpRequest, user: User | None, answer: str) -> User:
    """Return whose passkey was shown, when it was right. Refusals: PasskeyRefused."""
    import webauthn
    from webauthn.helpers.exceptions import WebAuthnException

    challenge = _asked(request, "use", user)
    credential = _read(answer)
    known = Passkey.objects.select_related("user").filter(user__is_active=True)
    row = known.filter(credential_id=_id_of(credential)).first()
    if row is None or (user is not None and row.user_id != user.pk) or not _names(row, credential):
        raise PasskeyRefused("This passkey was removed. Sign in another way.")
    try:
        verified = webauthn.verify_authentication_response(
            credential=credential,
            expected_challenge=challenge,
            expected_rp_id=_site(request),
            expected_origin=_origin(request),
            credential_public_key=webauthn.base64url_to_bytes(row.public_key),
            credential_current_sign_count=row.sign_count,
            require_user_verification=user is None,
        )
    except (WebAuthnException, ValueError) as error:
        raise PasskeyRefused("This passkey didn't work. Try again.") from error
    # the count goes up once: a copy of the key that answers at the same moment is refused
    if not Passkey.objects.filter(pk=row.pk, sign_count=row.sign_count).update(
        sign_count=verified.new_sign_count, used_at=timezone.now()
    ):
        raise PasskeyRefused("This passkey was used at the same moment elsewhere. Try again.")
    return row.user


def _site(request: HttpRequest) -> str:
    name = split_domain_port(request.get_host())[0]
    try:
        ip_address(name.strip("[]"))
    except ValueError:
        return name
    raise NoPasskeysHere(
        f"Browsers keep passkeys for names, not for numbers such as {name}. On the computer "
        "that runs this, open it as localhost; elsewhere by its name, with HTTPS."
    )


def _origin(request: HttpRequest) -> str:
    return f"{request.scheme}://{request.get_host()}"


def _handle(user: User, secret: str | bytes | None = None) -> bytes:
    """Name a person to her authenticator without saying who she is (WebAuthn, 14.6.1)."""
    keyed = salted_hmac("maker.accounts.passkeys", str(user.pk), secret, algorithm="sha256")
    return bytes(keyed.digest())


def _descriptors(user: User) -> list[Any]:
    import webauthn
    from webauthn.helpers.structs import AuthenticatorTransport, PublicKeyCredentialDescriptor

    known = {transport.value: transport for transport in AuthenticatorTransport}
    return [
        PublicKeyCredentialDescriptor(
            id=webauthn.base64url_to_bytes(row.credential_id),
            transports=[known[one] for one in row.transports.split() if one in known] or None,
        )
        for row in Passkey.objects.filter(user=user).order_by("pk")
    ]


def _transports(credential: dict[str, Any]) -> str:
    response = credential.get("response")
    said = response.get("transports") if isinstance(response, dict) else None
    words = [one for one in said or () if isinstance(one, str) and one.isascii()]
    return " ".join(words)[:120] if isinstance(said, list) else ""


def _read(answer: str) -> dict[str, Any]:
    if not answer:
        raise PasskeyRefused("The browser sent no passkey. Passkeys need JavaScript.")
    try:
        credential = json.loads(answer) if len(answer) <= LARGEST_ANSWER else None
    except (ValueError, RecursionError):
        credential = None
    if not isinstance(credential, dict):
        raise PasskeyRefused("Your browser didn't send a passkey. Try again.")
    return credential


def _id_of(credential: dict[str, Any]) -> str:
    said = credential.get("id")
    is_one = isinstance(said, str) and re.fullmatch(r"[A-Za-z0-9_-]{1,1364}", said)
    return str(said) if is_one else ""


def _names(row: Passkey, credential: dict[str, Any]) -> bool:
    """Whether the authenticator, where it says whose the passkey is, says the same as we do."""
    from webauthn.helpers import bytes_to_base64url

    response = credential.get("response")
    said = response.get("userHandle") if isinstance(response, dict) else None
    # a passkey says for ever what it was told when it was made, with the secret key of that day
    keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    return said in (None, *(bytes_to_base64url(_handle(row.user, key)) for key in keys))


def _note(request: HttpRequest, what: str, user: User | None, challenge: bytes) -> None:
    request.session[ASKED] = {
        "what": what,
        "who": user.pk if user else None,
        "challenge": challenge.hex(),
        "at": timezone.now().timestamp(),
    }


def _asked(request: HttpRequest, what: str, user: User | None) -> bytes:
    """Return the challenge of this browser, once: an answer cannot be sent a second time."""
    asked = request.session.pop(ASKED, None)
    if (
        asked is None
        or (asked["what"], asked["who"]) != (what, user.pk if user else None)
        or timezone.now().timestamp() - asked["at"] > ASKED_SECONDS
    ):
        raise PasskeyRefused("That took too long. Try again.")
    return bytes.fromhex(asked["challenge"])
