"""What a desk is told when it starts. Values only."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

#: Where the desk listens when it is not told otherwise.
DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8470


@dataclass(frozen=True, slots=True)
class DeskSettings:
    """Paths and address of one desk.

    Parameters
    ----------
    journal
        The station's journal; it may not exist yet.
    live
        The station's live file, or the folder that holds ``live.json``.
    data
        Folder for what the desk itself keeps; it is created.
    host, port
        Where it listens.
    address
        What phones should open, such as ``http://sink-1.local:8470``; empty = found out.
    files
        Folder of ``shelf.toml``, ``bells.toml`` and ``sheets``, which the teacher changes; None =
        ``files`` inside ``data``.
    self_signed
        Speak HTTPS with a certificate that the desk makes and renews itself.
    station
        The station's settings file, for backups; None = ``station.toml`` beside the ``files``.
    certificate, key
        Speak HTTPS with this certificate (PEM, with its chain) and key.
    """

    journal: Path
    live: Path
    data: Path
    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT
    address: str = ""
    files: Path | None = None
    self_signed: bool = False
    certificate: Path | None = None
    key: Path | None = None
    station: Path | None = None

    @property
    def files_folder(self) -> Path:
        """Where shelf, bells and sheets are."""
        return self.data / "files" if self.files is None else self.files

    @property
    def station_file(self) -> Path:
        """The station's settings file, which may not be there."""
        return self.files_folder / "station.toml" if self.station is None else self.station

    @property
    def live_file(self) -> Path:
        """The live file itself."""
        return self.live if self.live.suffix == ".json" else self.live / "live.json"

    @property
    def live_folder(self) -> Path:
        """The folder that station and desk share for short notes."""
        return self.live_file.parent

    @property
    def encrypted(self) -> bool:
        """Whether the desk itself speaks HTTPS."""
        return self.self_signed or self.certificate is not None

    @property
    def given_host(self) -> str:
        """The host of the address that was given; empty without one."""
        return urlsplit(self.address).hostname or ""
