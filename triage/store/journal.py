"""The record of one job: lines of JSON, each on disk before anything that follows is shown.

Only ever appended to. A last line torn by a crash is set aside in ``<name>.torn``, where it stays.
While a journal is open for writing, ``<name>.lock`` is locked by the operating system.
"""

from __future__ import annotations

import json
import os
import weakref
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from triage.errors import JournalError
from triage.job.events import VERSION
from triage.store.locks import lock, sync_folder

FIRST = "job_started"
CUT = "copy the file, cut it before this line, and resume; what stands before is whole."


def decode(line: str) -> dict[str, Any]:
    """Read one line as a JSON object.

    Raises
    ------
    ValueError : it is none.
    """
    try:
        found = json.loads(line)
    except ValueError as error:
        raise ValueError(f"the line cannot be read ({error})") from error
    if not isinstance(found, dict):
        raise ValueError("the line is no event: an event stands in braces")
    return found


class Journal:
    """The lines of a record, and a way to add one.

    Parameters
    ----------
    path : the record; made if it is missing, unless ``read_only``.
    read_only : take no lock, change nothing; a torn last line is only left out.
    parse : called with every line on opening; its ValueError names the line that cannot be read.

    Attributes
    ----------
    notices : what was found and set right on opening, in words for the person.

    Raises
    ------
    JournalError : open elsewhere, missing (read only), a broken line, or an unknown version.
    """

    def __init__(
        self,
        path: Path,
        *,
        read_only: bool = False,
        parse: Callable[[str], object] = decode,
    ) -> None:
        self.path = path
        self.read_only = read_only
        self.notices: list[str] = []
        self._lines: list[str] = []
        self._closed = False
        self._open_line = False
        held: list[int] = []
        self._release = weakref.finalize(self, _close_all, held)
        try:
            if not read_only:
                self._hold(held)
            self._read(parse)
        except OSError as error:
            self.close()
            raise JournalError(
                path,
                0,
                f"cannot be opened ({error.strerror})",
                "see that the file and its folder are there and yours.",
            ) from error
        except JournalError:
            self.close()
            raise

    def _hold(self, held: list[int]) -> None:
        """Lock first, then open the record for appending."""
        locked = lock(beside(self.path, "lock"))
        if locked is None:
            raise JournalError(
                self.path,
                0,
                "the job is open elsewhere",
                "leave it in the other window first, or begin another job.",
            )
        held.append(locked)
        flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0)
        new = not self.path.exists()
        self._file = os.open(self.path, flags, 0o666)
        held.append(self._file)
        if new:
            sync_folder(self.path.parent)

    def _read(self, parse: Callable[[str], object]) -> None:
        raw = self.path.read_bytes()
        *whole, rest = raw.split(b"\n")  # newlines only: notes may hold other line separators
        if rest and _readable(rest):
            whole.append(rest)
            self._open_line = True
        elif rest:
            self._set_aside(rest, keep=len(raw) - len(rest), line=len(whole) + 1)
        for number, line in enumerate(whole, start=1):
            try:
                text = line.decode("utf-8")
                self._check(text, number)
                parse(text)
            except ValueError as error:
                raise JournalError(self.path, number, str(error), CUT) from error
            self._lines.append(text)

    def _check(self, text: str, number: int) -> None:
        """Refuse what is no line of a record of this version."""
        event = decode(text)
        version, kind = event.get("v"), event.get("kind")
        if number == 1 and kind != FIRST:
            raise JournalError(
                self.path,
                1,
                f"the first line must be of kind '{FIRST}', version {VERSION}; it is '{kind}'",
                "this is not a job's record, or its beginning is lost.",
            )
        if type(version) is not int or not 1 <= version <= VERSION:
            raise JournalError(
                self.path,
                number,
                f"the record is of version {version}; this program reads up to {VERSION}",
                "open it with the program that wrote it, or a newer one.",
            )

    def _set_aside(self, torn: bytes, keep: int, line: int) -> None:
        """Move a torn last line to ``<name>.torn``; it is safe there before it is cut here."""
        aside = beside(self.path, "torn")
        if self.read_only:
            self.notices.append(f"Line {line} was only half written and is left out.")
            return
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0)
        descriptor = os.open(aside, flags, 0o666)
        try:
            _write(descriptor, torn + b"\n")
        finally:
            os.close(descriptor)
        sync_folder(aside.parent)
        os.ftruncate(self._file, keep)
        os.fsync(self._file)
        self.notices.append(
            f"Line {line} was only half written; it is left out and kept in {aside.name}."
        )

    def lines(self) -> list[str]:
        """All whole lines, oldest first, without their newlines."""
        return list(self._lines)

    def append(self, line: str) -> None:
        """Add one line; it is on disk when this returns.

        Raises
        ------
        JournalError : the line is no event (nothing is written), the journal is closed or read
            only, or the disk does not take it; after that no more is written.
        """
        number = len(self._lines) + 1
        if self.read_only or self._closed:
            what = "read only" if self.read_only else "closed"
            raise JournalError(self.path, number, f"the record is {what}", "resume the job.")
        if "\n" in line:
            raise JournalError(self.path, number, "an event must stand on one line")
        try:
            self._check(line, number)
            raw = line.encode("utf-8") + b"\n"
        except ValueError as error:
            raise JournalError(self.path, number, str(error)) from error
        try:
            _write(self._file, b"\n" + raw if self._open_line else raw)
        except OSError as error:
            self.close()  # what reached the disk is not known: the next opening finds out
            raise JournalError(
                self.path,
                number,
                f"the last entry could not be kept ({error.strerror})",
                "make room on the disk, then resume the job and enter it again.",
            ) from error
        self._open_line = False
        self._lines.append(line)

    def close(self) -> None:
        """Close and unlock; a second time does nothing."""
        self._closed = True
        self._release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def beside(path: Path, what: str) -> Path:
    """File that belongs to a record: ``<name>.lock``, ``<name>.torn``."""
    return path.with_name(f"{path.name}.{what}")


def _readable(raw: bytes) -> bool:
    try:
        decode(raw.decode("utf-8"))
    except ValueError:
        return False
    return True


def _write(descriptor: int, raw: bytes) -> None:
    """Write all of it and flush it to the disk."""
    left = memoryview(raw)
    while left:
        left = left[os.write(descriptor, left) :]
    os.fsync(descriptor)


def _close_all(held: list[int]) -> None:
    """Close the record first, the lock last."""
    while held:
        os.close(held.pop())
