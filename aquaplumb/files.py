"""The names of files that a person gives: what no file can be called is refused in a sentence, at the door."""

from __future__ import annotations

import errno
import os
from pathlib import Path

from aquaplumb.kinds import DesignError

_LONGEST = 255  # bytes of one name, on the file systems in use (from memory)


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
