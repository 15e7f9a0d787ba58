"""A bare or uncommon machine: what is missing is installed, or named with the exact remedy."""

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from maker.setup import machine
from maker.setup.machine import SystemPackagesMissing, SystemPart, ensure_parts
from maker.setup.place import ROOT
from maker.setup.python_version import why_unfit
from tests.maker.setup_scene import (
    as_nobody,
    clean_env,
    lay_out_project,
    put_programs,
    python_for_everyone,
    run_in,
)


def test_everything_needed_before_installing_is_in_the_standard_library():
    code = (
        f"import sys; sys.path[:0] = [{str(ROOT)!r}]\n"
        "import maker.setup.commands, maker.setup.serving\n"
        "print({name.partition('.')[0] for name in sys.modules}"
        " - sys.stdlib_module_names - {'maker', '__main__'})"
    )
    # -I -S: no site-packages, no environment variables, as on a machine with nothing installed.
    answer = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code], capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == "set()"


@pytest.mark.parametrize("name", ["manage.py", "maker/__init__.py", "maker/setup/__init__.py"])
def test_an_old_python_can_read_what_comes_before_the_version_check(name):
    ast.parse((ROOT / name).read_text(), feature_version=(3, 6))
    ast.parse((ROOT / "maker/setup/python_version.py").read_text(), feature_version=(3, 6))


@pytest.mark.parametrize("version", [(3, 6, 15), (3, 9, 2), (3, 10, 13), (2, 7, 18)])
def test_an_old_python_is_told_what_to_do(version):
    line = why_unfit(version)
    assert "needs Python 3.11 or newer" in line
    assert ".".join(map(str, version)) in line
    assert "\n" not in line


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 12, 1), (3, 14, 0), (4, 0, 0)])
def test_a_new_python_will_do(version):
    assert why_unfit(version) is None


