"""The process from which learners' kernels come: it has loaded everything and looked at a demo, and waits.

``python -m aquaplumb.classroom.warm ROOM`` reads requests from its standard input, a line of JSON each. Where the system can
fork (Linux, macOS) each request becomes a child that shares its memory; elsewhere the process itself becomes the kernel, and
a few such processes wait ready. It holds no thread and no ZeroMQ context while it waits: neither lives on in a child.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import importlib
import importlib.util
import json
import os
import re
import select
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from aquaplumb.classroom.guard import lock, readable
from aquaplumb.classroom.told import listen
from aquaplumb.tables import folder as packaged

# What a kernel loads as it starts.
_KERNEL = ("ipykernel.ipkernel", "ipykernel.kernelapp", "ipykernel.debugger", "IPython.core.completerlib", "IPython.core.debugger",
           "IPython.core.oinspect", "IPython.extensions.storemagic", "faulthandler", "tornado.platform.asyncio")  # fmt: skip
_CONTROL = "jupyter.widget.control"  # on which a browser asks for all widgets
_TICK = 0.1  # s, within which an ended kernel is noticed


def warm() -> tuple[str, ...]:
    """Load what pages load, and review the demo that everybody begins with; returns the folders that kernels read from."""
    sys.modules["debugpy"] = None  # type: ignore[assignment]  # no page is debugged, and each kernel would load a hundred modules for it

    from aquaplumb import whatif
    from aquaplumb.build import MINE, lent, load
    from aquaplumb.review import review

    for name in (
        *_KERNEL,
        "aquaplumb.questions.screen",
        "aquaplumb.teaching.glossary",
        "aquaplumb.teaching.sums",
        "pandas",
        "pandas.io.formats.html",
        "pvlib",
        *(f"aquaplumb.whatif.{one}" for one in dir(whatif) if one.islower()),
        *(f"aquaplumb.questions.{one}" for one in whatif.WALK if importlib.util.find_spec(f"aquaplumb.questions.{one}")),
    ):
        importlib.import_module(name)
    str(review(lent(load("courtyard"), Path(MINE))))
    _keep()
    return readable()


def drawn() -> Iterator[None]:
    """Draw, one after another, what is the same for everybody: what the guesses ask about, and the demo's own pictures and panels."""
    from aquaplumb import whatif
    from aquaplumb.build import MINE, lent, load
    from aquaplumb.review import review
    from aquaplumb.units import SYSTEMS
    from aquaplumb.whatif import gallery, start
    from aquaplumb.whatif.whatif import draw_ahead

    def draw(picture: Callable[..., Any], of: Any) -> None:
        with contextlib.suppress(Exception):  # its page will say what is wrong
            shown = picture(of)
            getattr(shown, "own", shown)._repr_mimebundle_()
        gc.collect()  # a figure is a ring of parts, ten megabytes of it

    mine, pages = lent(load("courtyard"), Path(MINE)), [importlib.import_module(f"aquaplumb.whatif.{name}") for name in whatif.WALK]
    for page in pages:
        draw(page.sight, mine)
        yield
    for system in SYSTEMS:
        gallery.pictures(system)
        yield
        draw(start.picture, load("case 08", units=system))  # somebody else's build on page 00
        for page in pages:
            draw(getattr(page.sight, "__self__", page).guess, system)
            yield
    for name in (name for name in dir(whatif) if name.islower()):
        if panel := getattr(importlib.import_module(f"aquaplumb.whatif.{name}"), "panel", None):
            with contextlib.suppress(Exception):
                draw_ahead(mine, panel)
            gc.collect()
            yield
    for name in _cases():
        with contextlib.suppress(Exception):
            _ = review(load(name)).results
        yield
    _keep()


def _cases() -> list[str]:
    """The builds with a mistake that the pages ask about: the same for everybody."""
    return [
        name
        for page in sorted(packaged("notebooks").glob("*.ipynb"))
        for name in re.findall(r'load\(\\"(case \d\d)', page.read_text("utf-8"))
    ]


