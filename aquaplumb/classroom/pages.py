"""A learner's pages: rendered by Voilà with a kernel in the learner's own folder, and a websocket that moves widgets and no more."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import re
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tornado.web
import tornado.websocket
from jupyter_core.utils import ensure_async
from jupyter_server.base.handlers import APIHandler, JupyterHandler
from jupyter_server.services.kernels.connection.base import deserialize_msg_from_ws_v1
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from jupyter_server.services.kernels.handlers import KernelHandler
from voila.tornado.kernel_websocket_handler import VoilaKernelWebsocketHandler

from aquaplumb.tables import folder as packaged
from aquaplumb.units import DesignError

if TYPE_CHECKING:
    from aquaplumb.classroom.register import Learner
    from aquaplumb.classroom.serving import Room

# What a page's browser may say to its kernel. Widgets are asked for by opening a line to `jupyter.widget.control`; all else
# that opens one, and all that runs, completes, inspects, debugs or interrupts, stays outside.
_SAID = {"comm_msg", "comm_close", "comm_open", "comm_info_request", "kernel_info_request"}
_LINES = {"jupyter.widget.control"}
_PARTS = (6, 70)  # ends of the channel and of four parts of a message, and of up to 64 more in which pictures and files come
_FROM_ELSEWHERE = re.compile(r"<link[^>]+https?://[^>]*>")
_SCRIPT = '<link rel="stylesheet" href="/room/static/page.css"><script src="/room/static/page.js" defer></script>'
_TOGETHER = 0.05  # s
_WAYS = '<p><a href="/">All pages</a></p>'


class OpenPages:
    """The open pages: each has a line on which it is told what it cannot see itself."""

    def __init__(self) -> None:
        self.open: dict[str, set[Link]] = {}

    def gone(self, kernel_id: str) -> None:
        """Tell the pages of a kernel that it has ended."""
        for link in list(self.open.get(kernel_id, ())):
            link.say("gone")


def books() -> dict[str, str]:
    """The walk's pages: file name by number."""
    return {path.name[:2]: path.name for path in sorted(packaged("notebooks").glob("[0-9][0-9]-*.ipynb"))}


def title(name: str) -> str:
    """A page's title, which is a question."""
    cells = json.loads((packaged("notebooks") / name).read_text(encoding="utf-8"))["cells"]
    return "".join(cells[0]["source"]).split("\n")[0].lstrip("# ")


class _Owned:
    """A handler for one kernel, for the learner whose it is and nobody else."""

    settings: dict[str, Any]
    current_user: Any

    @property
    def room(self) -> Room:
        return self.settings["room"]

    def mine(self, kernel_id: str) -> bool:
        user = self.current_user
        kernels = self.room.kernel_manager
        return bool(user) and kernel_id in kernels and kernels.owners.get(kernel_id) == user.username

    def check(self, kernel_id: str) -> None:
        if not self.mine(kernel_id):
            raise tornado.web.HTTPError(404)


async def ended(room: Room, kernel_id: str) -> None:
    """End a page's kernel."""
    with contextlib.suppress(Exception):  # it may have ended by itself meanwhile
        await room.kernel_manager.shutdown_kernel(kernel_id, now=True)
    room.kernel_manager.owners.pop(kernel_id, None)


