"""`start`: finds the port free, then hands over to gunicorn."""

import errno
import os
import socket
from pathlib import Path

from maker.setup.place import MachineNotReady, environment_python

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


def serve(root: Path, host: str, port: int) -> None:
    """Become gunicorn; signals then reach it directly, so Ctrl-C ends it cleanly."""
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
    os.execve(  # noqa: S606 - a fixed program, no shell
        python,
        [
            python,
            "-m",
            "gunicorn",
            "--config=python:maker.setup.serving",
            f"--bind=fd://{descriptor}",
            "maker.wsgi:application",
        ],
        env,
    )
