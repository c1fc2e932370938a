"""The room's web server: Voilà's own handlers for the walk's pages, each behind a lock, and the few screens of ours.

What of Voilà is not named here is not served: no list of files, no contents, no log-in by token.
"""

from __future__ import annotations

import asyncio
import re
import secrets
import socket
import tempfile
from pathlib import Path
from typing import Any

import tornado.web
from jupyter_server._tz import utcnow
from jupyter_server.auth import IdentityProvider, User
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from voila.app import Voila
from voila.configuration import VoilaConfiguration

from aquaplumb.classroom import board, joining, pages
from aquaplumb.classroom.library import lightened
from aquaplumb.classroom.nursery import LearnerKernel, Nursery
from aquaplumb.classroom.register import Doorkeeper, Learner, Register
from aquaplumb.classroom.rendering import Renderer
from aquaplumb.tables import folder as packaged

COOKIE = "aquaplumb-learner"
_STAYS = 30  # days for which a browser is known again
_IDLE = 15 * 60  # s after which a page that nobody looks at is ended; it starts anew when looked at
_OPEN_AT_ONCE = 2  # pages of one learner
_BUSY = 60  # s for a cell's output on its way: with the usual four a busy machine's pages lack pieces
_LONGEST_MESSAGE = 1 << 20  # bytes from a browser
_LARGEST_FORM = 1 << 16  # bytes
_ID = r"(?P<kernel_id>\w+-\w+-\w+-\w+-\w+)"
_LIBRARY_FILES = ("/voila/templates/", "/voila/static/", "/voila/api/themes/", "/voila/labextensions/")
# Pages load nothing from elsewhere: a phone in a room without a network would wait for it.
POLICY = (
    "default-src 'self' data: blob:; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; style-src 'self' 'unsafe-inline'; "
    "connect-src 'self' ws: wss: data: blob:; frame-ancestors 'none'; form-action 'self'; base-uri 'self'"
)


class Identity(IdentityProvider):
    """Who asks, by the signed cookie that joining or the teacher's link has set."""

    room: Room

    def get_user(self, handler: Any) -> User | None:
        learner = self.room.learner_of(handler)
        return User(username=learner.ident, name=learner.name, display_name=learner.name) if learner else None

    def get_handlers(self) -> list:
        return []


class Kernels(AsyncMappingKernelManager):
    """The room's kernels, each with its learner; a learner has the last two pages open, and no more."""

    nursery: Nursery
    when_gone: Any

    def start_watching_activity(self, kernel_id: str) -> None:
        """What is moved on a page is noted as it comes from the browser (`pages`): all that a kernel says is not read a second time."""
        self._kernels[kernel_id].reason = ""
        self.active(kernel_id)

    def active(self, kernel_id: str) -> None:
        """Note that somebody is at a page now."""
        if kernel := self._kernels.get(kernel_id):
            kernel.execution_state = "idle"
            self.last_kernel_activity = kernel.last_activity = utcnow()

    def adopt(self, ident: str, kernel_id: str) -> list[str]:
        """Note whose a kernel is; returns those of the same learner that are too many."""
        self.owners[kernel_id] = ident
        return [one for one in self.list_kernel_ids() if self.owners.get(one) == ident][:-_OPEN_AT_ONCE]

    @property
    def owners(self) -> dict[str, str]:
        return self.__dict__.setdefault("_owners", {})


