"""Sends letters, and keeps by which server."""

import smtplib
import ssl
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

from maker.calc.refusal import Refusal
from maker.mail.models import MailServer, mail_server
from maker.sealing import seal, seal_again, unseal

PURPOSE = "mail password"
WAIT_SECONDS = 20
FROM_THE_FOLDER = "pleat-and-penny@localhost"


class MailNotSent(Refusal):
    """The server did not take the letter."""


def mail_folder() -> Path:
    """Return where letters are written while no server is set up."""
    return Path(settings.DATA_DIR) / "mail"


def save_mail_server(*, password: str, **fields: Any) -> None:
    """Keep the server; an empty password keeps the one that is there.

    Refusals: MailNotSent, where an old password would go to another server.
    """
    before = mail_server()
    sealed = before.sealed_password if before else ""
    moved = before and (before.host, before.username) != (fields["host"], fields["username"])
    if password:
        sealed = seal(password, PURPOSE)
    elif not fields["username"]:
        sealed = ""
    elif moved and sealed:
        raise MailNotSent(
            "Enter the password again: you changed the server or user.", where="password"
        )
    MailServer.objects.update_or_create(pk=1, defaults={**fields, "sealed_password": sealed})


def seal_mail_password_again() -> bool:
    """Seal the password of the mail server with today's secret key; False: there is none.

    Refusals: SealBroken.
    """
    server = mail_server()
    if server is None or not server.sealed_password:
        return False
    server.sealed_password = seal_again(server.sealed_password, PURPOSE)
    server.save(update_fields=["sealed_password"])
    return True


def forget_mail_server() -> None:
    """Write letters into the folder again."""
    MailServer.objects.all().delete()


def send_letter(*, to: str, subject: str, text: str) -> None:
    """Send a letter. Refusals: MailNotSent, SealBroken."""
    server = mail_server()
    letter = EmailMessage(
        subject=subject,
        body=text,
        from_email=server.from_address if server else FROM_THE_FOLDER,
        to=[to],
        connection=_way_out(server),
    )
    try:
        letter.send()
    except smtplib.SMTPAuthenticationError as error:
        raise MailNotSent("The mail server refuses this user and password.") from error
    except smtplib.SMTPRecipientsRefused as error:
        raise MailNotSent(f"The mail server refuses mail to {to}.") from error
    except ssl.SSLError as error:
        raise MailNotSent(
            "No safe connection to the mail server. Check security, port and the server's name."
        ) from error
    except (smtplib.SMTPException, OSError) as error:
        raise MailNotSent(f"The mail server could not be used: {_reason(error)}") from error


def _way_out(server: Any) -> BaseEmailBackend:
    if server is None:
        from django.core.mail.backends.filebased import EmailBackend as Folder

        mail_folder().mkdir(mode=0o700, parents=True, exist_ok=True)
        return Folder(file_path=str(mail_folder()))
    from django.core.mail.backends.smtp import EmailBackend as Smtp

    password = unseal(server.sealed_password, PURPOSE) if server.sealed_password else ""
    return Smtp(
        host=server.host,
        port=server.port,
        username=server.username,
        password=password,
        use_tls=server.security == MailServer.Security.STARTTLS,
        use_ssl=server.security == MailServer.Security.TLS,
        timeout=WAIT_SECONDS,
    )


def _reason(error: Exception) -> str:
    if isinstance(error, TimeoutError):
        return f"it did not answer within {WAIT_SECONDS} seconds."
    if isinstance(error, smtplib.SMTPResponseException):
        said = error.smtp_error
        words = said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said)
        return f"it said “{words[:200]}”."
    return f"{getattr(error, 'strerror', None) or error}."[:200]
