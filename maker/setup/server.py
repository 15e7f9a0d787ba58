"""`start`: finds the port free, then keeps gunicorn and what does slow work running together."""

import ctypes
import errno
import os
import signal
import socket
import subprocess
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType
from typing import Any

from maker.setup.place import MachineNotReady, environment_python, say
from maker.setup.processes import heavy_processes, slow_workers, web_processes

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

LOOK_EVERY_S = 2.0
PATIENCE_S = 10.0
NETWORK_PATIENCE_S = 60.0
NO_NETWORK = "127.0.0.1"
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
            f"{free_port_after(host, port)}`."
        )
    if error.errno == errno.EACCES:
        return (
            f"Port {port} is reserved for root: run `python3 manage.py start --port "
            f"{free_port_after(host, max(port, 7999))}`."
        )
    return (
        f"{host} is not an address of this machine ({error.strerror}): leave --host out, or use "
        "--host 0.0.0.0 to be reached from other devices."
    )


def free_port_after(host: str, port: int) -> int:
    """Return a port above this one that nobody listens on."""
    for candidate in range(port + 1, min(port + 200, 65536)):
        with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
            try:
                probe.bind((host, candidate))
            except OSError:
                continue
            return candidate
    return 8000 if port != 8000 else 8001


def address_of(host: str, port: int, scheme: str = "http") -> str:
    """Return what to type into a browser to reach this host and port."""
    name = name_of(host)
    return f"{scheme}://{f'[{name}]' if ':' in name else name}:{port}"


def name_of(host: str) -> str:
    """Return the address other devices reach this host by."""
    return own_network_address() if host in ANY_ADDRESS else host


def is_only_here(host: str) -> bool:
    """Say whether no other device can reach what listens on this host."""
    return name_of(host) in (NO_NETWORK, "localhost", "::1")


def wait_for_network(host: str) -> None:
    """Where a service manager starts this, the network may come up only after it."""
    ends = time.monotonic() + NETWORK_PATIENCE_S
    while (
        host in ANY_ADDRESS
        and "INVOCATION_ID" in os.environ  # systemd.exec(5)
        and is_only_here(host)
        and time.monotonic() < ends
    ):
        time.sleep(1)