def _keep() -> None:
    """Give back what is not used, and let no child look through the rest for what it could throw away: it would copy what it looks at."""
    gc.collect()
    with contextlib.suppress(OSError, AttributeError, TypeError):  # another C library than Linux's gives back by itself
        ctypes.CDLL(None).malloc_trim(0)
    gc.freeze()


def hush(its: Any) -> None:
    """Let a kernel say nothing of widgets until a page's browser asks for all of them, as they then are.

    A page has some 250. While it runs each would be a message: made here, read twice by the server, and seen by nobody.
    """
    import comm
    from ipykernel.comm.comm import BaseComm

    class Line(BaseComm):
        """A widget's line to the browser."""

        kernel, heard = its, False

        def publish_msg(self, *arguments: Any, **words: Any) -> None:
            if Line.heard:
                super().publish_msg(*arguments, **words)

    def asked(control: Any, message: dict) -> None:
        Line.heard = True
        tell(control, message)

    tell = its.comm_manager.targets[_CONTROL]
    its.comm_manager.register_target(_CONTROL, asked)
    comm.create_comm = Line


def become(asked: dict[str, str], room: str, read: tuple[str, ...]) -> None:
    """Be the kernel of one learner's page, until it is told to end."""
    from ipykernel.kernelapp import IPKernelApp

    os.chdir(asked["folder"])
    sys.path[:] = [place for place in sys.path if place]  # what lies in the learner's folder is no library
    app = IPKernelApp.instance()
    app.initialize(
        [
            "-f",
            asked["file"],
            "--ext=ipywidgets",
            "--HistoryManager.enabled=False",
            "--log-level=ERROR",
            f"--IPKernelApp.parent_handle={os.getppid()}",
        ]
    )
    hush(app.kernel)
    listen(asked["folder"], asked["page"])
    lock(asked["folder"], shut=room, read=read)
    app.start()


def _say(**words: Any) -> None:
    os.write(_OUT, (json.dumps(words) + "\n").encode())


def _born(line: bytes, room: str, read: tuple[str, ...]) -> int:
    """Fork a kernel; returns its process id."""
    if pid := os.fork():
        return pid
    code = 1
    try:
        os.setsid()
        signal.signal(signal.SIGINT, signal.default_int_handler)
        nothing = os.open(os.devnull, os.O_RDWR)
        os.dup2(nothing, 0)
        os.close(_OUT)
        become(json.loads(line), room, read)
        code = 0
    finally:
        os._exit(code)


def _fork_for_each(room: str, read: tuple[str, ...]) -> None:
    waiting, more = b"", drawn()
    while True:
        ready, _, _ = select.select([0], [], [], _TICK)
        if not ready:
            next(more, None)
        else:
            got = os.read(0, 65536)
            if not got:
                return  # the server has gone, and its kernels end with their parent
            *lines, waiting = (waiting + got).split(b"\n")
            for line in lines:
                _say(born=_born(line, room, read), kernel=json.loads(line)["kernel"])
        with contextlib.suppress(ChildProcessError):
            while (ended := os.waitpid(-1, os.WNOHANG))[0]:
                _say(gone=ended[0])


def main() -> None:
    """Warm up, say so, and serve requests until the standard input is closed."""
    global _OUT
    room, forks = sys.argv[1], "--once" not in sys.argv and hasattr(os, "fork")
    _OUT = os.dup(1)
    os.dup2(2, 1)  # what a kernel prints to its own standard output goes to the log
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C in the terminal is for the server
    read = warm()
    _say(ready=os.getpid())
    if forks:
        _fork_for_each(room, read)
    elif line := sys.stdin.buffer.readline():
        os.close(_OUT)
        become(json.loads(line), room, read)


_OUT = 1

if __name__ == "__main__":
    main()
