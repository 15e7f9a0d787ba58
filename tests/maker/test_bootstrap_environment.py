"""`.venv` is made and filled with the real venv and pip, from a wheel made here."""

import os
import shutil
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from maker.setup.environment import environment_is_complete
from tests.maker.setup_scene import (
    as_nobody,
    clean_env,
    last_line,
    lay_out_project,
    make_wheel,
    python_for_everyone,
    run_in,
)
from tests.patience import PATIENCE_S

FILE = "requirements.txt"
ENSURE = f"""
from pathlib import Path
from maker.setup.environment import *
from maker.setup.place import MachineNotReady, ROOT
try: ensure_environment(ROOT, [{FILE!r}])
except MachineNotReady as refusal: sys.exit(refusal.message)
"""


@pytest.fixture
def project(tmp_path):
    """A project whose only requirement is a wheel beside it."""
    root = lay_out_project(tmp_path)
    wheels = tmp_path / "wheels"
    wheels.mkdir()
    (root / FILE).write_text(make_wheel(wheels, "paper_sample", "1.0"))
    return root


def offline(project: Path, **settings: str) -> dict[str, str]:
    """Let pip know the wheels of the project and nothing else."""
    wheels = str(project.parent / "wheels")
    return clean_env(
        PIP_NO_INDEX="1", PIP_FIND_LINKS=wheels, PIP_CONFIG_FILE=os.devnull, **settings
    )


def unreachable(**settings: str) -> dict[str, str]:
    """Send pip to a port where nobody listens."""
    return clean_env(
        PIP_INDEX_URL="http://127.0.0.1:9/simple",
        PIP_RETRIES="1",
        PIP_CONFIG_FILE=os.devnull,
        **settings,
    )


def installed_version(project: Path) -> str:
    python = project / ".venv" / "bin" / "python"
    code = "import paper_sample; print(paper_sample.VERSION)"
    return subprocess.run(
        [python, "-c", code], capture_output=True, text=True, check=True
    ).stdout.strip()


def test_it_is_made_once_and_filled_again_only_when_the_file_changes(project):
    first = run_in(project, ENSURE, env=offline(project))
    assert first.returncode == 0, first.stderr
    assert installed_version(project) == "1.0"
    assert environment_is_complete(project, [FILE])

    # Were pip asked again, it would fail: its wheels are gone.
    again = run_in(project, ENSURE, env=unreachable())
    assert (again.returncode, again.stderr) == (0, "")

    (project / FILE).write_text(make_wheel(project.parent / "wheels", "paper_sample", "1.1"))
    assert not environment_is_complete(project, [FILE])
    changed = run_in(project, ENSURE, env=offline(project))
    assert "Making" not in changed.stderr
    assert installed_version(project) == "1.1"

    (project / FILE).write_text(make_wheel(project.parent / "wheels", "paper_sample", "1.2"))
    failed = run_in(project, ENSURE, env=unreachable())
    assert failed.returncode == 1
    assert "The package index cannot be reached" in last_line(failed.stderr)
    assert installed_version(project) == "1.1", "what worked before still works"


def test_a_package_with_another_content_is_not_installed(project):
    line = (project / FILE).read_text()
    (project / FILE).write_text(line[:-2] + ("0" if line[-2] != "0" else "1") + "\n")
    answer = run_in(project, ENSURE, env=offline(project))
    assert answer.returncode == 1
    assert last_line(answer.stderr).startswith("pip could not install the packages of")
    assert "DO NOT MATCH THE HASHES" in last_line(answer.stderr)
    assert not environment_is_complete(project, [FILE])


def test_a_package_that_is_nowhere_is_named_in_pip_s_own_words(project):
    (project / FILE).write_text(f"paper-nowhere==1.0 --hash=sha256:{'0' * 64}\n")
    answer = run_in(project, ENSURE, env=offline(project))
    assert "No matching distribution found for paper-nowhere==1.0" in last_line(answer.stderr)


