"""Runs the benchmarks in a database of their own and prints each as a ratio to its baseline."""

import importlib
import inspect
import os
import pkgutil
import tempfile
from argparse import ArgumentParser
from pathlib import Path
from types import ModuleType
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.test.utils import override_settings, setup_databases, teardown_databases

PREFIX = "bench_"
NO_MAIL = "django.core.mail.backends.dummy.EmailBackend"
PACKAGE = "tests.benchmarks"
HEADING = f"{'':<44}{'time':>12}{'baseline':>12}{'ratio':>9}{'aim':>6}    note"


class Command(BaseCommand):
    """Measure; the user's own database is never opened for it."""

    help = "Run tests/benchmarks/bench_*.py and print a table with ratios to the baseline."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the choice of benchmark and the path of outside instances."""
        parser.add_argument("--only", metavar="NAME", help="run bench_NAME.py alone")
        parser.add_argument(
            "--once", action="store_true", help="measure once, to see that all of it runs"
        )
        parser.add_argument(
            "--instances",
            metavar="PATH",
            type=Path,
            help="file or folder of problem instances, for the benchmarks that take one",
        )

    def handle(
        self, *args: Any, only: str | None, once: bool, instances: Path | None, **options: Any
    ) -> None:
        """Run the benchmarks that were asked for."""
        names = benchmark_names()
        if only is not None:
            if only not in names:
                known = ", ".join(names) or "none"
                raise CommandError(f"There is no benchmark {only!r}. Known: {known}.")
            names = [only]
        if instances is not None and not instances.exists():
            raise CommandError(f"--instances {instances} does not exist.")
        importlib.import_module(PACKAGE).__dict__["is_once"] = once
        with tempfile.TemporaryDirectory(prefix="pleat-bench-") as folder:
            connection.settings_dict["TEST"]["NAME"] = temporary_name(Path(folder))
            databases = setup_databases(verbosity=0, interactive=False)
            try:
                # Not Django's test environment: it takes notes of each template that is rendered,
                # which costs more the more parts a page has and is not there when it is served.
                with override_settings(DEBUG=False, EMAIL_BACKEND=NO_MAIL):
                    for name in names:
                        self.run_one(name, instances)
            finally:
                teardown_databases(databases, verbosity=0)

    def run_one(self, name: str, instances: Path | None) -> None:
        """Print the table of one benchmark row by row, so that a long one shows its progress."""
        module = importlib.import_module(f"{PACKAGE}.{PREFIX}{name}")
        self.stdout.write(f"\n{name}: {first_line(module)}")
        self.stdout.write(HEADING)
        takes_instances = "instances" in inspect.signature(module.run).parameters
        rows = module.run(instances=instances) if takes_instances else module.run()
        shown = []
        for row in rows:
            shown.append(row)
            self.stdout.write(row_line(row))
            self.stdout.flush()
        if any(row.at_most is not None for row in shown):
            self.stdout.write(missed_line(shown))


def benchmark_names() -> list[str]:
    """Return the names of the benchmarks that are there, sorted."""
    folder = importlib.import_module(PACKAGE).__path__
    return sorted(
        module.name.removeprefix(PREFIX)
        for module in pkgutil.iter_modules(folder)
        if module.name.startswith(PREFIX)
    )


def temporary_name(folder: Path) -> str:
    """Name the temporary database so that it meets neither the user's nor another run's."""
    if connection.vendor == "sqlite":
        # A real file, as in use: in memory the numbers would flatter.
        return str(folder / "bench.sqlite3")
    return f"pleat_bench_{os.getpid()}"


def first_line(module: ModuleType) -> str:
    """Return what the benchmark says it measures."""
    return (module.__doc__ or "").strip().partition("\n")[0]


def row_line(row: Any) -> str:
    """Lay out one measured row, marked where it takes longer than it may."""
    baseline = milliseconds(row.baseline_seconds) if row.baseline_seconds else ""
    ratio = "" if row.ratio is None else f"{row.ratio:.2f}"
    aim = "" if row.at_most is None else f"{row.at_most:g}"
    missed = " !" if row.is_missed else ""
    return (
        f"{row.name:<44}{milliseconds(row.seconds):>12}{baseline:>12}{ratio:>9}{aim:>6}{missed:<2}"
        f"  {row.note}"
    ).rstrip()


def missed_line(rows: list[Any]) -> str:
    """Count what missed its aim and name the worst."""
    with_aim = [row for row in rows if row.at_most is not None]
    missed = [row for row in with_aim if row.is_missed]
    said = f"{len(missed)} of {len(with_aim)} take longer than they may (!)"
    if not missed:
        return said
    worst = max(missed, key=lambda row: row.ratio / row.at_most)
    return f"{said}, most of all {worst.name}: {worst.ratio:.2f} times, aim {worst.at_most:g}"


def milliseconds(seconds: float) -> str:
    """Write a time in milliseconds."""
    return f"{seconds * 1000:.2f} ms"
