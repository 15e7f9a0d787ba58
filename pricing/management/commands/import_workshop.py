"""Makes a workshop from a file written by `export_workshop`."""

from argparse import ArgumentParser
from typing import Any

from maker.activity.models import Event
from maker.activity.services import record
from maker.calc.strict_json import parse
from maker.management.json_command import JsonCommand, content_of
from pricing.workshop_file.choosing import person_named
from pricing.workshop_file.pictures import LARGEST_ZIP, import_with_pictures, taken_apart
from pricing.workshop_file.services import LISTS


class Command(JsonCommand):
    """Import one workshop, whole or not at all."""

    paths = frozenset({"file"})
    help = (
        "Create a workshop from an export_workshop file; nothing is created if anything is wrong."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the file, the new name and the owner."""
        parser.add_argument("file", metavar="FILE", help="the file to read; - reads standard input")
        parser.add_argument("--as", metavar="NAME", dest="name", help="name of the new workshop")
        parser.add_argument(
            "--owner", metavar="EMAIL", help="email of its owner; members are not in the file"
        )

    def answer(self, **options: Any) -> dict[str, Any]:
        """Import the file and say what came in."""
        content, beside = taken_apart(content_of(options["file"], LARGEST_ZIP))
        document = parse(content)
        owner = person_named(options["owner"]) if options["owner"] else None
        workshop = import_with_pictures(document, beside, name=options["name"], owner=owner)
        record(Event.Kind.IMPORTED, workshop=workshop, user=owner, about="workshop file")
        return {
            "workshop": workshop.name,
            "address": workshop.slug,
            "owner": owner.email if owner else None,
            "rows": {key: len(document.get(key, [])) for key in LISTS},
        }
