"""The installer, run against a folder in place of a machine.

The wheels here are small stand-ins, so the tests need no network; tests/system installs the real
ones on a booted system.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., "subprocess.CompletedProcess[str]"]


def make_wheel(folder: Path, version: str, *, broken: bool = False) -> None:
    """Write a wheel whose ``wetside`` command prints its version, or fails."""
    folder.mkdir(parents=True, exist_ok=True)
    info = f"wetside-{version}.dist-info"
    files = {
        "wetside/__init__.py": "def main():\n"
        + ("    raise SystemExit('no')\n" if broken else f"    print('wetside {version}')\n"),
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: wetside\nVersion: {version}\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
        f"{info}/entry_points.txt": "[console_scripts]\nwetside = wetside:main\n",
    }
    files[f"{info}/RECORD"] = "".join(f"{name},,\n" for name in [*files, f"{info}/RECORD"])
    with zipfile.ZipFile(folder / f"wetside-{version}-py3-none-any.whl", "w") as wheel:
        for name, text in files.items():
            wheel.writestr(name, text)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """Make a machine's folders: a boot partition with a config.txt, and an empty rest."""
    root = tmp_path / "root"
    (root / "boot" / "firmware").mkdir(parents=True)
    (root / "boot" / "firmware" / "config.txt").write_text("dtparam=audio=on\n", encoding="utf-8")
    (root / "etc").mkdir()
    (root / "etc" / "group").touch()
    (root / "etc" / "passwd").touch()
    return root


