"""Making the disk of the machine under test: a small Debian with the offline bundle on it."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

PROJECT = Path(__file__).parents[3]
GUEST = Path(__file__).parents[1] / "guest"
PACKAGES = (
    "systemd,systemd-sysv,systemd-timesyncd,udev,dbus,kmod,python3,python3-venv,procps,iproute2,"
    "openssl,busybox-static,linux-image-cloud-amd64"
)
#: What the first file system of the kernel needs to find the disk.
MODULES = ("virtio_pci", "virtio_blk", "ext4")
#: Units of the system that have nothing to do with the proof and cost an emulated boot seconds.
MASKED = (
    "apt-daily.timer", "apt-daily-upgrade.timer", "dpkg-db-backup.timer", "e2scrub_all.timer",
    "e2scrub_reap.service", "fstrim.timer", "systemd-binfmt.service", "systemd-logind.service",
    "systemd-update-utmp.service", "systemd-update-utmp-runlevel.service",
    "modprobe@configfs.service", "modprobe@dm_mod.service", "modprobe@drm.service",
    "modprobe@efi_pstore.service", "modprobe@fuse.service", "modprobe@loop.service",
    "dev-hugepages.mount", "dev-mqueue.mount", "sys-kernel-debug.mount",
    "sys-kernel-tracing.mount", "proc-sys-fs-binfmt_misc.automount",
    # a login prompt would cut the console off
    "console-getty.service", "serial-getty@ttyS0.service", "getty@tty1.service",
)  # fmt: skip
INIT = """#!/bin/sh
mount -t devtmpfs dev /dev
mount -t proc proc /proc
for module in {modules}; do insmod /$module; done
mount -t ext4 -o {options} /dev/vda /root || exec sh
exec switch_root /root /sbin/init
"""


def sh(*words: str | Path) -> None:
    """Run a command that must succeed."""
    subprocess.run(list(map(str, words)), check=True)


def output(*words: str | Path) -> str:
    """Run a command that must succeed; give what it printed."""
    return subprocess.run(
        list(map(str, words)), check=True, stdout=subprocess.PIPE, text=True
    ).stdout


def make_image(work: Path, megabytes: int) -> None:
    """Make a root folder, prepare it, and turn it into a disk with kernel and initrd beside it."""
    base, root = work / "base", work / "root"
    if not (base / "etc" / "debian_version").exists():
        sh("debootstrap", "--variant=minbase", f"--include={PACKAGES}", "bookworm", base)
    shutil.rmtree(root, ignore_errors=True)
    sh("cp", "-a", base, root)
    prepare(root, work)
    shutil.copyfile(max((root / "boot").glob("vmlinuz-*")), work / "vmlinuz")
    make_initrd(root, work)
    disk = work / "disk.img"
    disk.unlink(missing_ok=True)
    sh("truncate", "-s", f"{megabytes}M", disk)
    sh("mke2fs", "-q", "-t", "ext4", "-d", root, disk)


def make_initrd(root: Path, work: Path) -> None:
    """Make a first file system that does nothing but load three drivers and mount the disk.

    It is not compressed: unpacking is slow where the processor is emulated.
    """
    tree = work / "initrd"
    shutil.rmtree(tree, ignore_errors=True)
    for folder in ("bin", "dev", "proc", "root"):
        (tree / folder).mkdir(parents=True)
    shutil.copy(root / "bin/busybox", tree / "bin/busybox")
    for name in ("sh", "mount", "insmod", "switch_root"):
        link(tree / "bin" / name, "busybox")
    version = max((root / "lib/modules").iterdir()).name
    files: dict[str, None] = {}
    for module in MODULES:
        text = output("chroot", root, "modprobe", "-S", version, "--show-depends", module)
        for line in text.splitlines():
            word, _, path = line.strip().partition(" ")
            if word == "insmod":
                shutil.copy(root / path.strip().lstrip("/"), tree)
                files[Path(path.strip()).name] = None
    init = tree / "init"
    text = INIT.format(modules=" ".join(files), options="errors=remount-ro")
    init.write_text(text, encoding="ascii")
    init.chmod(0o755)
    pack = "find . | busybox cpio -o -H newc 2>/dev/null"
    shutil.copytree(tree, root / "tmp/initrd", symlinks=True)
    with (work / "initrd.img").open("wb") as out:
        words = ["chroot", str(root), "sh", "-c", f"cd /tmp/initrd && {pack}"]
        subprocess.run(words, check=True, stdout=out)
    shutil.rmtree(root / "tmp/initrd")


def prepare(root: Path, work: Path) -> None:
    """Lay the guest's scripts, the simulated parts' settings and the bundle into the root."""
    system = root / "etc/systemd/system"
    dropin = system / "wetside-station.service.d"
    sheets = root / "etc/wetside/sheets"
    wants = system / "multi-user.target.wants"
    for folder in (dropin, sheets, wants, root / "var/log/journal"):
        folder.mkdir(parents=True, exist_ok=True)
    lay_scripts(root)
    shutil.copy(GUEST / "brief.toml", sheets / "0-brief.toml")
    shutil.copy(GUEST / "tmpfiles.conf", root / "etc/tmpfiles.d/proof.conf")
    link(wants / "proof.service", "../proof.service")
    for unit in MASKED:
        link(system / unit, "/dev/null")
    (root / "etc/hostname").write_text("wetside-proof\n", encoding="ascii")
    made = output("bash", source(work) / "systemd/bundle.sh", work, "3.11", "x86_64")
    sh("tar", "-C", root / "root", "-xf", made.strip().splitlines()[-1])


def lay_scripts(root: Path) -> None:
    """Put the guest's scripts, units and settings into place; also on a disk that is installed."""
    (root / "proof").mkdir(exist_ok=True)
    for file in [*GUEST.glob("*.py"), *GUEST.glob("*.sh")]:
        shutil.copy(file, root / "proof" / file.name)
        (root / "proof" / file.name).chmod(0o755)
    system = root / "etc/systemd/system"
    for unit in ("proof.service", "proof-sink.service"):
        shutil.copy(GUEST / unit, system / unit)
    shutil.copy(GUEST / "parts.conf", system / "wetside-station.service.d/parts.conf")
    shutil.copyfile(GUEST / "station.toml", root / "etc/wetside/station.toml")


def refresh(work: Path) -> None:
    """Put the present scripts into the disk as it is; the installed program stays."""
    place = work / "mounted"
    place.mkdir(exist_ok=True)
    sh("mount", "-o", "loop", work / "disk.img", place)
    try:
        lay_scripts(place)
    finally:
        sh("umount", place)


def source(work: Path) -> Path:
    """Give the project as it was committed last, or as it lies there where no git is."""
    if not (PROJECT / ".git").exists():
        return PROJECT
    tree = work / "source"
    shutil.rmtree(tree, ignore_errors=True)
    tree.mkdir(parents=True)
    archive = subprocess.run(
        ["git", "-C", str(PROJECT), "archive", "HEAD"], check=True, stdout=subprocess.PIPE
    ).stdout
    subprocess.run(["tar", "-C", str(tree), "-xf", "-"], check=True, input=archive)
    print("made from commit", output("git", "-C", PROJECT, "rev-parse", "HEAD").strip())
    return tree


def link(path: Path, target: str) -> None:
    """Make a symbolic link, also where one is."""
    path.unlink(missing_ok=True)
    path.symlink_to(target)
