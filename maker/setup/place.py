"""Where the project, its environment and its data live, and who is working with them."""

import os
import pwd
import stat
import sys
import tempfile
from pathlib import Path

from maker.calc.refusal import Refusal

ROOT = Path(__file__).resolve().parents[2]
VENV = ROOT / ".venv"
DATABASE_NAME = "pleat.sqlite3"


class MachineNotReady(Refusal):
    """The machine lacks something; the message is one line with the exact remedy."""


class FolderNotWritable(MachineNotReady):
    """A folder the project must write to belongs to someone else or cannot be written at all."""


def say(text: str) -> None:
    """Tell the person what is going on; standard output stays free for a command's answer."""
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()


def answer(text: str) -> None:
    """Print what the command was asked for."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def user_name() -> str:
    """Return the name of the user this process runs as."""
    try:
        return pwd.getpwuid(os.geteuid()).pw_name
    except KeyError:
        return str(os.geteuid())


def environment_python(root: Path) -> Path:
    """Return the Python inside the project's own environment."""
    return root / ".venv" / "bin" / "python"


def inside_environment(root: Path) -> bool:
    """Say whether this very process runs inside the project's own environment."""
    return Path(sys.prefix).resolve() == (root / ".venv").resolve()


def close_to_others(path: Path) -> None:
    """Take from other users of the machine what they may do with a file or folder of ours."""
    mode = path.stat().st_mode
    if mode & (stat.S_IRWXG | stat.S_IRWXO):
        try:
            path.chmod(stat.S_IMODE(mode) & stat.S_IRWXU)
        except OSError as error:
            # a disk without rights, or somebody else's folder: she can use it, and is told
            say(f"{path} stays open to other users of this machine ({error.strerror}).")


def ensure_data_folder(root: Path) -> Path:
    """Make the data folder, readable by its owner alone, and make sure it can be written.

    One that was there is closed to others too, unless it is everybody's (/tmp).
    """
    folder = Path(os.environ.get("DATA_DIR") or root / "var").absolute()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with tempfile.TemporaryFile(dir=folder) as probe:
            probe.write(b"x")
    except OSError as error:
        raise FolderNotWritable(
            f"The data folder {folder} cannot be written by {user_name()} ({error.strerror}): "
            f"run `sudo chown -R {user_name()} {folder}`, free some space, "
            "or name another folder with DATA_DIR=/path/to/folder."
        ) from error
    if folder == Path(folder.anchor) or folder.stat().st_mode & stat.S_ISVTX:
        raise FolderNotWritable(
            f"{folder} is everybody's: give the data a folder of their own, such as "
            f"DATA_DIR={folder / 'pleat'}."
        )
    close_to_others(folder)
    for name in (DATABASE_NAME, f"{DATABASE_NAME}-wal", f"{DATABASE_NAME}-shm", "secret_key"):
        kept = folder / name
        if not kept.exists():
            continue
        if not os.access(kept, os.R_OK | os.W_OK):
            raise FolderNotWritable(
                f"{kept} belongs to {kept.owner()} and cannot be used by {user_name()}: "
                f"run `sudo chown -R {user_name()} {folder}`."
            )
        close_to_others(kept)
    return folder


def is_this_computer(host: str) -> bool:
    """Say whether a server of this name is reached without a network: no name, or a socket."""
    return not host or host.startswith("/") or host in ("localhost", "127.0.0.1", "::1")
