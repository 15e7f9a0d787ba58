"""Files for the tests of exports and imports: written, sent, and confirmed as a person would."""

from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from maker.documents.grid import Table
from maker.documents.spreadsheet import read_table
from tests.catalogue.page_forms import fields_of


def address(name: str, workshop: str = "marlow", *keys: int) -> str:
    """Return the address of a page of the catalogue."""
    return reverse(f"catalogue:{name}", args=[workshop, *keys])


def exported(client: Client, where: str, form: str) -> bytes:
    """Return a list as a file."""
    answer = client.get(where, {"format": form})
    assert answer.status_code == 200, answer
    return bytes(answer.content)


def as_table(data: bytes) -> Table:
    """Return what a file says."""
    return read_table(data)


def send(client: Client, where: str, data: bytes, **choices: str) -> Any:
    """Send a file and return the preview."""
    file = SimpleUploadedFile("anything.bin", data)
    return client.post(where, {"file": file, **choices})


def confirm(client: Client, where: str, preview: Any, then: str = "import", **typed: str) -> Any:
    """Press a button of the preview, with the cells as shown but for those typed."""
    return client.post(where, fields_of(preview) | {"then": then} | typed)


def take_in(client: Client, where: str, data: bytes, **choices: str) -> Any:
    """Send a file and import it; what is wrong in it fails the test."""
    preview = send(client, where, data, **choices)
    assert preview.status_code == 200, preview.content.decode()
    done = confirm(client, where, preview)
    assert done.status_code == 302, done.content.decode()
    return done


def csv_of(*rows: str) -> bytes:
    """Return lines as a file."""
    return "\n".join(rows).encode()
