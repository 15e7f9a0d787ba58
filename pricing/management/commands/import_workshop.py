"""Makes a workshop from a file written by `export_workshop`."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from maker.activity.models import Event
from maker.activity.services import record
from maker.management.json_command import JsonCommand
from pricing.workshop_file.choosing import person_named
from pricing.workshop_file.reading import LARGEST_FILE, WorkshopFileRefused, parse
from pricing.workshop_file.services import LISTS, import_workshop


class Command(JsonCommand):
    """Import one workshop, whole or not at all."""

    paths = frozenset({"file"})
    help = "Make a workshop from an export_workshop file; refused whole when anything is wrong."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the file, the new name and the owner."""
        parser.add_argument("file", metavar="FILE", help="the file to read")
        parser.add_argument("--as", metavar="NAME", dest="name", help="name of the new workshop")
        parser.add_argument(
            "--owner", metavar="EMAIL", help="who becomes its owner; people are not in the file"
        )

    def answer(self, **options: Any) -> dict[str, Any]:
        """Import the file and say what came in."""
        document = parse(_content(Path(options["file"])))
        owner = person_named(options["owner"]) if options["owner"] else None
        workshop = import_workshop(document, name=options["name"], owner=owner)
        record(Event.Kind.IMPORTED, workshop=workshop, user=owner, about="workshop file")
        return {
            "workshop": workshop.name,
            "address": workshop.slug,
            "owner": owner.email if owner else None,
            "rows": {key: len(document.get(key, [])) for key in LISTS},
        }


def _content(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise WorkshopFileRefused(
            f"The file cannot be read: {error.strerror}.", where=str(path)
        ) from error
