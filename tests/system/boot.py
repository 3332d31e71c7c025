"""Install wetside on a booted Debian, take a roll through, and pull the plug many times.

``python tests/system/boot.py --work DIR PART``, where PART is

image
    make a disk (debootstrap) with a bundle on it;
install
    boot it, run the README's command twice, show the transcript;
run
    boot it, take a roll through with the simulated sink, ask the desk, make a backup, lose the
    journal and put backups back;
faults
    boot it, hurt the running service and the machine, a line for each;
cuts
    boot it, pull the plug in mid-run, again and again (``-n 50``), and judge what is left;
refresh
    put changed scripts of the guest into the disk.

The machine is QEMU without hardware help, so a boot takes half a minute. Needs root, debootstrap,
qemu-system-x86 and about 5 GB. A pulled plug loses what the guest's kernel had not written out, and
at random what its disk had not been told to keep (``proof/disk.py``). A card that says "kept"
before it is, or that damages what lay there before, is not simulated.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from pathlib import Path

from proof import cuts, hurts, image
from proof.machine import Power, ProofError, once


def main() -> int:
    """Do one part of the proof."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--work", type=Path, required=True)
    parser.add_argument("part", choices=("image", "install", "run", "faults", "cuts", "refresh"))
    parser.add_argument("-n", type=int, default=50, help="how many cuts")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--until", help="HH:MM, no new life after that")
    parser.add_argument("--go-on", action="store_true", help="go on with the cuts")
    parser.add_argument("--megabytes", type=int, default=3000)
    parser.add_argument("--only", help="one of the faults")
    chosen = parser.parse_args()
    if os.geteuid() != 0:
        parser.error("run it as root: debootstrap and chroot need it")
    chosen.work.mkdir(parents=True, exist_ok=True)
    try:
        if chosen.part == "image":
            image.make_image(chosen.work, chosen.megabytes)
        elif chosen.part == "refresh":
            image.refresh(chosen.work)
        elif chosen.part == "install":
            print(once(chosen.work, Power("install"), 1800.0))
        elif chosen.part == "run":
            print(once(chosen.work, Power("run", speed=4.0), 1800.0))
        elif chosen.part == "faults":
            return hurts.hurt(chosen.work, chosen.only)
        else:
            cuts.cuts(chosen.work, chosen.n, chosen.seed, chosen.until, go_on=chosen.go_on)
    except (ProofError, subprocess.CalledProcessError, OSError) as error:
        print(f"failed: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
