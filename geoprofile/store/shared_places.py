"""A site file on a network share, or in a folder that a program keeps in step with other machines.

There two hands may write without seeing each other's locks. What shows it is noticed: the kind of
disk, locks that do not hold, and the copies that a synchronising program makes of a file which two
machines have changed. Kinds of disks, marks and names: common practice, no source.
"""

from __future__ import annotations

import errno
import os
import platform
import re
import struct
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from geoprofile.whole import private_folder

MOUNTS = Path("/proc/self/mounts")
# disks of this machine alone; on others a lock is tried out
LOCAL = frozenset(
    [
        "ext2",
        "ext3",
        "ext4",
        "xfs",
        "btrfs",
        "zfs",
        "f2fs",
        "tmpfs",
        "ramfs",
        "overlay",
        "fuseblk",
        "vfat",
        "exfat",
        "ntfs",
        "ntfs3",
        "jfs",
        "reiserfs",
        "fuse.overlayfs",
        "squashfs",
        "iso9660",
        "udf",
        "bcachefs",
        "ecryptfs",
    ]
)
SHARES = frozenset(
    [
        "nfs",
        "nfs4",
        "cifs",
        "smb3",
        "smbfs",
        "afs",
        "ceph",
        "9p",
        "davfs",
        "ncpfs",
        "glusterfs",
        "lustre",
    ]
)
# options with which a share keeps its locks on this machine: others do not see them
LOCKS_STAY_HERE = frozenset(
    ["nolock", "local_lock=all", "local_lock=posix", "nobrl", "noposixlocks"]
)
SYNCHRONISED = re.compile(
    r"(dropbox|onedrive|nextcloud|owncloud|google ?drive|my drive|icloud ?drive|seafile|pcloud)"
    r"(\b.*)?$",
    re.IGNORECASE,
)
MARKS = (".dropbox", ".dropbox.cache", ".stfolder", ".owncloudsync.log", ".nextcloudsync.log")
COPIES = re.compile(r"conflict|^ ?\(\d+\)$|^-(desktop|laptop)-\w+$", re.IGNORECASE)
NO_LOCKS = (errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP)
REMOTE_DRIVE = 4  # what Windows answers for a drive of another machine
ONE_HAND = (
    "Let one program at a time write it, here and on other machines; safer: keep the site file on "
    "a disk of this machine, and put copies there."
)


@dataclass(frozen=True)
class Disk:
    """The disk on which a folder lies: where it is mounted, its kind, how it was mounted."""

    place: str
    kind: str
    options: frozenset[str] = frozenset()

    @property
    def is_share(self) -> bool:
        """Whether other machines may write there."""
        is_programs = self.kind.startswith("fuse.") and self.kind not in LOCAL
        return self.kind in SHARES or is_programs


def disk_of(folder: Path) -> Disk | None:
    """The disk of a folder; None where the system does not tell."""
    real = folder.resolve()
    if sys.platform == "win32":
        import ctypes

        found = ctypes.windll.kernel32.GetDriveTypeW(f"{real.anchor}")
        is_share = found == REMOTE_DRIVE or real.anchor.startswith("\\\\")
        return Disk(real.anchor, "smbfs" if is_share else "ntfs")
    try:
        lines = os.fsdecode(MOUNTS.read_bytes()).splitlines()
    except OSError:
        return None
    disks = [Disk(_plain(f[1]), f[2], frozenset(f[3].split(","))) for f in map(str.split, lines)]
    holding = [d for d in disks if real == Path(d.place) or Path(d.place) in real.parents]
    # of two on the same place the later one is seen
    return max(reversed(holding), key=lambda d: len(d.place), default=None)


def _plain(text: str) -> str:
    """A place as it is; the list writes spaces and the like as octal numbers."""
    return re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), text)


@dataclass(frozen=True)
class Notice:
    """What the place of a site file endangers, and what to do."""

    what: str
    what_to_do: str

    def __str__(self) -> str:
        """Two sentences."""
        return f"{self.what}. {self.what_to_do}"


def notices(path: Path) -> tuple[Notice, ...]:
    """What is wrong already: locks that do not hold, and copies made of two hands' work."""
    said = []
    names = conflict_copies(path)
    if names:
        said.append(
            Notice(
                f"{', '.join(names)} beside {path.name}: such copies are made where two machines "
                "have written the same file, and rows of theirs may be missing here",
                f"Look with 'geoprofile compare {path.name} COPY', take over what is missing, and "
                "move the copies away.",
            )
        )
    disk = disk_of(path.parent)
    if disk is not None and disk.kind not in LOCAL and not locks_hold(path.parent, disk):
        said.append(
            Notice(
                f"locks do not hold on the disk of {path.name} ({disk.kind} at {disk.place}): "
                "another program could write at the same moment, and the file would be torn",
                ONE_HAND,
            )
        )
    return tuple(said)


def advice(path: Path) -> tuple[Notice, ...]:
    """What to mind in such a place, said once, when a site file is made there."""
    disk, folder = disk_of(path.parent), synchronised(path.parent)
    if folder:
        what = (
            f"'{folder}' looks like a folder that a program keeps in step with other machines; it "
            "knows nothing of a write that is under way"
        )
        wait = "Wait until all is in step before work begins elsewhere."
        return (Notice(what, f"{ONE_HAND} {wait}"),)
    if disk is not None and disk.is_share:
        what = f"{path.name} lies on a network share ({disk.kind} at {disk.place})"
        return (Notice(what, ONE_HAND),)
    return ()


def conflict_copies(path: Path) -> tuple[str, ...]:
    """Names beside a file under which synchronising programs keep what another machine wrote."""
    found = []
    with suppress(OSError), os.scandir(path.parent) as entries:
        for entry in entries:
            name = Path(entry.name)
            is_like = name.suffix == path.suffix and name.stem.startswith(path.stem)
            rest = name.stem[len(path.stem) :]
            is_copy = COPIES.search(rest) or rest.casefold() == f"-{platform.node().casefold()}"
            if is_like and rest and is_copy:
                found.append(entry.name)
    return tuple(sorted(found))


def synchronised(folder: Path) -> str:
    """The folder, at or above this one, that looks synchronised; empty if none does."""
    real = folder.resolve()
    for place in (real, *real.parents):
        if SYNCHRONISED.match(place.name) or any((place / mark).exists() for mark in MARKS):
            return place.name
    return ""


def locks_hold(folder: Path, disk: Disk) -> bool:
    """Whether a second hand is kept out by a lock; True where that cannot be tried."""
    if disk.options & LOCKS_STAY_HERE:
        return False
    if sys.platform != "linux" or not os.access(folder, os.W_OK):
        return True
    with private_folder(folder) as work:
        return _second_is_kept_out(work / "lock")


def _second_is_kept_out(path: Path) -> bool:
    """Lock a file through one descriptor, and try the same through another one.

    The locks are those of an open file, which unlike those of a process keep out itself too.
    """
    import fcntl

    lock = struct.pack("hhqqi", fcntl.F_WRLCK, os.SEEK_SET, 0, 1, 0)
    first = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
    second = os.open(path, os.O_RDWR)
    try:
        fcntl.fcntl(first, fcntl.F_OFD_SETLK, lock)
        fcntl.fcntl(second, fcntl.F_OFD_SETLK, lock)
    except OSError as error:
        return error.errno not in NO_LOCKS
    finally:
        os.close(second)
        os.close(first)
    return False
