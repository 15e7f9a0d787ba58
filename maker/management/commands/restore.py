"""Puts a copy made by `backup` in the place of what is there."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from maker.activity.models import Event
from maker.activity.services import record
from maker.backup.services import restore
from maker.management.json_command import JsonCommand


class Command(JsonCommand):
    """Restore a copy, whole or not at all."""

    paths = frozenset({"file"})
    help = "Restore a copy of everything; what it replaces is copied first."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the archive and the consent."""
        parser.add_argument("file", metavar="FILE", help="an archive made by backup")
        parser.add_argument(
            "--replace", action="store_true", help="put it in the place of data that are here"
        )

    def answer(self, **options: Any) -> dict[str, Any]:
        """Restore it and say where a copy of what it replaced lies."""
        done = restore(Path(options["file"]).absolute(), replace=options["replace"])
        facts = done.manifest.facts
        record(Event.Kind.RESTORED, about=f"of {facts.made_at:%Y-%m-%d %H:%M} UTC")
        return {
            "restored": options["file"],
            "made_at": facts.made_at.isoformat(),
            "program": facts.program,
            "replaced_kept_in": str(done.kept) if done.kept else None,
        }
