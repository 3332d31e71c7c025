"""The wheel that the installer puts in place, built by the build backend itself."""

from __future__ import annotations

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = {"wetside": ROOT / "firmware", "wetside_desk": ROOT / "server"}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Members of a wheel that is built from a copy of the sources, with their content."""
    copy = tmp_path_factory.mktemp("source")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, copy / name)
    for package, folder in PACKAGES.items():
        target = copy / folder.name / package
        shutil.copytree(folder / package, target, ignore=shutil.ignore_patterns("__pycache__"))
    code = "import hatchling.build as b; print(b.build_wheel('dist'))"
    said = subprocess.run(
        [sys.executable, "-c", code], cwd=copy, check=True, capture_output=True, text=True
    )
    with zipfile.ZipFile(copy / "dist" / said.stdout.split()[-1]) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def shipped(package: str) -> dict[str, bytes]:
    """Every file of a package in the sources, by its name in the wheel."""
    folder = PACKAGES[package]
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in (folder / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


@pytest.mark.parametrize("package", PACKAGES)
def test_every_file_of_a_package_is_in_the_wheel(wheel: dict[str, bytes], package: str) -> None:
    """Modules, templates, style sheets, scripts and sheets: all of them, as they are."""
    wanted = shipped(package)
    assert [] == sorted(set(wanted) - set(wheel))
    assert [] == [name for name, content in wanted.items() if wheel[name] != content]


@pytest.mark.parametrize(
    ("pattern", "least"),
    [
        ("wetside_desk/templates/*.html", 30),
        ("wetside_desk/static/*.js", 4),
        ("wetside_desk/static/*.css", 2),
        ("wetside/session/sheets/*.toml", 3),
        ("wetside/commands/bench/static/*", 3),
        ("wetside/py.typed", 1),
        ("wetside_desk/py.typed", 1),
        ("*.dist-info/licenses/LICENSE", 1),
    ],
)
def test_what_is_no_python_is_there_too(wheel: dict[str, bytes], pattern: str, least: int) -> None:
    """What a build forgets most easily is counted by itself."""
    found = [name for name in wheel if Path(name).match(pattern) and wheel[name]]
    empty_by_right = pattern.endswith("py.typed") and any(Path(n).match(pattern) for n in wheel)
    assert empty_by_right or least <= len(found)


def test_nothing_else_is_in_the_wheel(wheel: dict[str, bytes]) -> None:
    """Two packages and what the wheel says of itself; no tests, no data of this machine."""
    tops = {name.split("/")[0] for name in wheel}
    assert {"wetside", "wetside_desk"} == {top for top in tops if not top.endswith(".dist-info")}
    assert 3 == len(tops)


def test_the_command_is_named(wheel: dict[str, bytes]) -> None:
    """After installing there is the command wetside."""
    points = next(text for name, text in wheel.items() if name.endswith("entry_points.txt"))
    assert "wetside = wetside.__main__:main" in points.decode()
