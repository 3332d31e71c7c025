"""What the station costs: share of a core and memory over a run, beside a bare Python.

    python tests/benchmarks/station_load.py --minutes 10
    python tests/benchmarks/station_load.py --minutes 10 --part steps

Starts the real ``wetside station`` process at real time on a simulated sink, tempers, or has
the developer poured at once so that steps run, and reads the kernel's own account of the process.
The bare Python imports the same libraries and does nothing.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from wetside.devices.parts import button_gpios
from wetside.session import sheet as sheets
from wetside.session.presses import Button
from wetside.session.signals import Cue, CueName
from wetside.settings import Pins
from wetside.sim.apart import FastClock, write_pins
from wetside.sim.clock import VirtualClock
from wetside.sim.scripts import script
from wetside.sim.situation import Arrangement, usual
from wetside.sim.student import Student
from wetside.sim.world import World

#: Pours now, whatever the temperature.
LONG_PRESS_SECONDS = 1.6

BARE = "import gpiozero, luma.oled.device, numpy, pydantic, sqlite3, time, ulid, w1thermsensor"


def account(pid: int) -> tuple[float, float]:
    """CPU seconds used and resident megabytes of a process."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    seconds = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    kilobytes = next(int(line.split()[1]) for line in status.splitlines() if "VmRSS" in line)
    return seconds, kilobytes / 1024


def bare_megabytes() -> float:
    """Resident megabytes of a Python that imports the libraries and waits."""
    environment = {**os.environ, "W1THERMSENSOR_NO_KERNEL_MODULE": "1"}
    with subprocess.Popen(
        [sys.executable, "-c", f"{BARE}; time.sleep(60)"], env=environment
    ) as process:
        time.sleep(4)
        megabytes = account(process.pid)[1]
        process.kill()
    return megabytes


def station_account(minutes: float, part: str, folder: Path) -> dict[str, float]:
    """Run a station for so long in a part of a roll; its share of a core and its memory."""
    clock = VirtualClock(start_seconds=FastClock().now(), speed=1.0)
    sheet = sheets.load(sheets.available([sheets.shipped_folder()])[0])
    situation = usual(sheet.setup(), 1, Arrangement.DEVELOPER)
    world = World(clock, folder / "w1", situation, seed=1)
    write_pins(world.pins, folder / "pins", button_gpios(Pins()).values())
    student = Student(world, script("scripted", Arrangement.DEVELOPER), sheet.setup(), seed=1)
    (folder / "data").mkdir()
    settings = folder / "station.toml"
    settings.write_text(
        f'data_folder = "{folder / "data"}"\nlive_folder = "{folder / "live"}"\n'
        f'w1_folder = "{world.tree.folder}"\n',
        encoding="utf-8",
    )
    live = folder / "live" / "live.json"
    with subprocess.Popen(
        [
            sys.executable, "-m", "wetside", "station",
            "--settings", str(settings), "--parts-from", str(folder / "pins"),
        ]
    ) as process:  # fmt: skip
        clock.run_for(5.0)
        student.begin()
        if part == "steps":
            while json.loads(live.read_text(encoding="utf-8"))["state"] != "tempering":
                clock.run_for(0.25)
            world.press(Button.NOW, LONG_PRESS_SECONDS)
        before, _ = account(process.pid)
        begun, heard, most = time.monotonic(), 0.0, 0.0
        while time.monotonic() - begun < minutes * 60:
            clock.run_for(0.25)
            cue = json.loads(live.read_text(encoding="utf-8"))["last_cue"]
            if cue and cue["at"] > heard:
                heard = cue["at"]
                student.hear(Cue(CueName(cue["name"]), cue["at"], cue["values"]))
            most = max(most, account(process.pid)[1])
        after, last = account(process.pid)
        wall = time.monotonic() - begun
        state = json.loads(live.read_text(encoding="utf-8"))["state"]
        process.terminate()
        process.wait()
    print(f"state at the end: {state}", file=sys.stderr)
    return {"share": (after - before) / wall, "most_mb": most, "last_mb": last, "wall": wall}


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--part", choices=("tempering", "steps"), default="tempering")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "w1").mkdir()
        found = station_account(asked.minutes, asked.part, Path(folder))
    bare = bare_megabytes()
    print(f"station over {found['wall'] / 60:.1f} min of {asked.part}")
    print(f"  share of one core   {100 * found['share']:.2f} %")
    print(f"  resident memory     {found['last_mb']:.1f} MB, at most {found['most_mb']:.1f} MB")
    print(f"bare Python with the same libraries  {bare:.1f} MB")
    print(f"  ratio               {found['last_mb'] / bare:.2f}")


if __name__ == "__main__":
    main()