@pytest.fixture(scope="session")
def quick_python(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a python whose ``-m venv`` copies one environment instead of making each anew."""
    folder = tmp_path_factory.mktemp("python")
    template = folder / "venv"
    subprocess.run([sys.executable, "-m", "venv", template], check=True)
    wrapper = folder / "python3"
    wrapper.write_text(
        "#!/bin/sh\n"
        'case "$1 $2" in "-m venv") for last; do :; done;'
        f' exec cp -a {template} "$last";; esac\n'
        f'exec {sys.executable} "$@"\n',
        encoding="ascii",
    )
    wrapper.chmod(0o755)
    return wrapper


@pytest.fixture
def run(systemd: Path, root: Path, tmp_path: Path, quick_python: Path) -> Run:
    """Give a function that runs the installer on the folder."""

    def call(
        *words: str, version: str = "1.0.0", python: Path = quick_python
    ) -> subprocess.CompletedProcess[str]:
        wheels = tmp_path / f"wheels-{version}"
        if not wheels.exists():
            make_wheel(wheels, version)
        command = ["bash", systemd / "install.sh", *words, "--root", root, "--wheels", wheels]
        return subprocess.run(
            list(map(str, command)),
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
            env={**os.environ, "WETSIDE_PYTHON": str(python)},
        )

    return call


def tree(root: Path) -> dict[str, tuple[str, int]]:
    """Give every file's place, content or target, and time of change; caches and locks left out."""
    found = {}
    for path in sorted(root.rglob("*")):
        if "__pycache__" in path.parts or path.name == ".pwd.lock":
            continue
        if path.is_symlink():
            found[str(path)] = (str(path.readlink()), 0)
        elif path.is_file():
            found[str(path)] = (str(path.stat().st_size), path.stat().st_mtime_ns)
    return found


def version_of(root: Path, name: str) -> str:
    """Ask the program under a link for its version."""
    program = root / "opt" / "wetside" / name / "venv" / "bin" / "wetside"
    done = subprocess.run([program], capture_output=True, text=True, check=True)
    return done.stdout.split()[1]


def test_it_lays_everything_in_its_place(run: Run, root: Path) -> None:
    """Program, units, rules, settings, user and boot lines are there after one command."""
    done = run(python=Path(sys.executable))  # this once with an environment made anew
    assert done.returncode == 0, done.stderr
    assert version_of(root, "current") == "1.0.0"
    units = {path.name for path in (root / "etc/systemd/system").iterdir()}
    assert units == {
        "wetside.target", "wetside-station.service", "wetside-desk.service",
        "wetside-backup.service", "wetside-backup.timer",
    }  # fmt: skip
    for place in (
        "etc/udev/rules.d/99-wetside.rules",
        "etc/modules-load.d/wetside.conf",
        "etc/avahi/services/wetside.service",
        "etc/wetside/station.toml",
        "opt/wetside/current/backup.py",
        "opt/wetside/current/docs/build.md",
        "usr/local/bin/wetside",
    ):
        assert os.path.lexists(root / place), place
    config = (root / "boot/firmware/config.txt").read_text(encoding="utf-8")
    assert "dtoverlay=w1-gpio,gpiopin=4" in config
    if shutil.which("systemd-sysusers"):
        group = (root / "etc/group").read_text(encoding="utf-8")
        assert {"gpio", "i2c", "wetside"} <= {line.split(":")[0] for line in group.splitlines()}
        assert "wetside" in (root / "etc/passwd").read_text(encoding="utf-8")
    settings = root / "etc/wetside/station.toml"
    assert settings.stat().st_mode & 0o777 == 0o660


def test_twice_changes_nothing(run: Run, root: Path) -> None:
    """The second run writes no file and says so."""
    assert run().returncode == 0
    before = tree(root)
    done = run()
    assert done.returncode == 0
    assert "nothing to change" in done.stdout
    assert before == tree(root)


def test_settings_of_the_owner_are_kept(run: Run, root: Path) -> None:
    """An upgrade does not touch what the owner wrote."""
    run()
    settings = root / "etc/wetside/station.toml"
    settings.write_text('station = "sink-7"\n', encoding="utf-8")
    run(version="1.1.0")
    assert settings.read_text(encoding="utf-8") == 'station = "sink-7"\n'


def test_the_folder_of_sheets_is_the_services_whoever_made_it(run: Run, root: Path) -> None:
    """A folder that root made for the school's sheets can be written by the desk and a restore."""
    sheets = root / "etc/wetside/sheets"
    sheets.mkdir(mode=0o755, parents=True)
    assert run().returncode == 0
    assert sheets.stat().st_mode & 0o777 == 0o770


def test_upgrade_rollback_and_back_again(run: Run, root: Path) -> None:
    """The version before is kept; rollback uses it, and rollback again returns."""
    run()
    run(version="1.1.0")
    assert (version_of(root, "current"), version_of(root, "previous")) == ("1.1.0", "1.0.0")
    done = run("rollback")
    assert done.returncode == 0, done.stderr
    assert (version_of(root, "current"), version_of(root, "previous")) == ("1.0.0", "1.1.0")
    run("rollback")
    assert version_of(root, "current") == "1.1.0"


def test_only_two_versions_are_kept(run: Run, root: Path) -> None:
    """A third version pushes the oldest out, so a small card does not fill."""
    for version in ("1.0.0", "1.1.0", "1.2.0"):
        assert run(version=version).returncode == 0
    kept = {path.name.split("-")[0] for path in (root / "opt/wetside/versions").iterdir()}
    assert kept == {"1.1.0", "1.2.0"}


def test_rollback_without_an_earlier_version_is_refused(run: Run, root: Path) -> None:
    """There is a clear word and no change when nothing can be rolled back to."""
    run()
    done = run("rollback")
    assert done.returncode == 1
    assert "no earlier version is kept" in done.stderr
    assert version_of(root, "current") == "1.0.0"


def test_a_version_that_does_not_start_changes_nothing(
    run: Run, root: Path, tmp_path: Path
) -> None:
    """A broken new version is thrown away and the old one stays in use."""
    run()
    make_wheel(tmp_path / "wheels-2.0.0", "2.0.0", broken=True)
    done = run(version="2.0.0")
    assert done.returncode == 1
    assert "the version in use is untouched" in done.stderr
    assert version_of(root, "current") == "1.0.0"
    assert len(list((root / "opt/wetside/versions").iterdir())) == 1


def test_half_a_version_is_made_anew(run: Run, root: Path) -> None:
    """What a power cut left of an installation is finished by running it again."""
    run()
    place = (root / "opt/wetside/current").resolve()
    (place / ".complete").unlink()
    shutil.rmtree(place / "venv" / "bin")
    assert run().returncode == 0
    assert version_of(root, "current") == "1.0.0"


def test_an_open_run_is_not_disturbed(run: Run, root: Path) -> None:
    """Upgrade, rollback and removal wait for the end of a run, unless told otherwise."""
    run()
    live = root / "run/wetside/live.json"
    live.parent.mkdir(parents=True)
    live.write_text(json.dumps({"run": "01J000"}), encoding="utf-8")
    for words, version in (((), "1.1.0"), (("uninstall",), "1.0.0")):
        done = run(*words, version=version)
        assert done.returncode == 1
        assert "a run is open" in done.stderr
    assert version_of(root, "current") == "1.0.0"
    live.write_text(json.dumps({"run": None}), encoding="utf-8")
    assert run(version="1.1.0").returncode == 0


@pytest.mark.parametrize("folder", ["/var/lib/wetside", "/srv/runs"])
def test_no_upgrade_without_a_backup_wherever_the_journal_is(
    run: Run, root: Path, folder: str
) -> None:
    """A journal in the folder that the settings name is saved first, and else nothing changes."""
    run()
    settings = root / "etc/wetside/station.toml"
    settings.write_text(f'data_folder = "{folder}"  # runs\n', encoding="utf-8")
    journal = root / folder.removeprefix("/") / "journal.sqlite"
    journal.parent.mkdir(parents=True, exist_ok=True)
    journal.write_bytes(b"runs")  # nothing that could be copied
    done = run(version="1.1.0")
    assert (1, "1.0.0") == (done.returncode, version_of(root, "current"))
    assert "no backup could be made" in done.stderr


def test_uninstall_keeps_data_and_settings(run: Run, root: Path) -> None:
    """Program, units and boot lines go; the journal and the settings stay."""
    run()
    journal = root / "var/lib/wetside/journal.sqlite"
    journal.write_bytes(b"runs")
    done = run("uninstall")
    assert done.returncode == 0, done.stderr
    assert journal.read_bytes() == b"runs"
    assert (root / "etc/wetside/station.toml").exists()
    assert not (root / "opt/wetside").exists()
    assert list((root / "etc/systemd/system").iterdir()) == []
    config = (root / "boot/firmware/config.txt").read_text(encoding="utf-8")
    assert config == "dtparam=audio=on\n"
    run("uninstall", "--purge")
    assert not journal.exists()


def test_it_installs_again_over_kept_data(run: Run, root: Path) -> None:
    """After a removal that kept the settings, installing again uses them."""
    run()
    (root / "etc/wetside/station.toml").write_text('station = "sink-7"\n', encoding="utf-8")
    run("uninstall")
    assert run().returncode == 0
    settings = root / "etc/wetside/station.toml"
    assert settings.read_text(encoding="utf-8") == 'station = "sink-7"\n'


def test_the_old_place_of_config_txt_works_too(run: Run, root: Path) -> None:
    """A pointer file in /boot is left alone, and a real one there is used."""
    new, old = root / "boot/firmware/config.txt", root / "boot/config.txt"
    old.write_text("DO NOT EDIT THIS FILE\n", encoding="utf-8")
    run()
    assert old.read_text(encoding="utf-8") == "DO NOT EDIT THIS FILE\n"
    new.unlink()
    old.write_text("dtparam=audio=on\n", encoding="utf-8")
    run()
    assert "dtoverlay=w1-gpio,gpiopin=4" in old.read_text(encoding="utf-8")


def test_an_empty_folder_is_enough(systemd: Path, tmp_path: Path, quick_python: Path) -> None:
    """With --root everything that it needs is made there, the files of users too."""
    root = tmp_path / "empty"
    root.mkdir()
    make_wheel(tmp_path / "wheels", "1.0.0")
    command = ["bash", systemd / "install.sh", "--root", root, "--wheels", tmp_path / "wheels"]
    done = subprocess.run(
        list(map(str, command)),
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "WETSIDE_PYTHON": str(quick_python)},
    )
    assert 0 == done.returncode, done.stderr
    assert version_of(root, "current") == "1.0.0"