def test_a_newer_python_on_the_machine_is_named(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", put_programs(tmp_path / "bin", {"python3.12": "exit 0"}))
    assert "with python3.12 instead of python3" in why_unfit((3, 9, 2))


def test_a_newer_python_that_does_not_start_is_not_named(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", put_programs(tmp_path / "bin", {"python3.12": "exit 127"}))
    assert "python3.12" not in why_unfit((3, 9, 2))


def test_a_newer_python_that_apt_can_bring_is_named_with_its_command(tmp_path, monkeypatch):
    has_312 = 'case "$*" in *python3.12*) echo python3.12 - interpreter;; esac'
    monkeypatch.setenv("PATH", put_programs(tmp_path / "bin", {"apt-cache": has_312}))
    assert "`sudo apt-get install -y python3.12 python3.12-venv`" in why_unfit((3, 10, 4))


def test_windows_is_sent_to_a_linux_inside_it():
    assert "WSL" in why_unfit((3, 12, 0), system="nt")


def test_a_missing_library_is_noticed():
    assert not machine.has_library("libpango-of-no-machine.so.0")


def test_present_parts_ask_for_nothing(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    ensure_parts([SystemPart("a thing", "thing", lambda: True)])


ABSENT = SystemPart("the sample library (for PDFs)", "libsample0", lambda: False)


@pytest.mark.parametrize(
    ("manager", "remedy"),
    [
        ("dnf", "`sudo dnf install -y python3 python3-pip pango harfbuzz`"),
        ("pacman", "`sudo pacman -S --needed python python-pip pango harfbuzz`"),
        ("brew", "`brew install python pango harfbuzz`"),
    ],
)
def test_without_apt_the_other_package_manager_s_command_is_given(
    tmp_path, monkeypatch, manager, remedy
):
    monkeypatch.setenv("PATH", put_programs(tmp_path / "bin", {manager: "exit 0"}))
    with pytest.raises(SystemPackagesMissing) as refusal:
        ensure_parts([ABSENT])
    assert "Missing: the sample library (for PDFs)." in refusal.value.message
    assert remedy in refusal.value.message
    assert "\n" not in refusal.value.message


def test_without_any_known_package_manager_the_parts_are_named(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(SystemPackagesMissing, match=r"sample library.*no apt-get here"):
        ensure_parts([ABSENT])


def test_without_root_and_sudo_the_command_for_root_is_given(tmp_path):
    root = lay_out_project(tmp_path)
    path = put_programs(root / "bin", {"apt-get": "echo must not run; exit 1"})
    answer = run_in(
        root,
        "from maker.setup.machine import *\n"
        "part = SystemPart('a library', 'libsample0', lambda: False)\n"
        "try: ensure_parts([part])\n"
        "except SystemPackagesMissing as refusal: print(refusal.message)\n",
        python=python_for_everyone(),
        env=clean_env(PATH=path),
        **as_nobody(),
    )
    assert answer.stdout == (
        "Missing: a library. This needs root and there is no usable sudo: let root run "
        "`apt-get update && apt-get install -y libsample0`, then run this again.\n"
    )


def apt_scene(folder: Path, script: str) -> tuple[str, Path]:
    """Put an apt-get that notes how it is called onto the PATH, behind sudo when not root."""
    calls = folder / "calls"
    programs = {
        "apt-get": f'echo "$*" >> {calls}\n{script}',
        "sudo": 'while [ "$1" = -n ]; do shift; done; exec "$@"',
    }
    path = put_programs(folder / "bin", programs)
    for name in ("env", "sh", "touch", "true"):
        (folder / "bin" / name).symlink_to(shutil.which(name))
    return path, calls


def test_what_is_missing_is_installed_in_one_go(tmp_path, monkeypatch):
    made = tmp_path / "made"
    path, calls = apt_scene(tmp_path, f"touch {made}")
    monkeypatch.setenv("PATH", path)
    ensure_parts(
        [
            SystemPart("one", "libone0", made.exists),
            SystemPart("two", "libtwo0", made.exists),
            SystemPart("three", "libthree0", lambda: True),
        ]
    )
    (call,) = calls.read_text().splitlines()
    assert call.endswith("install -y --no-install-recommends libone0 libtwo0")


def test_stale_package_lists_are_refreshed(tmp_path, monkeypatch):
    fresh, made = tmp_path / "fresh", tmp_path / "made"
    script = f"""case "$*" in
        *update*) touch {fresh};;
        *) [ -e {fresh} ] || exit 100; touch {made};;
        esac"""
    path, calls = apt_scene(tmp_path, script)
    monkeypatch.setenv("PATH", path)
    ensure_parts([SystemPart("one", "libone0", made.exists)])
    assert [line.split()[2] for line in calls.read_text().splitlines()] == [
        "install",
        "update",
        "install",
    ]


def test_apt_s_own_reason_is_passed_on(tmp_path, monkeypatch):
    path, _ = apt_scene(tmp_path, "echo 'E: Unable to locate package libsample0' >&2; exit 100")
    monkeypatch.setenv("PATH", path)
    with pytest.raises(SystemPackagesMissing) as refusal:
        ensure_parts([ABSENT])
    assert "(E: Unable to locate package libsample0)" in refusal.value.message
    assert "apt-get install -y libsample0" in refusal.value.message


def test_the_newest_postgresql_is_taken(tmp_path, monkeypatch):
    for version in ("9", "15", "16", "common"):
        (tmp_path / version / "bin").mkdir(parents=True)
        (tmp_path / version / "bin" / "initdb").touch()
    monkeypatch.setattr(machine, "POSTGRES_FOLDERS", tmp_path)
    assert machine.postgres_program("initdb") == str(tmp_path / "16" / "bin" / "initdb")


def test_a_data_folder_of_someone_else_is_named_with_the_remedy(tmp_path):
    root = lay_out_project(tmp_path)
    data = root / "var"
    data.mkdir(mode=0o555)
    answer = run_in(
        root,
        "from maker.setup.place import *\n"
        "try: ensure_data_folder(ROOT)\n"
        "except FolderNotWritable as refusal: print(refusal.message)\n",
        python=python_for_everyone(),
        env=clean_env(),
        **as_nobody(),
    )
    assert answer.stdout.startswith(f"The data folder {data} cannot be written by ")
    assert "`sudo chown -R " in answer.stdout
    assert "DATA_DIR=/path/to/folder" in answer.stdout


def test_a_data_folder_that_is_a_file_is_refused(tmp_path, monkeypatch):
    from maker.setup.place import FolderNotWritable, ensure_data_folder

    (tmp_path / "file").touch()
    monkeypatch.setenv("DATA_DIR", str(tmp_path / "file" / "var"))
    with pytest.raises(FolderNotWritable, match="Not a directory"):
        ensure_data_folder(ROOT)


def test_the_data_folder_is_closed_to_others(tmp_path, monkeypatch):
    from maker.setup.place import ensure_data_folder

    monkeypatch.setenv("DATA_DIR", str(tmp_path / "new" / "var"))
    folder = ensure_data_folder(ROOT)
    assert folder.stat().st_mode & 0o777 == 0o700
    assert os.listdir(folder) == []


def test_a_data_folder_that_was_there_is_closed_with_what_is_in_it(tmp_path, monkeypatch):
    from maker.setup.place import ensure_data_folder

    folder = tmp_path / "var"
    folder.mkdir()
    folder.chmod(0o755)
    names = ("pleat.sqlite3", "pleat.sqlite3-wal", "secret_key")
    for name in names:
        (folder / name).touch()
        (folder / name).chmod(0o644)
    monkeypatch.setenv("DATA_DIR", str(folder))
    ensure_data_folder(ROOT)
    assert folder.stat().st_mode & 0o777 == 0o700
    assert {(folder / name).stat().st_mode & 0o777 for name in names} == {0o600}


def test_a_folder_that_is_everybodys_is_no_data_folder(tmp_path, monkeypatch):
    from maker.setup.place import FolderNotWritable, ensure_data_folder

    folder = tmp_path / "tmp"
    folder.mkdir()
    folder.chmod(0o1777)
    monkeypatch.setenv("DATA_DIR", str(folder))
    with pytest.raises(FolderNotWritable, match="everybody's"):
        ensure_data_folder(ROOT)
    assert folder.stat().st_mode & 0o777 == 0o777
