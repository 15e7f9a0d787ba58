"""A new password by a link in a letter: good for an hour and once."""

from django.core import signing
from django.db import transaction
from django.utils.crypto import constant_time_compare, salted_hmac

from maker.accounts.devices import sign_out_others
from maker.accounts.models import User

SALT = "maker.accounts.resets"
GOOD_SECONDS = 60 * 60

LETTER = """Hello,

Somebody, probably you, asked for a new password for {address} here:

{site}

Choose one within an hour with this link. It works once:

{link}

If it was not you, ignore this email: nothing has changed.
"""


def reset_key(user: User) -> str:
    """Return the key of a link; a new password or a sign-in ends it."""
    return signing.dumps([user.pk, _state(user)], salt=SALT)


def person_of_key(key: str) -> User | None:
    """Return whose link this is, or None when it is wrong, used or too old."""
    try:
        pk, state = signing.loads(key, salt=SALT, max_age=GOOD_SECONDS)
    except signing.BadSignature:
        return None
    user = User.objects.filter(pk=pk, is_active=True).first()
    return user if user and constant_time_compare(state, _state(user)) else None


@transaction.atomic
def choose_password(*, key: str, password: str) -> User | None:
    """Take the new password and sign out everywhere; None when the link is over."""
    user = person_of_key(key)
    if user is None:
        return None
    # locked, so that two who send one link do not both set a password
    user = User.objects.select_for_update().get(pk=user.pk)
    if person_of_key(key) is None:
        return None
    user.set_password(password)
    user.save(update_fields=["password"])
    sign_out_others(user, None)
    return user


def _state(user: User) -> str:
    text = f"{user.pk} {user.email} {user.password} {user.last_login}"
    return salted_hmac(SALT, text, algorithm="sha256").hexdigest()[:32]