def test_a_stop_after_building_leaves_no_litter(systemd: Path, root: Path, tmp_path: Path) -> None:
    """Where a run is open, or the wheel cannot be built, the folder it was built in goes."""
    python = tmp_path / "python3"
    python.write_text(
        "#!/bin/sh\n"
        'case "$1 $2" in "-m venv") for last; do :; done; mkdir -p "$last/bin";'
        ' ln -s "$0" "$last/bin/python"; exit;; "-m pip")'
        ' while [ "$1" != --wheel-dir ]; do shift; done;'
        ' echo x >"$2/wetside-1.0.0-py3-none-any.whl";'
        " exit;; esac\n"
        f'exec {sys.executable} "$@"\n',
        encoding="ascii",
    )
    python.chmod(0o755)
    project = tmp_path / "project"
    shutil.copytree(systemd, project / "systemd")
    (project / "pyproject.toml").touch()
    live = root / "run/wetside/live.json"
    live.parent.mkdir(parents=True)
    live.write_text(json.dumps({"run": "01J000"}), encoding="utf-8")
    room = tmp_path / "room"
    room.mkdir()
    done = subprocess.run(
        ["bash", str(project / "systemd" / "install.sh"), "--root", str(root)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "WETSIDE_PYTHON": str(python), "TMPDIR": str(room)},
    )
    assert (1, True) == (done.returncode, "a run is open" in done.stderr), done.stderr
    assert [] == list(room.iterdir())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("upgrade-now",), "unknown word 'upgrade-now'"),
        (("--wheels",), "--wheels needs a folder"),
        (("--root", "/no/such/folder"), "there is no folder /no/such/folder"),
    ],
)
def test_bad_words_are_explained(systemd: Path, words: tuple[str, ...], says: str) -> None:
    """A misspelt command or a missing folder gets one clear line and exit 1."""
    command = ["bash", str(systemd / "install.sh"), *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert says in done.stderr


def test_shellcheck_has_nothing_to_say(systemd: Path) -> None:
    """The scripts pass shellcheck."""
    program = shutil.which("shellcheck")
    if program is None:
        if os.environ.get("WETSIDE_CI"):
            pytest.fail("shellcheck is missing (apt install shellcheck)")
        pytest.skip("shellcheck is not installed")
    scripts = sorted(systemd.glob("*.sh"))
    assert len(scripts) >= 2
    done = subprocess.run([program, *scripts], capture_output=True, text=True, check=False)
    assert (0, "") == (done.returncode, done.stdout)
