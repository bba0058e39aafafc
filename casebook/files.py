"""Writing a file so that it is there whole or not at all, also after a power cut."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .problems import FileRefused


@contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """A name beside `path` to write to; it becomes `path` when the block ends without trouble.

    Raises `FileRefused` if there is something at `path` already, no folder to hold it, or it
    cannot be written there.
    """
    if path.exists():
        raise FileRefused(f"There is already something at {path}; give another name.")
    if not path.parent.is_dir():
        raise FileRefused(f"There is no folder {path.parent}; make it first, or name another.")
    unfinished = path.with_name(f"{path.name}.{os.getpid()}.unfinished")
    try:
        yield unfinished
        flush(unfinished)
        unfinished.rename(path)
        flush_folder(path.parent)
    except OSError as problem:
        raise FileRefused(f"{path} could not be written ({problem}).") from problem
    finally:
        unfinished.unlink(missing_ok=True)


def flush(path: Path) -> None:
    """Return when a file's bytes have reached the disk."""
    with path.open("rb+") as written:
        os.fsync(written.fileno())


def flush_folder(folder: Path) -> None:
    """Return when a folder's names have reached the disk, where a folder can be flushed."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
