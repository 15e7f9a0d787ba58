"""A database on another computer is reached by TLS, and only if it is the one that was meant."""

import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote, urlencode, urlsplit

import psycopg
import pytest

from maker.phone.certificates import authority_file, ensure_certificates, server_file
from maker.setup.postgres import private_postgres

NAME = "pleat-database.local"
READ = """
from maker.settings import DATABASES
options = DATABASES["default"]["OPTIONS"]
print(options.get("sslmode"), options.get("sslrootcert"))
"""
ASK = """
import django
django.setup()
from django.db import connection
with connection.cursor() as cursor:
    cursor.execute("SELECT ssl FROM pg_stat_ssl WHERE pid = pg_backend_pid()")
    print(*cursor.fetchone())
"""


def python(code: str, url: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run it with the settings of the program and this address of a database."""
    env = os.environ | {
        "DATABASE_URL": url,
        "DATA_DIR": str(folder / "data"),
        "DJANGO_SETTINGS_MODULE": "maker.settings",
    }
    return subprocess.run(
        [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize(
    ("where", "asked"),
    [
        ("postgres://p:w@db.example.test/pleat", "verify-full /etc/ssl/certs/ca-certificates.crt"),
        ("postgres://p:w@10.0.0.7:5433/pleat", "verify-full /etc/ssl/certs/ca-certificates.crt"),
        ("postgres://p:w@db.example.test/pleat?sslmode=disable", "disable None"),
        ("postgres://p:w@localhost/pleat", "None None"),
        ("postgres://p@%2Frun%2Fpostgresql/pleat", "None None"),
    ],
)
def test_what_goes_over_a_network_is_sealed_unless_the_address_says_otherwise(
    where: str, asked: str, tmp_path: Path
) -> None:
    assert python(READ, where, tmp_path).stdout.strip() == asked


@pytest.fixture
def port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture
def certified(tmp_path: Path, port: int) -> Iterator[int]:
    """Run a server whose certificate says that it is NAME."""
    ensure_certificates(tmp_path, [NAME])
    with private_postgres(more=listening(port)) as url:
        folder = Path(unquote(urlsplit(url).netloc.partition("@")[2]))
        key = folder / "key.pem"
        shutil.copy(server_file(tmp_path), key)
        # it is read by whoever the server runs as, and by nobody else
        os.chown(key, folder.stat().st_uid, folder.stat().st_gid)
        key.chmod(0o600)
        with psycopg.connect(url, port=port, autocommit=True) as server:
            for setting, value in (("ssl_cert_file", key), ("ssl_key_file", key), ("ssl", "on")):
                server.execute(f"ALTER SYSTEM SET {setting} = '{value}'")
            server.execute("SELECT pg_reload_conf()")
        yield port


def listening(port: int) -> tuple[str, ...]:
    """Return what makes a server listen as one on another computer does."""
    return "listen_addresses=127.0.0.1", f"port={port}"


def reached_as(name: str, port: int, authority: Path | None) -> str:
    """Return the address of the server that listens here, as one of another computer."""
    said = {"hostaddr": "127.0.0.1"}
    if authority:
        said |= {"sslmode": "verify-full", "sslrootcert": str(authority)}
    return f"postgres://pleat@{name}:{port}/postgres?{urlencode(said)}"


@pytest.mark.slow
def test_only_the_server_that_the_certificate_names_is_spoken_to(
    certified: int, tmp_path: Path
) -> None:
    authority = authority_file(tmp_path)
    assert python(ASK, reached_as(NAME, certified, authority), tmp_path).stdout.strip() == "True"
    other = python(ASK, reached_as("another.local", certified, authority), tmp_path)
    assert "does not match host name" in other.stderr
    unknown = python(ASK, reached_as(NAME, certified, None), tmp_path)
    assert "certificate verify failed" in unknown.stderr


@pytest.mark.slow
def test_a_server_that_seals_nothing_is_not_spoken_to(port: int, tmp_path: Path) -> None:
    with private_postgres(more=listening(port)):
        answer = python(ASK, reached_as(NAME, port, None), tmp_path)
    assert "server does not support SSL" in answer.stderr