class LearnersPage(_Owned, JupyterHandler):
    """One page of the walk."""

    _coming: asyncio.Task | None = None
    _flushing: asyncio.TimerHandle | None = None

    @tornado.web.authenticated
    async def get(self, book: str) -> None:
        if book not in books().values():
            raise tornado.web.HTTPError(404)
        learner = self.room.learner_of(self)
        assert learner
        folder = self.room.register.place(learner)
        folder.mkdir(exist_ok=True)  # somebody may have tidied up between two days
        self.room.board.opened(learner, book[:2])
        self.set_header("Cache-Control", "no-store")
        self._coming = asyncio.ensure_future(self._sent(learner, book))
        try:
            await self._coming
        except asyncio.CancelledError:
            pass  # who asked has left
        except (DesignError, OSError, RuntimeError) as wrong:  # a full disk, or nothing that a page could come from
            self.log.exception("%s", book)
            if not self._headers_written:
                raise tornado.web.HTTPError(503, str(wrong)) from None
            self.write(_instead(f"{_sorry(wrong)}{_WAYS}"))

    async def _sent(self, learner: Learner, book: str) -> None:
        """Send Voilà's page as it is rendered, with our script and nothing from elsewhere."""
        page, turns, kernels = await self.room.renderer.page(self, book), self.room.renderer.turns, self.room.kernel_manager
        started: list[asyncio.Task[str]] = []

        async def begin() -> tuple[str, Any]:
            if before := turns.before:
                self._send(_instead(f"Your page is being made ready. {before} {'was' if before == 1 else 'were'} opened before it."))
            await turns.take(page)
            started.append(asyncio.ensure_future(self._started(learner, book)))
            kernel_id = await asyncio.shield(started[0])
            return kernel_id, kernels.get_kernel(kernel_id)

        page.begin, asked = begin, False
        try:
            async for html, _ in page.generate_content_generator():
                html = _FROM_ELSEWHERE.sub("", html)
                if not asked and "</head>" in html:
                    asked, html = True, html.replace("</head>", f"{_SCRIPT}</head>", 1)
                self._send(html)
        except BaseException:
            for one in started:
                one.add_done_callback(self._not_wanted)
            raise
        finally:
            turns.leave(page)

    def _not_wanted(self, started: asyncio.Task[str]) -> None:
        """End the kernel of a page that nobody waits for any more."""
        if not started.cancelled() and not started.exception():
            self.room.end(started.result())

    async def _started(self, learner: Learner, book: str) -> str:
        """A kernel in the learner's folder, which is theirs."""
        kernels, folder = self.room.kernel_manager, self.room.register.place(learner)
        env = {**os.environ, "AQUAPLUMB_PAGE": book[:2]}
        kernel_id = await kernels.start_kernel(kernel_name="python3", cwd=str(folder), env=env)
        for old in kernels.adopt(learner.ident, kernel_id):
            self.room.links.gone(old)
            self.room.end(old)
        return kernel_id

    def _send(self, html: str) -> None:
        """Write a piece; what comes within a moment is squeezed and sent together."""
        self.write(html)
        if self._flushing is None:
            self._flushing = asyncio.get_running_loop().call_later(_TOGETHER, self._flush)

    def _flush(self) -> None:
        self._flushing = None
        if not self._finished:
            self.flush()

    def on_connection_close(self) -> None:
        """Who asked has left, or loads the page anew: nothing more is made of it."""
        if self._coming:
            self._coming.cancel()

    def write_error(self, status_code: int, **words: Any) -> None:
        """One sentence and a way on, in place of Jupyter's own."""
        wrong = words.get("exc_info", (None, None))[1]
        said = "There is no such page in this room."
        if status_code != 404:
            said = _sorry(getattr(wrong, "log_message", "") or "" if status_code == 503 else "")
        self.finish(f'<!doctype html><meta name="viewport" content="width=device-width"><title>The room</title><p>{said}</p>{_WAYS}')


def _sorry(why: object) -> str:
    return f"This page cannot be opened just now; tell the teacher. What you kept is safe. {escape(str(why))}"


def _instead(html: str) -> str:
    """What a page whose head is there says while there is no more of it."""
    return f"<script>window.update_loading_text(0, 0, {json.dumps(html)})</script>"


class KernelModel(_Owned, KernelHandler):
    """What a page asks of its kernel before it talks to it; it cannot be ended or changed here."""

    @tornado.web.authenticated
    async def get(self, kernel_id: str) -> None:
        self.check(kernel_id)
        await ensure_async(super().get(kernel_id))

    async def delete(self, kernel_id: str) -> None:
        raise tornado.web.HTTPError(405)


