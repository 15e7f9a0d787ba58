"""Writes everything of one workshop into one JSON file."""

import os
import tempfile
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from maker.activity.models import Event
from maker.activity.services import record
from maker.calc.refusal import Refusal
from maker.management.json_command import JsonCommand
from pricing.workshop_file.choosing import workshop_named
from pricing.workshop_file.pictures import with_pictures
from pricing.workshop_file.services import LISTS, document_text, export_workshop


class FileNotWritten(Refusal):
    """The file cannot be written where it was asked for."""


class Command(JsonCommand):
    """Export one workshop; an older file of the name is replaced whole or stays as it is."""

    paths = frozenset({"file"})
    help = "Write a workshop, without its members, to one JSON file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the file and the workshop."""
        parser.add_argument(
            "file",
            metavar="FILE",
            help="the file to write; one ending in .zip holds uploaded pictures as well",
        )
        parser.add_argument("--workshop", metavar="W", help="name or address of the workshop")

    def answer(self, **options: Any) -> dict[str, Any]:
        """Write the file and say what is in it."""
        workshop = workshop_named(options["workshop"])
        document = export_workshop(workshop)
        path, content = Path(options["file"]), document_text(document)
        zipped = with_pictures(workshop, content) if path.suffix == ".zip" else None
        _write_whole(path, zipped or content.encode())
        record(Event.Kind.EXPORTED, workshop=workshop, about="workshop file")
        return {
            "file": options["file"],
            "workshop": document["workshop"]["name"],
            "rows": {key: len(document[key]) for key in LISTS},
        }


def _write_whole(path: Path, content: bytes) -> None:
    """Write beside the file first, so that a full disk leaves the older file alone."""
    try:
        if path.is_dir():
            raise FileNotWritten("The file can't be written: that is a folder.", where=str(path))
        if path.exists() and not path.is_file():
            path.write_bytes(content)  # a pipe or a device
            return
        handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(beside).chmod(0o600)  # names, addresses and prices: for its owner only
            Path(beside).replace(path)
        finally:
            Path(beside).unlink(missing_ok=True)
    except OSError as error:
        raise FileNotWritten(
            f"The file can't be written: {error.strerror}.", where=str(path)
        ) from error
