"""The commands that work before anything is installed, and the way to all others."""

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

import argparse
import gc
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from maker.setup.environment_variables import WrongSetting
from maker.setup.place import (
    ROOT,
    MachineNotReady,
    answer,
    ensure_data_folder,
    environment_python,
    inside_environment,
    say,
)

# What only some of the commands need is loaded by them.
if TYPE_CHECKING:
    from maker.setup.machine import SystemPart

STOPPED_BY_CTRL_C = 130
HOME_NETWORK = "0.0.0.0"  # noqa: S104 - asked for by a flag alone
USAGE = """\
python3 manage.py start     set up what is missing and serve the workshop
python3 manage.py setup     set up what is missing, without serving
python3 manage.py verify    set up the test tools too and run every check
python3 manage.py help      every other command
"""


def run(words: Sequence[str]) -> int:
    """Run a command of manage.py and return its exit code."""
    try:
        return _dispatch(list(words))
    except MachineNotReady as refusal:
        say(refusal.message)
        return 1
    except KeyboardInterrupt:
        say("Stopped. Run the same command again to go on.")
        return STOPPED_BY_CTRL_C


def _dispatch(words: list[str]) -> int:
    if not words:
        answer(USAGE.rstrip())
        return 0
    own = {"start": _start, "setup": _setup, "verify": _verify}.get(words[0])
    if own:
        return own(words[1:])
    if not inside_environment(ROOT):
        _make_ready_to_run()
        python = str(environment_python(ROOT))
        os.execv(python, [python, str(ROOT / "manage.py"), *words])  # noqa: S606 - no shell
    return _run_django(words)


def _start(words: list[str]) -> int:
    from maker.setup import at_boot, server

    parser = argparse.ArgumentParser(prog="manage.py start", description="Serve the workshop.")
    parser.add_argument(
        "--host",
        nargs="?",
        const=HOME_NETWORK,
        help="listen on this address; without one, on the home network",
    )
    parser.add_argument("--port", type=_port, default=8000)
    parser.add_argument(
        "--https",
        action="store_true",
        help="serve the home network by HTTPS, with a certificate made here",
    )
    boot = parser.add_mutually_exclusive_group()
    boot.add_argument(
        "--at-boot", action="store_true", help="start like this whenever the machine does"
    )
    boot.add_argument("--not-at-boot", action="store_true", help="undo that")
    options = parser.parse_args(words)
    if options.not_at_boot:
        return at_boot.remove()
    host = options.host or (HOME_NETWORK if options.https else "127.0.0.1")
    if not (options.at_boot and at_boot.unit_file().exists()):
        server.make_sure_port_is_free(host, options.port)
    server.wait_for_network(host)
    names = server.names_to_certify(host) if options.https else []
    code = _prepare("--with-demo", *(f"--certify={name}" for name in names))
    if code:
        return code
    if options.at_boot:
        said = [f"--host={host}", f"--port={options.port}", *["--https"] * options.https]
        return at_boot.write(ROOT, said)
    return server.serve(ROOT, host, options.port, https=options.https)


def _setup(words: list[str]) -> int:
    argparse.ArgumentParser(
        prog="manage.py setup", description="Install everything and bring the database up to date."
    ).parse_args(words)
    return _prepare()


def _verify(words: list[str]) -> int:
    from maker.setup import environment, machine
    from maker.setup.verify import checks, verify

    parser = argparse.ArgumentParser(prog="manage.py verify", description="Run every check.")
    names = [check.name for check in checks(ROOT)]
    parser.add_argument(
        "--only", action="append", default=[], choices=names, help="run this check; may be repeated"
    )
    parser.add_argument(
        "--thorough", action="store_true", help="try more examples, which takes hours"
    )
    options = parser.parse_args(words)
    if options.thorough:
        os.environ["THOROUGH"] = "1"
    _ensure_installed(environment.TO_VERIFY, (*machine.PARTS_TO_RUN, *machine.PARTS_TO_VERIFY))
    return verify(ROOT, options.only)


def _prepare(*flags: str) -> int:
    """Install what is missing and bring the data up to date; return the exit code."""
    from maker.setup.environment import one_at_a_time

    data = ensure_data_folder(ROOT)
    _make_ready_to_run()
    command = [str(environment_python(ROOT)), str(ROOT / "manage.py"), "prepare", *flags]
    # starts with other data need not wait for this one
    with one_at_a_time(data):
        return subprocess.run(command, check=False).returncode


def _make_ready_to_run() -> None:
    from maker.setup import environment, machine

    _ensure_installed(environment.TO_RUN, machine.PARTS_TO_RUN)


def _ensure_installed(requirements: Sequence[str], parts: Sequence["SystemPart"]) -> None:
    """Bring the machine and `.venv` to where the requirements need them."""
    from maker.setup import environment, machine

    if environment.environment_is_complete(ROOT, requirements):
        parts = [part for part in parts if part is not machine.VENV_PART]
    else:
        environment.ensure_folder_is_writable(ROOT)
    machine.ensure_parts(parts)
    environment.ensure_environment(ROOT, requirements)


def _port(text: str) -> int:
    number = int(text) if text.isdecimal() else 0
    if not 1 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port: use a number from 1 to 65535")
    return number


def _run_django(words: list[str]) -> int:
    """Run a Django command; this is the only place that needs more than the standard library."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "maker.settings")
    # Loading leaves no rubbish; to look for it takes a tenth of the start. Ended in `maker.apps`.
    gc.disable()
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line([str(Path(sys.argv[0])), *words])
    except (WrongSetting, ImproperlyConfigured) as error:
        say(f"The settings of this installation are wrong: {error}")
        return 1
    return 0
