"""Letters about accounts, as slow work: the page answers the same whoever is asked for."""

from urllib.parse import urlencode, urljoin

from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from django_tasks import task

from maker.accounts.devices import browser_name
from maker.accounts.models import User
from maker.accounts.resets import LETTER, reset_key
from maker.activity.visitor import kept_address
from maker.mail.services import send_letter

PASSWORD_CHANGED = "The password was changed"  # noqa: S105 - what a letter says
CHANGE_LETTER = """Hello,

{what} for {address} on {when}{where}.

{site}If it was you, there is nothing to do. If not: sign in, change your password, sign out all
other devices under Account, Devices, and tell whoever looks after the installation.
"""


def write_letter(user: User, what: str, *, request: HttpRequest | None = None) -> None:
    """Queue a letter that tells a person what was changed in her account, and from where."""
    now = timezone.localtime()
    where = site = ""
    if request is not None:
        browser = browser_name(request.headers.get("User-Agent", ""))
        where = f", with {browser} from {kept_address(request)}"
        site = f"{request.build_absolute_uri('/')}\n\n"
    text = CHANGE_LETTER.format(
        what=what, address=user.email, when=f"{now:%-d %b %Y at %H:%M}", where=where, site=site
    )
    send_account_letter.enqueue(user.pk, f"{what} for Pleat & Penny", text)


@task()
def send_account_letter(user_id: int, subject: str, text: str) -> None:
    """Send it to the address the person has now; nothing where the account is gone."""
    user = User.objects.filter(pk=user_id).first()
    if user is not None:
        send_letter(to=user.email, subject=subject, text=text)


@task()
def send_reset_letter(user_id: int, site: str) -> None:
    """Send the link for a new password; nothing where nobody was found."""
    user = User.objects.filter(pk=user_id, is_active=True).first()
    if user is None:
        return
    path = f"{reverse('maker:new_password')}?{urlencode({'key': reset_key(user)})}"
    text = LETTER.format(address=user.email, site=site, link=urljoin(site, path))
    send_letter(to=user.email, subject="A new password for Pleat & Penny", text=text)
