"""A file that is replaced: never a half of it, its rights as they were, on the disk if wanted."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from wetside import wholefile


def _mode(path: Path) -> int:
    return path.stat().st_mode & 0o777


def test_a_full_disk_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that cannot be written keeps its content, and no part of the new one stays."""

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    file = tmp_path / "bells.toml"
    wholefile.replace(file, "before\n")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        wholefile.replace(file, "after\n")
    assert "before\n" == file.read_text()
    assert [file] == list(tmp_path.iterdir())


def test_rights_stay_or_are_those_asked_for(tmp_path: Path) -> None:
    """A file keeps its rights; where some are asked for it has them, whatever the umask."""
    before = os.umask(0o077)
    try:
        file = tmp_path / "station.toml"
        wholefile.replace(file, "one")
        assert 0o600 == _mode(file)
        file.chmod(0o644)
        wholefile.replace(file, "two")
        assert (0o644, "two") == (_mode(file), file.read_text())
        wholefile.replace(file, b"\xff", 0o640)
        assert (0o640, b"\xff") == (_mode(file), file.read_bytes())
    finally:
        os.umask(before)


@pytest.mark.parametrize(
    ("durable", "wanted"), [(True, ["content", "name", "folder"]), (False, ["name"])]
)
def test_the_content_is_on_the_disk_before_the_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, durable: bool, wanted: list[str]
) -> None:
    """Content, name and folder are forced to the disk in this order, or nothing is."""
    done = []
    replace = os.replace

    def fsync(handle: int) -> None:
        done.append("folder" if Path(f"/proc/self/fd/{handle}").resolve().is_dir() else "content")

    def name(source: Path, target: Path) -> None:
        done.append("name")
        replace(source, target)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(os, "replace", name)
    wholefile.replace(tmp_path / "containers.json", "{}", durable=durable)
    assert wanted == done
