"""What a learner's kernel may touch: it reads the library and its learner's own folder, and writes in that folder only.

Nothing that a learner types is run as code, so this is a second lock: a name or a path that slipped past the first one is
refused by Python itself before the file is opened.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

# Where Python, its packages, fonts and the machine's own tables lie; each is read, never written.
_SYSTEM = ("/usr", "/lib", "/lib64", "/etc", "/proc", "/sys", "/dev", "/System", "/Library", "/opt", "/nix")
_OPENING = {"open", "os.listdir", "os.scandir", "os.chdir"}
_CHANGING = {"os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.chmod", "os.chown", "os.link", "os.symlink", "os.truncate", "os.utime"}
_STARTING = {"subprocess.Popen", "os.system", "os.exec", "os.fork", "os.forkpty", "os.posix_spawn", "os.spawn", "os.startfile"}
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


def readable(*more: str | Path) -> tuple[str, ...]:
    """The folders that any kernel reads from: where Python and its packages are, and some more."""
    own = [str(place) for place in (sys.prefix, sys.base_prefix, Path(__file__).parents[2], *sys.path, *more)]
    places = {os.path.realpath(place) for place in (*_SYSTEM, *filter(None, own)) if os.path.exists(place)}
    return tuple(sorted(places - {os.path.realpath(os.sep), os.path.realpath(Path.home())}))


def lock(folder: str | Path, *, shut: str | Path, read: tuple[str, ...]) -> None:
    """From here on this process writes in one folder only, reads nothing else of the room, and starts no program.

    It holds until the process ends.

    Parameters
    ----------
    folder : str or Path
        The learner's own.
    shut : str or Path
        The room's folder, with everybody's; of what lies in it only `folder` is open.
    read : tuple of str
        Folders from which it reads, as `readable` gives them.

    Source: none; it is Python's own audit hook.
    """
    own, room = os.path.realpath(folder), os.path.realpath(shut)

    def within(path: str, places: tuple[str, ...]) -> bool:
        return any(path == place or path.startswith(place + os.sep) for place in places)

    def watch(event: str, arguments: tuple) -> None:
        if event in _STARTING:
            raise PermissionError(1, "a learner's page starts no program")
        if event not in _OPENING and event not in _CHANGING:
            return
        names = arguments[:2] if event in ("os.rename", "os.link", "os.symlink") else arguments[:1]
        for name in names:
            if name is None or isinstance(name, int):
                continue
            path = os.path.realpath(os.fsdecode(name))
            if within(path, (own,)) or path == os.devnull:
                continue
            writes = event in _CHANGING or (event == "open" and _writes(arguments))
            if writes or within(path, (room,)) or not within(path, read):
                raise PermissionError(1, "it is outside this learner's folder", os.path.basename(path))

    sys.addaudithook(watch)


def _writes(arguments: tuple) -> bool:
    mode, flags = (*arguments[1:], None, None)[:2]
    return any(sign in mode for sign in "wax+") if isinstance(mode, str) else bool((flags or 0) & _WRITES)
