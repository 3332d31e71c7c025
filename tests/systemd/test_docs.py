"""What docs/install.md and docs/safety.md say is what the scripts and units do."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
from pathlib import Path

from wetside.journal.thread import WriterThread

DOCS = Path(__file__).parents[2] / "docs"


def commands(page: str) -> list[str]:
    """Give the lines of a page's shell blocks, without remarks."""
    text = (DOCS / page).read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    lines = [re.sub(r"\s+# .*", "", line) for block in blocks for line in block.splitlines()]
    return [line for line in lines if line]


def test_readme_and_page_install_with_one_and_the_same_command(systemd: Path) -> None:
    """The README names the page's first command, and the script that it runs is there."""
    readme = (DOCS.parent / "README.md").read_text(encoding="utf-8")
    first = commands("install.md")[0]
    assert f"`{first}`" in readme
    assert systemd / "install.sh" == DOCS.parent / first.removeprefix("sudo bash ")


def test_every_word_for_the_installer_is_one_it_knows(systemd: Path) -> None:
    """Each command line of the page uses actions and options of the script."""
    script = (systemd / "install.sh").read_text(encoding="utf-8")
    known = set(re.findall(r"^\s+([-\w| ]+)\)", script, re.MULTILINE))
    words = {word.strip() for group in known for word in group.split("|")}
    used = {
        word
        for line in commands("install.md")
        if "install.sh" in line
        for word in line.split("install.sh")[1].split()
    }
    assert used <= words
    assert {"rollback", "uninstall", "--purge", "status", "--clock"} <= used


def test_every_unit_that_the_page_names_exists(systemd: Path) -> None:
    """Systemctl and journalctl lines name units that are shipped."""
    shipped = {path.name for path in systemd.glob("wetside*")}
    named = {
        unit
        for line in commands("install.md")
        if "systemctl" in line or "journalctl" in line
        for unit in re.findall(r"\bwetside[-.][a-z]+", line)
    }
    assert len(named) > 1
    assert set() == {unit for unit in named if not {unit, f"{unit}.service"} & shipped}


def test_the_backup_and_restore_commands_of_the_page_bring_a_journal_back(tmp_path: Path) -> None:
    """The lines in docs/install.md, with another file and settings, put a lost journal back."""
    settings = tmp_path / "station.toml"
    data = tmp_path / "data"
    data.mkdir()
    settings.write_text(f'station = "sink-1"\ndata_folder = "{data}"\n', encoding="utf-8")
    journal = data / "journal.sqlite"
    WriterThread(journal, "sink-1").close()
    with sqlite3.connect(journal) as source:
        before = source.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    source.close()
    lines = [
        line for line in commands("install.md") if re.search("wetside (backup|restore) ", line)
    ]
    assert ["backup", "restore"] == [line.split()[4] for line in lines]
    for line in lines:
        words = line.replace("/media/stick", str(tmp_path)).split()[4:]
        command = [sys.executable, "-m", "wetside", *words, "--settings", str(settings)]
        subprocess.run(command, check=True)
        if words[0] == "backup":
            journal.unlink()
    with sqlite3.connect(journal) as source:
        assert before == source.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    source.close()


def test_every_command_of_the_proof_exists() -> None:
    """docs/booted.md names parts and options that the two scripts have."""
    root = DOCS.parent
    named: dict[str, set[str]] = {}
    for line in commands("booted.md"):
        script, *words = line.removeprefix("sudo python ").split()
        named.setdefault(script, set()).update(
            word for word in words if (word.isalpha() and word.islower()) or word.startswith("-")
        )
    assert 2 == len(named)
    for script, words_of in named.items():
        text = (root / script).read_text(encoding="utf-8")
        assert words_of
        assert set() == {word for word in words_of if f'"{word}"' not in text}
