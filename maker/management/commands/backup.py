"""Writes a whole copy of the installation into one archive."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from maker.activity.models import Event
from maker.activity.services import record
from maker.backup.services import back_up
from maker.management.json_command import JsonCommand


class Command(JsonCommand):
    """Make a copy; it may be made while others work."""

    paths = frozenset({"file"})
    help = "Copy everything of this installation into one archive, and read it back."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add where to."""
        parser.add_argument(
            "file",
            metavar="FILE",
            nargs="?",
            help="file or folder to write into; without one the folder of copies",
        )

    def answer(self, **options: Any) -> dict[str, Any]:
        """Make the copy and say where it is."""
        target = Path(options["file"]).absolute() if options["file"] else None
        made = back_up(reason="by-hand", target=target)
        record(Event.Kind.BACKED_UP, about=made.path.name)
        facts = made.manifest.facts
        return {
            "file": str(made.path),
            "bytes": made.size,
            "made_at": facts.made_at.isoformat(),
            "program": facts.program,
            "database": facts.database,
        }
