"""The walk's pages as Voilà renders them, with all that is the same for thirty learners made once; and whose turn it is.

A page keeps a core busy for a second or two. Of thirty that are opened at once each would be ready when the last is, were all
run side by side; so a few are run at a time, first come, first served, and the others say how many are before them.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any

from jinja2 import pass_context
from voila.notebook_renderer import NotebookRenderer
from voila.utils import get_page_config

if TYPE_CHECKING:
    from aquaplumb.classroom.serving import Room

_LONGEST_TURN = 15  # s, after which the next page begins, whatever holds this one up


class Turns:
    """How many pages are run at a time: one for each core, and two more, since a page also waits for the server and its browser."""

    def __init__(self, count: int = 0):
        self._free = asyncio.Semaphore(count or (os.cpu_count() or 1) + 2)
        self._taken: dict[object, asyncio.TimerHandle] = {}
        self.waiting = 0

    @property
    def before(self) -> int:
        """How many pages who comes now has to wait for; none where it is at once its turn."""
        return self.waiting + len(self._taken) if self._free.locked() else 0

    async def take(self, who: object) -> None:
        """Wait for a turn, first come, first served; it is over with `leave`, or by itself when it has lasted too long."""
        self.waiting += 1
        try:
            await self._free.acquire()
        finally:
            self.waiting -= 1
        self._taken[who] = asyncio.get_running_loop().call_later(_LONGEST_TURN, self.leave, who)

    def leave(self, who: object) -> None:
        """End a turn; one that is over already, or was never taken, does no harm."""
        if timer := self._taken.pop(who, None):
            timer.cancel()
            self._free.release()


class Rendering(NotebookRenderer):
    """One learner's page."""

    begin: Callable[[], Awaitable[tuple[str, Any]]]

    async def _jinja_kernel_start(self, nb: Any, kernel_id: str, kernel_future: Any) -> str:
        """The template asks for the kernel once the page's head is on its way: it is begun in its turn."""
        return await super()._jinja_kernel_start(nb, *await self.begin())


class Renderer:
    """The pages of the walk; each is read once, the templates too."""

    def __init__(self, room: Room):
        self._room, self.turns = room, Turns()
        self._first: dict[str, Rendering] = {}
        self._exporter: Any = None

    async def page(self, handler: Any, book: str) -> Rendering:
        """A page, ready to be rendered by its `generate_content_generator`."""
        first = self._first.get(book) or await self._read(handler, book)
        made = self._made(handler, book)
        made.notebook, made.resources, made.page_config = first.notebook, first.resources, first.page_config
        made.exporter, made.cwd = self._exporter, first.cwd
        return made

    async def _read(self, handler: Any, book: str) -> Rendering:
        first = self._made(handler, book)
        first.page_config = get_page_config(
            base_url=handler.base_url, settings=handler.settings, log=handler.log, voila_configuration=self._room.voila_configuration
        )
        await first.initialize()
        if self._exporter is None:
            self._exporter = first.exporter
            self._exporter.optimistic_validation = True  # the pages are ours: once, not after each of a dozen steps
            self._exporter.register_filter("markdown2html", _once(first.exporter.markdown2html))
        self._first[book] = first
        return first

    def _made(self, handler: Any, book: str) -> Rendering:
        return Rendering(
            request_handler=handler,
            voila_configuration=self._room.voila_configuration,
            traitlet_config=self._room.config,
            notebook_path=book,
            template_paths=self._room.template_paths,
            config_manager=handler.config_manager,
            contents_manager=handler.contents_manager,
            kernel_spec_manager=handler.kernel_spec_manager,
            base_url=handler.base_url,
            page_config={},
            mathjax_config=handler.settings.get("mathjax_config"),
            mathjax_url=handler.settings.get("mathjax_url"),
        )


def _once(convert: Callable[[Any, str], str]) -> Callable[[Any, str], str]:
    """The words of a page's cells as HTML, each made once; those of a learner's own output each time."""
    made: dict[str, str] = {}

    @pass_context
    def kept(context: Any, source: str) -> str:
        if context["cell"].cell_type != "markdown":
            return convert(context, source)
        if source not in made:
            made[source] = convert(context, source)
        return made[source]

    return kept
