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
from django.test.utils import (
    setup_databases,
    setup_test_environment,
    teardown_databases,
    teardown_test_environment,
)

PREFIX = "bench_"
PACKAGE = "tests.benchmarks"


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
            setup_test_environment(debug=False)
            databases = setup_databases(verbosity=0, interactive=False)
            try:
                for name in names:
                    self.run_one(name, instances)
            finally:
                teardown_databases(databases, verbosity=0)
                teardown_test_environment()

    def run_one(self, name: str, instances: Path | None) -> None:
        """Print the table of one benchmark row by row, so that a long one shows its progress."""
        module = importlib.import_module(f"{PACKAGE}.{PREFIX}{name}")
        self.stdout.write(f"\n{name}: {first_line(module)}")
        self.stdout.write(f"{'':<44}{'time':>12}{'baseline':>12}{'ratio':>9}  note", ending="\n")
        takes_instances = "instances" in inspect.signature(module.run).parameters
        rows = module.run(instances=instances) if takes_instances else module.run()
        for row in rows:
            self.stdout.write(row_line(row))
            self.stdout.flush()


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
    """Lay out one measured row."""
    baseline = ratio = ""
    if row.baseline_seconds:
        baseline = milliseconds(row.baseline_seconds)
        ratio = f"{row.seconds / row.baseline_seconds:.2f}"
    return (
        f"{row.name:<44}{milliseconds(row.seconds):>12}{baseline:>12}{ratio:>9}  {row.note}"
    ).rstrip()


def milliseconds(seconds: float) -> str:
    """Write a time in milliseconds."""
    return f"{seconds * 1000:.2f} ms"
