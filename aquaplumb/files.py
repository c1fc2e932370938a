"""Files of a person: what one can be called, holding it for one writer at a time, and replacing it in one step.

Whatever is written goes through `write`, so that a power cut, a kill or a full disk leaves the old file or the new one.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import stat
import tempfile
import time
from pathlib import Path

from filelock import FileLock, Timeout

from aquaplumb.kinds import DesignError

_LONGEST = 255  # bytes of one name, on the file systems in use (from memory)
_PATIENCE = 10  # s
_DEAD = 60  # s: no writing takes so long
_ENDING = ".unfinished"


def named_file(path: str | Path, where: str = "") -> Path:
    """The path, where a file can be called so.

    Raises
    ------
    DesignError
        Where the name is blank or too long, holds a null, or is a link that leads to itself.
    """
    start = f"{where}: " if where else ""
    if not os.fspath(path) or "\0" in os.fspath(path):
        raise DesignError(f"{start}{os.fspath(path)!r:.60} cannot be the name of a file; name one such as my-build.toml.")
    if long := next((part for part in Path(path).parts if len(os.fsencode(part)) > _LONGEST), None):
        raise DesignError(f"{start}'{long[:40]}…' has {len(long)} letters; the name of a file has {_LONGEST} at most.")
    try:
        os.stat(path)
    except OSError as wrong:
        if wrong.errno == errno.ELOOP:
            raise DesignError(
                f"{start}{os.fspath(path)[-60:]} is a link that leads to itself; name the file that it should lead to."
            ) from None
        if wrong.errno == errno.ENAMETOOLONG:
            raise DesignError(f"{start}'{os.fspath(path)[:40]}…' is too long for the name of a file.") from None
    return Path(path)


def contents(path: Path, most: int, small: str) -> bytes:
    """The bytes of a plain file, of at most so many; `small` says how little of it is enough.

    Raises
    ------
    DesignError
        Where it is a folder, a device or a pipe, before anything is read of it, or where it is larger; an OSError passes.
    """
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        raise DesignError(f"'{path.name}' is a folder; give the file in it.")
    if not stat.S_ISREG(mode):
        raise DesignError(f"'{path.name}' is a device or a pipe, not a plain file; give the name of a file.")
    with path.open("rb") as file:
        data = file.read(most + 1)  # it may grow meanwhile
    if len(data) > most:
        raise DesignError(f"{path.name} has {max(len(data), path.stat().st_size) / 1e6:,.1f} MB; {small}. Is it the right file?")
    return data


@contextlib.contextmanager
def alone(path: Path):
    """Hold a file for one reader-and-writer at a time: by its folder, which is there for all who may write, and needs no file."""
    folder, until = path.resolve().parent, time.monotonic() + _PATIENCE
    with contextlib.ExitStack() as held:
        try:
            try:
                import fcntl

                handle = os.open(folder, os.O_RDONLY)
                held.callback(os.close, handle)
                while not _got(fcntl, handle):
                    if time.monotonic() > until:
                        raise Timeout(str(folder))
                    time.sleep(0.02)
            except ImportError:  # Windows, where the lock's own file goes with it
                held.enter_context(FileLock(folder / ".aquaplumb.lock", timeout=_PATIENCE))
        except Timeout:
            raise DesignError(f"another notebook has been saving {path.name} for ten seconds. Nothing was saved; try again.") from None
        except OSError as wrong:
            raise DesignError(f"{folder} cannot be written to: {wrong.strerror}. Nothing was saved.") from None
        yield


def _got(fcntl, handle: int) -> bool:
    """Whether a folder is held now; where its file system knows no such lock, nobody can hold it, and one goes on without."""
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as wrong:
        return wrong.errno not in (errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES)
    return True


def write(path: Path, data: str | bytes) -> None:
    """Replace a file in one step: the old one or the new, never half of it."""
    path = path.resolve()
    start = f".{path.name[:40]}."
    try:
        _clear(path.parent, start)
        handle, temporary = tempfile.mkstemp(prefix=start, suffix=_ENDING, dir=path.parent)
    except OSError as wrong:
        raise DesignError(f"{path.parent} cannot be written to: {wrong.strerror}. Nothing was saved.") from None
    try:
        with os.fdopen(handle, "wb") as file:
            if path.exists() and not os.access(path, os.W_OK):
                raise DesignError(f"{path.name} is write-protected. Nothing was saved.")
            os.chmod(temporary, path.stat().st_mode & 0o777 if path.exists() else 0o644)
            file.write(data.encode("utf-8") if isinstance(data, str) else data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except OSError as wrong:
        raise DesignError(f"{path.name} cannot be saved: {wrong.strerror}. The old file is as it was.") from None
    finally:
        if os.path.exists(temporary):
            os.unlink(temporary)


def _clear(folder: Path, start: str) -> None:
    """Take away what a writer of the same file that was killed has left."""
    left = re.compile(re.escape(start) + r"[a-z0-9_]{8}" + re.escape(_ENDING))
    with os.scandir(folder) as entries:
        for entry in entries:
            if left.fullmatch(entry.name) and time.time() - entry.stat(follow_symlinks=False).st_mtime > _DEAD:
                with contextlib.suppress(OSError):
                    os.unlink(entry.path)