def test_killed_in_the_middle_the_next_run_mends_it(project):
    with socket.create_server(("127.0.0.1", 0)) as mute:
        # pip waits for an answer that never comes.
        url = f"http://127.0.0.1:{mute.getsockname()[1]}/simple"
        env = clean_env(PIP_INDEX_URL=url, PIP_CONFIG_FILE=os.devnull, PIP_RETRIES="0")
        program = f"import sys; sys.path.insert(0, {str(project)!r})\n{ENSURE}"
        process = subprocess.Popen(
            [sys.executable, "-B", "-c", program], env=env, start_new_session=True
        )
        mute.settimeout(PATIENCE_S)
        connection, _ = mute.accept()
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        connection.close()
    assert (project / ".venv" / ".unfinished").exists()
    assert not environment_is_complete(project, [FILE])
    # A half-written package, as a kill at the wrong moment leaves it.
    (site,) = (project / ".venv" / "lib").glob("python3*/site-packages")
    (site / "paper_sample.py").write_text("VERSION = 'half")

    answer = run_in(project, ENSURE, env=offline(project))
    assert answer.returncode == 0, answer.stderr
    assert installed_version(project) == "1.0"
    assert environment_is_complete(project, [FILE])


def test_an_environment_whose_python_is_gone_is_made_anew(project):
    assert run_in(project, ENSURE, env=offline(project)).returncode == 0
    python = project / ".venv" / "bin" / "python"
    python.unlink()
    python.symlink_to("/nowhere/python3")
    assert not environment_is_complete(project, [FILE])
    assert run_in(project, ENSURE, env=offline(project)).returncode == 0
    assert installed_version(project) == "1.0"


def test_of_two_at_once_one_waits_for_the_other(project):
    program = f"import sys; sys.path.insert(0, {str(project)!r})\n{ENSURE}"
    processes = [
        subprocess.Popen(
            [sys.executable, "-B", "-c", program],
            env=offline(project),
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(2)
    ]
    told = [process.communicate(timeout=PATIENCE_S)[1] for process in processes]
    assert [process.returncode for process in processes] == [0, 0], told
    assert sum("Making the environment" in text for text in told) == 1
    assert installed_version(project) == "1.0"


def test_a_read_only_folder_is_named_with_the_remedy(project):
    project.chmod(0o555)
    answer = run_in(
        project, ENSURE, python=python_for_everyone(), env=offline(project), **as_nobody()
    )
    assert answer.returncode == 1
    (line,) = answer.stderr.splitlines()
    assert line.startswith(f"The folder {project} cannot be written by ")
    assert "`sudo chown -R " in line
    assert "copy the folder into your home" in line


@pytest.fixture
def tiny_disk(tmp_path):
    """A file system with room for hardly anything."""
    folder = tmp_path / "tiny"
    folder.mkdir()
    mount = shutil.which("mount")
    if os.geteuid() != 0 or mount is None:
        pytest.skip("only root can mount a small file system")
    command = [mount, "-t", "tmpfs", "-o", "size=4M", "tmpfs", str(folder)]
    if subprocess.run(command, check=False, capture_output=True).returncode != 0:
        pytest.skip("this machine lets no one mount a file system")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_is_said_to_be_full(tiny_disk):
    root = lay_out_project(tiny_disk)
    (root / FILE).write_text(f"paper-nowhere==1.0 --hash=sha256:{'0' * 64}\n")
    answer = run_in(root, ENSURE, env=clean_env(PIP_NO_INDEX="1"))
    assert answer.returncode == 1
    assert "The disk is full: free about 600 MB" in last_line(answer.stderr)


def test_the_lock_ends_with_its_process(project):
    code = "from maker.setup.environment import *\nfrom maker.setup.place import ROOT\n"
    holding = f"{code}with one_at_a_time(ROOT): print('held', flush=True); sys.stdin.read()"
    program = f"import sys; sys.path.insert(0, {str(project)!r})\n{holding}"
    process = subprocess.Popen(
        [sys.executable, "-B", "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert process.stdout.readline() == b"held\n"
    process.kill()
    process.wait()
    process.stdin.close()
    process.stdout.close()
    answer = run_in(project, f"{code}with one_at_a_time(ROOT): pass", env=clean_env())
    assert (answer.returncode, answer.stderr) == (0, "")
