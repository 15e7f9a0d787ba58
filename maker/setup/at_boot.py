"""`start --at-boot`: a systemd user unit that serves the workshop whenever the machine runs."""

import getpass
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from maker.setup.place import MachineNotReady, answer, ensure_data_folder, say

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

UNIT = "pleat-and-penny.service"
# What `start` was told by the environment, the same the next time; README.md lists them.
SETTINGS = (
    "DATA_DIR",
    "FILES_DIR",
    "DATABASE_URL",
    "SECRET_KEY",
    "OLD_SECRET_KEYS",
    "ALLOWED_HOSTS",
    "CSRF_TRUSTED_ORIGINS",
    "OUTSIDE_ADDRESS",
    "BACKUP_SECOND_DIR",
    "LEAST_FREE_MB",
    "WEB_PROCESSES",
    "HEAVY_PROCESSES",
    "REQUEST_SECONDS",
    "CHANGES_A_MINUTE",
    "SLOW_WORKERS",
    "HTTPS",
    "HSTS_DAYS",
    "HSTS_SUBDOMAINS",
    "HSTS_PRELOAD",
    "BEHIND_PROXY",
    "LOG_ADDRESSES",
    "LOG_DAYS",
    "TIME_ZONE",
    "LOG_LEVEL",
    "LOG_FORMAT",
)
# where the data are is needed to find them, from the unit's own folder
FOLDERS = ("DATA_DIR", "FILES_DIR", "BACKUP_SECOND_DIR")


def unit_file() -> Path:
    """Return where the unit of this user lies (systemd.unit(5))."""
    home = os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config"
    return Path(home) / "systemd" / "user" / UNIT


def write(root: Path, start_words: Sequence[str]) -> int:
    """Write the unit and start it; where that can't be done here, say how."""
    settings = ensure_data_folder(root) / "at_boot.env"
    path = unit_file()
    try:
        _write_closed(settings, _settings_now())
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(unit_text(root, settings, start_words))
    except OSError as error:
        raise MachineNotReady(f"{path} cannot be written ({error.strerror}).") from error
    answer(f"Wrote {path}")
    commands = [["daemon-reload"], ["enable", UNIT], ["restart", UNIT]]
    if _done(commands):
        answer("It runs now and whenever you are signed in. `start --not-at-boot` undoes that.")
    else:
        answer("systemd can't be asked from here. As the user it shall run as, run")
        for words in commands:
            answer(f"  systemctl --user {' '.join(words)}")
    answer(
        "So that it starts with the machine, before anybody signs in, run once\n"
        f"  loginctl enable-linger {getpass.getuser()}"
    )
    return 0


def remove() -> int:
    """Stop the unit and take it away."""
    path = unit_file()
    if not path.exists():
        say("Nothing of Pleat & Penny starts with this machine.")
        return 0
    stopped = _done([["disable", "--now", UNIT]])
    path.unlink()
    _done([["daemon-reload"]])
    answer(f"Took away {path}: it does not start with the machine any more.")
    if not stopped:
        answer(f"If it runs now, stop it: systemctl --user stop {UNIT}")
    return 0


def unit_text(root: Path, settings: Path, start_words: Sequence[str]) -> str:
    """Return the unit; paths may hold whatever a path can but a line's end."""
    for path in (root, settings):
        if "\n" in str(path):
            raise MachineNotReady(f"{str(path)!r} has the end of a line in its name: rename it.")
    words = [_system_python(), str(root / "manage.py"), "start", *start_words]
    return f"""\
[Unit]
Description=Pleat & Penny, the workshop's own pages
# written by `manage.py start --at-boot`, taken away by `--not-at-boot`

[Service]
Type=exec
WorkingDirectory={_specifiers(str(root))}
EnvironmentFile=-{_specifiers(str(settings))}
ExecStart={" ".join(_quoted(word) for word in words)}
Restart=on-failure
RestartSec=10
# the server ends its workers itself
KillMode=mixed
TimeoutStopSec=30
UMask=0077
NoNewPrivileges=yes

[Install]
WantedBy=default.target
"""


def _system_python() -> str:
    """Return the Python that was there before `.venv`, which `start` may make anew."""
    return shutil.which("python3", path="/usr/local/bin:/usr/bin:/bin") or sys.executable


def _specifiers(text: str) -> str:
    return text.replace("%", "%%")


def _quoted(word: str) -> str:
    """Return a word of a command line as systemd.service(5) reads it."""
    kept = word.replace("\\", "\\\\").replace('"', '\\"').replace("$", "$$")
    return f'"{_specifiers(kept)}"'


def _settings_now() -> str:
    lines = []
    for name in SETTINGS:
        if (value := os.environ.get(name)) is None:
            continue
        if name in FOLDERS and value:
            value = str(Path(value).absolute())
        kept = value.replace("\\", "\\\\").replace('"', '\\"').replace("$", "\\$")
        lines.append(f'{name}="{kept}"\n')
    return "".join(lines)


def _write_closed(path: Path, text: str) -> None:
    """Write for this user's eyes alone: an address of a database may hold a password."""
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
        path.chmod(0o600)
        file.write(text)


def _done(commands: Sequence[Sequence[str]]) -> bool:
    """Tell the user's systemd; False where there is none or it refuses."""
    systemctl = shutil.which("systemctl")
    if systemctl is None:
        return False
    for words in commands:
        told = subprocess.run(
            [systemctl, "--user", *words], capture_output=True, text=True, check=False
        )
        if told.returncode:
            return False
    return True
