"""Standard output and error that outlive their reader: a closed pipe, a full disk.

What a command is for is in its files and its exit code. So it goes on where nobody reads
(``| head``), says so where what it prints cannot be kept (``> file`` on a full disk), and is
never stopped by a log that is full.
"""

from __future__ import annotations

import io
import os
import sys
from contextlib import contextmanager, suppress
from typing import IO, TYPE_CHECKING, Any

from router.deliver.files import OutputError

if TYPE_CHECKING:
    from collections.abc import Iterator


class Patient(io.TextIOBase):
    """A stream whose end is not the end of the work.

    Parameters
    ----------
    stream
        What it writes to; ``None``: it was closed from the start.
    must
        Whether it is a fault if something other than a reader who left keeps it from being written.
    """

    def __init__(self, stream: IO[str] | None, *, must: bool) -> None:
        self.stream, self.must = stream, must

    def write(self, text: str) -> int:
        """Write text.

        Raises
        ------
        OutputError
            If it is not for want of a reader that it cannot be written, and must be.
        """
        with self._lasting():
            if self.stream is not None:
                self.stream.write(text)
        return len(text)

    def flush(self) -> None:
        """Hand on what is written.

        Raises
        ------
        OutputError
            As for :meth:`write`.
        """
        with self._lasting():
            if self.stream is not None:
                self.stream.flush()

    @contextmanager
    def _lasting(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            self._silence()
            if self.must and not isinstance(error, BrokenPipeError):
                raise OutputError(f"standard output: cannot be written: {error.strerror or error}") from error

    def _silence(self) -> None:
        """Write to nowhere from now on; else what is still in the buffer is tried again at the very end."""
        stream, self.stream = self.stream, None
        if stream in (sys.__stdout__, sys.__stderr__):
            with suppress(OSError, ValueError):
                assert stream is not None
                nowhere = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nowhere, stream.fileno())
                os.close(nowhere)

    def isatty(self) -> bool:
        """Whether a person reads it."""
        return self.stream is not None and self.stream.isatty()

    def writable(self) -> bool:
        """Tell that it is for writing."""
        return True

    def fileno(self) -> int:
        """Give the number that the system knows it by."""
        if self.stream is None:
            raise OSError("closed")
        return self.stream.fileno()

    def __getattribute__(self, name: str) -> Any:
        if name in ("encoding", "errors", "newlines", "buffer"):
            return getattr(self.stream, name) if self.stream is not None else "utf-8"
        return super().__getattribute__(name)


@contextmanager
def patient_streams() -> Iterator[None]:
    """Let what is printed meanwhile outlive its reader."""
    _plug()
    before = sys.stdout, sys.stderr
    out, error = Patient(sys.stdout, must=True), Patient(sys.stderr, must=False)
    sys.stdout, sys.stderr = out, error
    try:
        yield
        out.flush()
    finally:
        if sys.stdout is out:
            sys.stdout = before[0]
        if sys.stderr is error:
            sys.stderr = before[1]


def _plug() -> None:
    """Keep the numbers of closed standard streams taken, or the next file that is opened gets one of them."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            with suppress(OSError):
                os.open(os.devnull, os.O_RDWR)  # the lowest number that is free