def own_network_address() -> str:
    """Return this machine's address on its network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address reserved for documentation (RFC 5737): only the route to it is asked for.
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return NO_NETWORK
        return str(probe.getsockname()[0])


def allowed_hosts(host: str) -> str:
    """Return the host names the app must answer to when it listens on this host."""
    names = ["127.0.0.1", "localhost", "[::1]"]
    if host in ANY_ADDRESS:
        names += [own_network_address(), socket.gethostname(), name_on_network()]
    else:
        names.append(f"[{host}]" if ":" in host else host)
    return ",".join(dict.fromkeys(names))


def name_on_network() -> str:
    """Return the name that other devices find this machine by without a name server (RFC 6762)."""
    return f"{socket.gethostname().partition('.')[0]}.local"


def names_to_certify(host: str) -> list[str]:
    """Return what the certificate must cover, what is printed first."""
    names = [name_of(host), *allowed_hosts(host).split(",")]
    names += os.environ.get("ALLOWED_HOSTS", "").split(",")
    plain = [name.strip().strip("[]") for name in names]
    return list(dict.fromkeys(name for name in plain if name and not name.startswith((".", "*"))))


@dataclass(frozen=True, slots=True)
class Beside:
    """A process that runs beside the server."""

    command: list[str]
    env: dict[str, str]
    # sockets it takes over
    descriptors: Sequence[int] = ()


class Together:
    """The server and its workers: they start together, a dead worker is replaced, and all end."""

    def __init__(self, env: dict[str, str], descriptor: int) -> None:
        self.env, self.descriptor = env, descriptor
        self.server: subprocess.Popen[bytes] | None = None
        self.workers: dict[subprocess.Popen[bytes], Beside] = {}
        self.is_over = False

    def run(self, serving: list[str], beside: Sequence[Beside]) -> int:
        """Run until the server ends, by itself or because this process is told to."""
        for signum in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(signum, self._pass_on)
        self.server = subprocess.Popen(serving, env=self.env, pass_fds=(self.descriptor,), **_BOUND)
        # the port belongs to the server now, and is free as soon as that ends
        os.close(self.descriptor)
        for one in beside:
            self._begin(one)
        while self.server.poll() is None:
            self._replace_dead_workers()
            with suppress(subprocess.TimeoutExpired):
                self.server.wait(LOOK_EVERY_S)
        self.is_over = True
        self._end_workers()
        return max(self.server.returncode, 0)

    def _begin(self, one: Beside) -> None:
        process = subprocess.Popen(one.command, env=one.env, pass_fds=one.descriptors, **_BOUND)
        self.workers[process] = one

    def _replace_dead_workers(self) -> None:
        for worker in [each for each in self.workers if each.poll() is not None]:
            one = self.workers.pop(worker)
            if not self.is_over:
                say(f"A worker ended ({worker.returncode}); another one goes on with its work.")
                self._begin(one)

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


def serve(root: Path, host: str, port: int, *, https: bool = False) -> int:
    """Serve until stopped, with workers beside it; return gunicorn's exit code."""
    workers, heavy = slow_workers(), heavy_processes()
    web_processes()  # said wrong, it is one line here
    served = _kept_open(listen(host, port))
    python = str(environment_python(root))
    # named from where the command was given, not from the project's folder
    data = Path(os.environ.get("DATA_DIR") or root / "var").absolute()
    env = {**os.environ, "DATA_DIR": str(data)}
    env |= _addresses(host, port, "https" if https else "http")
    env["ALLOWED_HOSTS"] = os.environ.get("ALLOWED_HOSTS") or allowed_hosts(host)
    gunicorn = [python, "-m", "gunicorn", "--config=python:maker.setup.serving"]
    serving = [*gunicorn, f"--bind=fd://{served}"]
    beside = []
    if https:
        # the server itself has the certificate: no proxy before it, and nothing for browsers to
        # remember of an address that may be another machine's tomorrow
        env |= {"HTTPS": "1", "BEHIND_PROXY": "0", "HSTS_DAYS": "0", "HSTS_PRELOAD": "0"}
        kept = data / "https" / "server.pem"
        serving += [f"--certfile={kept}", f"--keyfile={kept}"]
        door_port = free_port_after(host, port)
        door = _kept_open(listen(host, door_port))
        env["PLEAT_FIRST_VISIT"] = address_of(host, door_port)
        small = [*gunicorn, "--workers=1", "--threads=4", f"--bind=fd://{door}"]
        beside.append(Beside([*small, "maker.phone.door:application"], env, (door,)))
    os.chdir(root)
    application = "maker.wsgi:application"
    beside += [Beside([python, str(root / "manage.py"), "work"], env)] * workers
    with TemporaryDirectory(prefix="pleat-", dir=_short_folder()) as folder:
        if heavy:
            path = str(Path(folder) / "heavy")
            taking_over = env | {"PLEAT_TAKES_OVER": "1"}
            beside.append(Beside([*gunicorn, f"--bind=unix:{path}", application], taking_over))
            env = env | {"PLEAT_HEAVY_AT": path}
        return Together(env, served).run([*serving, application], beside)


def _kept_open(listener: socket.socket) -> int:
    descriptor = listener.detach()
    os.set_inheritable(descriptor, True)
    return descriptor


def _addresses(host: str, port: int, scheme: str) -> dict[str, str]:
    by_name = host in ANY_ADDRESS and not is_only_here(host)
    return {
        "PLEAT_ADDRESS": address_of(host, port, scheme),
        "PLEAT_NAME_ADDRESS": f"{scheme}://{name_on_network()}:{port}" if by_name else "",
    }


def _short_folder() -> str | None:
    """Return where sockets go: in memory, and with a name short enough for one (107 letters)."""
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # noqa: S108 - made closed
