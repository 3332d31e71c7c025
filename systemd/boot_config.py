"""Switch 1-Wire and I2C on in a Raspberry Pi's ``config.txt``, and off again.

Standard library only: the installer runs it with the system's Python. All that is added stands
between two marks, under ``[all]``, so that the file's other sections and the owner's lines stay.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

BEGIN = "# wetside: begin (written by the installer; edit outside these marks)"
END = "# wetside: end"
ONE_WIRE_GPIO = 4
I2C_BAUD = 400_000


def lines(*, clock: bool) -> list[str]:
    """Give the lines that the station needs."""
    wanted = [
        f"dtoverlay=w1-gpio,gpiopin={ONE_WIRE_GPIO}",
        f"dtparam=i2c_arm=on,i2c_arm_baudrate={I2C_BAUD}",
    ]
    return [*wanted, "dtoverlay=i2c-rtc,ds3231"] if clock else wanted


def without_block(text: str) -> str:
    """Give the file without the installer's block."""
    pattern = rf"\n*^{re.escape(BEGIN)}$.*?^{re.escape(END)}$\n?"
    return re.sub(pattern, "\n", text, flags=re.DOTALL | re.MULTILINE)


def with_block(text: str, *, clock: bool) -> str:
    """Give the file with the installer's block, once, at its end."""
    rest = without_block(text).rstrip("\n")
    block = "\n".join([BEGIN, "[all]", *lines(clock=clock), END])
    return f"{rest}\n\n{block}\n" if rest else f"{block}\n"


def has_clock(text: str) -> bool:
    """Tell whether the installer's block asks for the clock chip."""
    return BEGIN in text and "dtoverlay=i2c-rtc,ds3231" in text.split(BEGIN, 1)[1]


def conflicts(text: str) -> list[str]:
    """Give a sentence for each of the owner's own lines that contradicts the block."""
    found = []
    for line in without_block(text).splitlines():
        bare = line.split("#", 1)[0].strip().replace(" ", "")
        if bare.startswith(("dtoverlay=w1-gpio", "dtoverlay=w1-gpio-pullup")):
            pin = re.search(r"gpiopin=(\d+)", bare)
            if (int(pin.group(1)) if pin else ONE_WIRE_GPIO) != ONE_WIRE_GPIO:
                found.append(f"'{line.strip()}' puts a second 1-Wire bus on another pin")
            elif bare.startswith("dtoverlay=w1-gpio-pullup"):
                found.append(f"'{line.strip()}' drives a pull-up pin that the wiring does not have")
        if re.search(r"i2c_arm=off", bare):
            found.append(f"'{line.strip()}' switches I2C off; the later line of wetside wins")
    return found


def write(path: Path, text: str) -> None:
    """Replace the file through a temporary one, on the disk before it counts."""
    part = path.with_name(path.name + ".wetside-new")
    with part.open("w", encoding="utf-8", newline="\n") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def main(argv: Sequence[str] | None = None) -> int:
    """Change the file; print ``changed`` or ``unchanged``, and warnings on standard error."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("action", choices=("on", "off"))
    parser.add_argument("file", type=Path)
    parser.add_argument("--clock", action="store_true", help="a DS3231 clock is fitted")
    chosen = parser.parse_args(argv)
    try:
        before = chosen.file.read_text(encoding="utf-8")
        clock = chosen.clock or has_clock(before)
        after = with_block(before, clock=clock) if chosen.action == "on" else without_block(before)
        for sentence in conflicts(before) if chosen.action == "on" else []:
            print(f"look at {chosen.file}: {sentence}", file=sys.stderr)
        if after == before:
            print("unchanged")
            return 0
        backup = chosen.file.with_name(chosen.file.name + ".before-wetside")
        if not backup.exists():
            shutil.copyfile(chosen.file, backup)
        write(chosen.file, after)
    except (OSError, UnicodeDecodeError) as error:
        print(f"{chosen.file} cannot be changed: {error}", file=sys.stderr)
        return 1
    print("changed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
