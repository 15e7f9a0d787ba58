"""The directions in which modules may import one another, kept by import-linter."""

import pytest
from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports


def test_import_contracts(capsys: pytest.CaptureFixture[str]) -> None:
    assert lint_imports(no_cache=True) == EXIT_STATUS_SUCCESS, capsys.readouterr().out