class Room(Voila):
    """The server; `register` has the learners, `nursery` brings forth the kernels."""

    register: Register
    nursery: Nursery
    doorkeeper: Doorkeeper
    teacher: str
    board: board.Board
    links: pages.OpenPages
    renderer: Renderer
    address = ""
    _ending: set[asyncio.Future] = set()

    @classmethod
    def made(cls, register: Register, nursery: Nursery) -> Room:
        """A server that does not listen yet."""
        room = cls(
            root_dir=str(packaged("notebooks")),
            cookie_secret=register.secret.encode(),
            identity_provider_class=Identity,
            connection_dir=tempfile.mkdtemp(prefix="aquaplumb-room-"),
            log_level=30,
        )
        room.voila_configuration = VoilaConfiguration(parent=room, multi_kernel_manager_class=Kernels, show_tracebacks=False)
        room.config.VoilaExecutor.iopub_timeout = _BUSY
        room.log.addFilter(lambda record: "is not trusted" not in str(record.msg))  # of our own pages: it would alarm who teaches
        room.setup_template_dirs()
        room.register, room.nursery, room.doorkeeper = register, nursery, Doorkeeper(register.code)
        room.teacher, room.board = secrets.token_urlsafe(24), board.Board(register)
        room.links, room.renderer = pages.OpenPages(), Renderer(room)
        return room

    def application(self) -> tornado.web.Application:
        """The application, for hosts that are an address or this machine's own name: a page elsewhere cannot borrow one."""
        settings = self.init_settings()
        self.identity_provider.room = self
        kernels = self.kernel_manager
        kernels.kernel_manager_class = f"{LearnerKernel.__module__}.{LearnerKernel.__name__}"
        kernels.nursery, kernels.cull_idle_timeout, kernels.cull_interval = self.nursery, _IDLE, 60
        self.nursery.when_gone.append(self._gone)
        app = tornado.web.Application(
            **settings
            | {
                "room": self,
                "login_url": "/",
                "xsrf_cookies": True,
                "xsrf_cookie_kwargs": {"samesite": "Lax"},
                "websocket_max_message_size": _LONGEST_MESSAGE,
                "compress_response": True,
                "headers": {"Content-Security-Policy": POLICY},
                "log_function": lambda handler: None,
            }
        )
        own = socket.gethostname().split(".")[0].lower()
        names = rf"(?i)^(localhost|[\d.]+|\[?[0-9a-f:]*:[0-9a-f:]*\]?|{re.escape(own)}(\.local|\.lan|\.home)?)$"
        app.add_handlers(names, self.init_handlers())
        self.app = app
        return app

    def init_handlers(self) -> list:
        served = [lightened(one) for one in super().init_handlers() if str(one[0]).startswith(_LIBRARY_FILES)]
        return [
            *served,
            (rf"/api/kernels/{_ID}", pages.KernelModel),
            (rf"/api/kernels/{_ID}/channels", pages.Channels),
            (rf"/voila/api/shutdown/{_ID}", pages.Closed),
            (r"/voila/render/([0-9a-z-]+\.ipynb)", pages.LearnersPage),
            (rf"/room/link/{_ID}", pages.Link),
            *joining.HANDLERS,
            *board.HANDLERS,
        ]

    def learner_of(self, handler: tornado.web.RequestHandler) -> Learner | None:
        """The learner whose cookie a request has; the teacher is one, with a folder of their own, when at a page."""
        said = handler.get_signed_cookie(COOKIE, max_age_days=_STAYS)
        return self.register.known(said.decode()) if said else None

    def greet(self, handler: tornado.web.RequestHandler, learner: Learner) -> None:
        """Let a browser be known again."""
        handler.set_signed_cookie(COOKIE, learner.ident, expires_days=_STAYS, httponly=True, samesite="Lax")

    def _gone(self, pid: int) -> None:
        """A kernel's process has ended: its page is told, and starts again with the build as it was kept."""
        for kernel_id in self.kernel_manager.list_kernel_ids():
            kernel = self.kernel_manager.get_kernel(kernel_id)
            if kernel.provisioner and kernel.provisioner.pid == pid:
                self.links.gone(kernel_id)

    def end(self, kernel_id: str) -> None:
        """End a page's kernel, soon."""
        task = asyncio.ensure_future(pages.ended(self, kernel_id))
        self._ending.add(task)
        task.add_done_callback(self._ending.discard)

    async def close(self) -> None:
        """End all kernels and what they came from."""
        await self.kernel_manager.shutdown_all(now=True)
        self.nursery.close()
        for file in Path(self.connection_dir).glob("*"):
            file.unlink(missing_ok=True)
        Path(self.connection_dir).rmdir()