class Closed(_Owned, APIHandler):
    """A page that is closed says so, and its kernel ends."""

    def check_xsrf_cookie(self) -> None:
        """A page that closes sends no form; the kernel's long random name, and whose it is, are checked."""

    @tornado.web.authenticated
    async def post(self, kernel_id: str) -> None:
        self.check(kernel_id)
        await ended(self.room, kernel_id)
        self.set_status(204)
        await self.finish()


class _Filtered(ZMQChannelsWebsocketConnection):
    """Jupyter's websocket, which passes what moves widgets."""

    def handle_incoming_message(self, incoming_msg: Any) -> None:
        if self.passes(incoming_msg):
            self.multi_kernel_manager.active(self.kernel_id)
            super().handle_incoming_message(incoming_msg)

    def passes(self, said: Any) -> bool:
        """Whether a browser's message is one that moves or asks for widgets."""
        try:
            if self.subprotocol == "v1.kernel.websocket.jupyter.org":
                if not _PARTS[0] <= int.from_bytes(said[:8], "little") <= _PARTS[1]:
                    return False  # it says of how many parts it is; counting to a number of twenty digits would hang the room
                channel, parts = deserialize_msg_from_ws_v1(said)
                header, content = json.loads(bytes(parts[0])), json.loads(bytes(parts[3]))
            elif isinstance(said, str):
                whole = json.loads(said)
                channel, header, content = whole["channel"], whole["header"], whole["content"]
            else:
                return False
            kind = header["msg_type"]
            return channel == "shell" and kind in _SAID and (kind != "comm_open" or content["target_name"] in _LINES)
        except (ValueError, TypeError, KeyError, IndexError, AttributeError):
            return False


class Channels(_Owned, VoilaKernelWebsocketHandler):
    """The websocket between a page and its own kernel."""

    kernel_websocket_connection_class = _Filtered

    async def get(self, kernel_id: str) -> None:
        self.check(kernel_id)
        await super().get(kernel_id=kernel_id)


class Link(_Owned, tornado.websocket.WebSocketHandler):
    """The line on which a page hears that its kernel has ended, and by which the board knows who is where."""

    kernel_id = ""

    def get_current_user(self) -> Any:
        return self.settings["identity_provider"].get_user(self)

    async def get(self, *arguments: Any, **words: Any) -> None:
        if self.current_user is None:
            raise tornado.web.HTTPError(403)
        await super().get(*arguments, **words)

    def open(self, kernel_id: str) -> None:
        if not self.mine(kernel_id):
            self.say("gone")
            self.close()
            return
        self.kernel_id = kernel_id
        self.room.links.open.setdefault(kernel_id, set()).add(self)
        self.room.board.seen(self.current_user.username, here=True)

    def on_message(self, message: str | bytes) -> None:
        """A page that was cut off asks whether it can go on: its widgets' own line must be back."""
        if self.kernel_id and message == "well?":
            joined = self.room.kernel_manager._kernel_connections.get(self.kernel_id, 0) > 0
            self.say("well" if joined and self.mine(self.kernel_id) else "gone")

    def on_close(self) -> None:
        links = self.room.links.open
        links.get(self.kernel_id, set()).discard(self)
        if self.kernel_id and not links.get(self.kernel_id):
            links.pop(self.kernel_id, None)
            if user := self.current_user:
                self.room.board.seen(user.username, here=False)

    def say(self, word: str) -> None:
        with contextlib.suppress(tornado.websocket.WebSocketClosedError):
            self.write_message(word)


def downloads(folder: Path) -> list[str]:
    """The files that a learner can take home: those that lie plainly in their folder."""
    with contextlib.suppress(OSError):
        return sorted(one.name for one in os.scandir(folder) if one.is_file(follow_symlinks=False) and not one.name.startswith("."))
    return []


def modified(path: Path) -> float:
    """When a file was written last [s]; 0 where there is none."""
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0
