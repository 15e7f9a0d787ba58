"""Letters about accounts, as slow work: the page answers the same whoever is asked for."""

from urllib.parse import urlencode, urljoin

from django.urls import reverse
from django_tasks import task

from maker.accounts.models import User
from maker.accounts.resets import LETTER, reset_key
from maker.mail.services import send_letter


@task()
def send_reset_letter(user_id: int, site: str) -> None:
    """Send the link for a new password; nothing where nobody was found."""
    user = User.objects.filter(pk=user_id, is_active=True).first()
    if user is None:
        return
    path = f"{reverse('maker:new_password')}?{urlencode({'key': reset_key(user)})}"
    text = LETTER.format(address=user.email, site=site, link=urljoin(site, path))
    send_letter(to=user.email, subject="A new password for Pleat & Penny", text=text)
