"""What the commands say of settings that this user may not read."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from typer.testing import CliRunner

from wetside.__main__ import app


@pytest.mark.parametrize("words", ["doctor", "containers", "backup all.zip"])
def test_settings_of_another_user_are_told_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: str
) -> None:
    """Exit code 2, as for wrong settings, and the way to run the command as the station's user."""

    def refuse(path: Path, *_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied", str(path))

    for name in ("stat", "exists", "open", "read_text"):
        monkeypatch.setattr(Path, name, refuse)
    result = CliRunner().invoke(app, [*words.split(), "--settings", str(tmp_path / "station.toml")])
    assert 2 == result.exit_code, result.output
    assert "station.toml: cannot be read: Permission denied" in result.output
    assert "put sudo -u wetside in front of the command" in result.output
