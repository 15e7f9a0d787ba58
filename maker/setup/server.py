"""`start`: finds the port free, then keeps gunicorn and what does slow work running together."""

import ctypes
import errno
import os
import signal
import socket
import subprocess
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from types import FrameType
from typing import Any

from maker.setup.place import MachineNotReady, environment_python, say

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

MOST_WORKERS = 64
LOOK_EVERY_S = 2.0
PATIENCE_S = 10.0
PR_SET_PDEATHSIG = 1  # linux/prctl.h
ANY_ADDRESS = ("0.0.0.0", "::")  # noqa: S104 - only compared with


class PortNotUsable(MachineNotReady):
    """The address cannot be listened on; another one can."""


def listen(host: str, port: int) -> socket.socket:
    """Return a listening socket, or say who is in the way and how to go round it."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
    except socket.gaierror as error:
        raise PortNotUsable(
            f"{host} is not an address of this machine: leave --host out, or use --host 0.0.0.0 "
            "to be reached from other devices."
        ) from error
    listener = socket.socket(family, kind, protocol)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(address)
        listener.listen(128)
    except OSError as error:
        listener.close()
        raise PortNotUsable(_why_not(error, host, port)) from error
    return listener


def make_sure_port_is_free(host: str, port: int) -> None:
    """Refuse early, before minutes of installing, when the port is taken."""
    listen(host, port).close()


def _why_not(error: OSError, host: str, port: int) -> str:
    if error.errno == errno.EADDRINUSE:
        return (
            f"Port {port} on {host} is taken, perhaps by Pleat & Penny itself: open "
            f"{address_of(host, port)}, or run `python3 manage.py start --port "
            f"{_free_port_after(host, port)}`."
        )
    if error.errno == errno.EACCES:
        return (
            f"Port {port} is reserved for root: run `python3 manage.py start --port "
            f"{_free_port_after(host, max(port, 7999))}`."
        )
    return (
        f"{host} is not an address of this machine ({error.strerror}): leave --host out, or use "
        "--host 0.0.0.0 to be reached from other devices."
    )


def _free_port_after(host: str, port: int) -> int:
    for candidate in range(port + 1, min(port + 200, 65536)):
        with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
            try:
                probe.bind((host, candidate))
            except OSError:
                continue
            return candidate
    return 8000 if port != 8000 else 8001


def address_of(host: str, port: int) -> str:
    """Return what to type into a browser to reach this host and port."""
    name = own_network_address() if host in ANY_ADDRESS else host
    return f"http://{f'[{name}]' if ':' in name else name}:{port}"


def own_network_address() -> str:
    """Return this machine's address on its network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address reserved for documentation (RFC 5737): only the route to it is asked for.
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def allowed_hosts(host: str) -> str:
    """Return the host names the app must answer to when it listens on this host."""
    names = ["127.0.0.1", "localhost", "[::1]"]
    if host in ANY_ADDRESS:
        machine = socket.gethostname()
        names += [own_network_address(), machine, f"{machine}.local"]
    else:
        names.append(f"[{host}]" if ":" in host else host)
    return ",".join(dict.fromkeys(names))


def number_of_workers() -> int:
    """Return how many processes do slow work beside the server; 0 where they run elsewhere."""
    text = os.environ.get("SLOW_WORKERS", "1")
    if not (text.isdecimal() and int(text) <= MOST_WORKERS):
        raise MachineNotReady(
            f"SLOW_WORKERS is {text!r}: use a whole number from 0 to {MOST_WORKERS}."
        )
    return int(text)


class Together:
    """The server and its workers: they start together, a dead worker is replaced, and all end."""

    def __init__(self, env: dict[str, str], descriptor: int) -> None:
        self.env, self.descriptor = env, descriptor
        self.server: subprocess.Popen[bytes] | None = None
        self.workers: dict[subprocess.Popen[bytes], list[str]] = {}
        self.is_over = False

    def run(self, serving: list[str], working: Sequence[list[str]]) -> int:
        """Run until the server ends, by itself or because this process is told to."""
        for signum in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(signum, self._pass_on)
        self.server = subprocess.Popen(serving, env=self.env, pass_fds=(self.descriptor,), **_BOUND)
        # the port belongs to the server now, and is free as soon as that ends
        os.close(self.descriptor)
        for command in working:
            self._begin(command)
        while self.server.poll() is None:
            self._replace_dead_workers()
            with suppress(subprocess.TimeoutExpired):
                self.server.wait(LOOK_EVERY_S)
        self.is_over = True
        self._end_workers()
        return max(self.server.returncode, 0)

    def _begin(self, command: list[str]) -> None:
        self.workers[subprocess.Popen(command, env=self.env, **_BOUND)] = command

    def _replace_dead_workers(self) -> None:
        for worker in [each for each in self.workers if each.poll() is not None]:
            command = self.workers.pop(worker)
            if not self.is_over:
                say(f"A worker ended ({worker.returncode}); another one goes on with its work.")
                self._begin(command)

    def _end_workers(self) -> None:
        for worker in self.workers:
            worker.terminate()
        for worker in self.workers:
            try:
                worker.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                worker.kill()
                worker.wait()

    def _pass_on(self, signum: int, frame: FrameType | None) -> None:
        # the terminal tells Ctrl-C to all, a service manager only to this process
        self.is_over = True
        if self.server is not None:
            self.server.send_signal(signal.SIGINT if signum == signal.SIGINT else signal.SIGTERM)


def _end_with_parent() -> None:
    """Ask the system to end this new process when the one that started it is gone, however."""
    ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


_BOUND: dict[str, Any] = {"preexec_fn": _end_with_parent}


def serve(root: Path, host: str, port: int) -> int:
    """Serve until stopped, with workers beside it; return gunicorn's exit code."""
    workers = number_of_workers()
    listener = listen(host, port)
    descriptor = listener.detach()
    os.set_inheritable(descriptor, True)
    python = str(environment_python(root))
    env = {
        **os.environ,
        "ALLOWED_HOSTS": os.environ.get("ALLOWED_HOSTS") or allowed_hosts(host),
        "PLEAT_ADDRESS": address_of(host, port),
    }
    os.chdir(root)
    serving = [
        python,
        "-m",
        "gunicorn",
        "--config=python:maker.setup.serving",
        f"--bind=fd://{descriptor}",
        "maker.wsgi:application",
    ]
    working = [python, str(root / "manage.py"), "work"]
    return Together(env, descriptor).run(serving, [working] * workers)
