"""A lock of the operating system on a file; it falls with the process, however that ends."""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path

BUSY = frozenset({errno.EACCES, errno.EAGAIN, errno.EDEADLK})

if sys.platform == "win32":
    import msvcrt

    def _take(descriptor: int) -> None:
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)

    def sync_folder(folder: Path) -> None:
        """Do nothing: this system has no way to flush a folder."""

else:
    import fcntl

    def _take(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def sync_folder(folder: Path) -> None:
        """Flush the names in a folder to disk, so that a new file is still there after a crash."""
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def lock(path: Path) -> int | None:
    """Lock ``path`` without waiting; the file is made if need be and never removed.

    Returns
    -------
    The descriptor that holds the lock until it is closed, or None where another holds it.

    Raises
    ------
    OSError : the file cannot be made, or this file system has no locks.
    """
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    try:
        _take(descriptor)
    except OSError as error:
        os.close(descriptor)
        if error.errno in BUSY:
            return None
        raise
    return descriptor
