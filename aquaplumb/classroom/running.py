"""Start the room, say in large print how to come in, and end it with everything that it began."""

from __future__ import annotations

import asyncio
import contextlib
import importlib.util
import logging
import os
import signal
import sys
import tempfile
from pathlib import Path

from aquaplumb.classroom.register import Register
from aquaplumb.units import DesignError

_LOG = ".room.log"
_PORT = 8000


def run(folder: Path, *, port: int = _PORT, address: str = "", browser: bool = True) -> int:
    """Serve a room from a folder until Ctrl+C; returns the exit code.

    Parameters
    ----------
    folder : Path
        Where the learners' folders are; made where it is not there yet.
    port : int
        On which it listens; another near it where that is taken.
    address : str
        The one of this machine's addresses that learners use; blank listens on all.
    browser : bool
        Whether to open the board on this machine.

    Source: none; it starts a server.
    """
    for needed in ("voila", "segno"):
        if importlib.util.find_spec(needed) is None:
            raise DesignError(f'{needed} is not installed here; run: pip install "aquaplumb[room]"')
    register = Register(folder)
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_served(register, port, address, browser))
    register.forget_guesses()
    print("The room is closed. All kept builds are in its folder.")
    return 0


async def _served(register: Register, port: int, address: str, browser: bool) -> None:
    from aquaplumb.classroom.nursery import Nursery
    from aquaplumb.classroom.serving import Room

    print("The pages are being made ready, which takes some ten seconds.", flush=True)
    with tempfile.TemporaryDirectory() as quiet, (register.folder / _LOG).open("w", encoding="utf-8") as log:
        logging.basicConfig(stream=log, level=logging.WARNING, format="%(asctime)s %(name)s %(message)s", force=True)
        nursery = Nursery(register.folder, log, settings={"IPYTHONDIR": quiet, "JUPYTER_RUNTIME_DIR": quiet})
        try:
            nursery.wait()
            room = Room.made(register, nursery)
            app = room.application()
            port = _listen(app, port, address)
        except BaseException:
            nursery.close()
            raise
        room.address = f"http://{address or _own_address()}:{port}/"
        told = f"http://localhost:{port}/teacher/{room.teacher}"
        if address and address != "127.0.0.1":
            told = f"http://{address}:{port}/teacher/{room.teacher}"
        print(_sign(room.address, register.code))
        print(f"The board, for you alone: {told}\n(Ctrl+C here closes the room.)", flush=True)
        if browser:
            import webbrowser

            webbrowser.open(told)
        stop = asyncio.Event()
        for name in ("SIGINT", "SIGTERM"):
            with contextlib.suppress(NotImplementedError, AttributeError):  # Windows raises KeyboardInterrupt instead
                asyncio.get_running_loop().add_signal_handler(getattr(signal, name), stop.set)
        try:
            while not stop.is_set():
                with contextlib.suppress(asyncio.TimeoutError):
                    await asyncio.wait_for(stop.wait(), 0.5)
        finally:
            await room.close()


def _listen(app, port: int, address: str) -> int:
    """Listen on a port, or one of the next twenty; returns which."""
    for place in (*range(port, port + 20), 0) if port else (0,):
        try:
            server = app.listen(place, address, max_body_size=1 << 16, max_header_size=1 << 15)
        except OSError as wrong:
            last = wrong
            continue
        return next(iter(server._sockets.values())).getsockname()[1]
    raise DesignError(f"Nothing can be served at {address or 'this machine'}: {last.strerror}. See with what address it is in the Wi-Fi.")


def _own_address() -> str:
    """This machine's address in its network; where there is none, the one that only itself can reach."""
    from jupyter_client.localinterfaces import public_ips

    return next((one for one in public_ips() if ":" not in one and not one.startswith("127.")), "127.0.0.1")


def _sign(address: str, code: str) -> str:
    """What stands on the screen, in large print: the address, the code, and both as a QR code where the screen can show one."""
    import io

    import segno

    drawn = io.StringIO()
    segno.make(f"{address}?code={code}", error="m").terminal(out=drawn, border=2, compact=True)
    wide = "\n".join(("", f"    {' '.join(address)}", "", f"    C O D E   {' '.join(code[:3])}   {' '.join(code[3:])}", ""))
    try:
        drawn.getvalue().encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        return wide
    return drawn.getvalue() + wide if os.isatty(1) else wide
