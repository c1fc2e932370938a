"""The teacher's board, for the projector: who is on which page, the votes on a guess, and builds to talk about.

It lives in the server's memory and in the learners' small files of a day's guesses; the teacher alone can save it.
"""

from __future__ import annotations

import asyncio
import collections
import csv
import datetime
import hmac
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tornado.web

from aquaplumb.build import MINE
from aquaplumb.classroom.joining import Screen
from aquaplumb.classroom.pages import books, downloads, modified, title
from aquaplumb.classroom.told import guesses
from aquaplumb.files import write
from aquaplumb.units import DesignError

if TYPE_CHECKING:
    from aquaplumb.classroom.register import Learner, Register

_COOKIE = "aquaplumb-teacher"


class Board:
    """What the teacher sees of a room."""

    def __init__(self, register: Register):
        self.register = register
        self.uncovered: set[str] = set()
        self._page: dict[str, str] = {}
        self._links: collections.Counter[str] = collections.Counter()
        self._stops: dict[str, tuple[float, list[str]]] = {}

    def opened(self, learner: Learner, page: str) -> None:
        """A learner has opened a page."""
        self._page[learner.ident] = page

    def seen(self, ident: str, *, here: bool) -> None:
        """A page of a learner has come into view, or is closed."""
        self._links[ident] += 1 if here else -1

    def votes(self) -> dict[str, collections.Counter[str]]:
        """How often each guess was made, by page."""
        told: dict[str, collections.Counter[str]] = {}
        for learner in self.register.learners.values():
            for page, guess in guesses(self.register.place(learner)).items():
                told.setdefault(page, collections.Counter())[guess] += 1
        return told

    async def stops(self, learner: Learner) -> list[str]:
        """The names of what a shown learner's kept build must not be run with; looked at anew when it was kept anew."""
        file = self.register.place(learner) / MINE
        at = modified(file)
        if not learner.shown or not at:
            return []
        if self._stops.get(learner.ident, (0.0, []))[0] != at:
            found = await asyncio.get_running_loop().run_in_executor(None, _stops, file)
            self._stops[learner.ident] = (at, found)
        return self._stops[learner.ident][1]

    async def as_dict(self) -> dict[str, Any]:
        """All that the board shows; covered votes have only their number."""
        here = {ident: page for ident, page in self._page.items() if self._links[ident] > 0 and ident in self.register.learners}
        count = collections.Counter(here.values())
        votes = [
            {"page": page, "title": title(books()[page]), "count": sum(cast.values()), "open": page in self.uncovered}
            | ({"bars": cast.most_common()} if page in self.uncovered else {})
            for page, cast in sorted(self.votes().items())
            if page in books()
        ]
        shown = [
            {"number": one.number, "name": one.name, "page": here.get(one.ident, ""), "stops": await self.stops(one)}
            | {"kept": bool(modified(self.register.place(one) / MINE))}
            for one in self.register.learners.values()
            if one.shown
        ]
        pages = [{"page": page, "title": title(books()[page]), "count": count[page]} for page in sorted(count) if page in books()]
        return {"here": len(here), "joined": len(self.register.learners), "pages": pages, "votes": votes, "shown": shown}

    def lend(self, learner: Learner) -> str:
        """Copy a shown learner's build to the teacher's desk; returns the page to look at it on. The learner's own is not touched."""
        if not learner.shown:
            raise DesignError("That learner has not said yes to showing the build.")
        desk, place = self.register.place(self.register.desk), self.register.place(learner)
        desk.mkdir(exist_ok=True)
        for name in downloads(desk):
            (desk / name).unlink()
        for name in downloads(place):
            if name != "my-name.txt":
                write(desk / name, (place / name).read_bytes())
        page = self._page.get(learner.ident, "13")
        return books().get(page, books()["13"])

    def save(self) -> str:
        """Write the votes as a table, without names; returns what was done."""
        name = f"votes-{datetime.date.today().isoformat()}.csv"
        table = io.StringIO()
        rows = csv.writer(table)
        rows.writerow(["page", "guess", "votes"])
        for page, cast in sorted(self.votes().items()):
            rows.writerows([page, f"'{guess}" if guess[:1] in "=+-@" else guess, count] for guess, count in cast.most_common())
        write(self.register.folder / name, table.getvalue())
        return f"Saved: {name}, in the room's folder."


def _stops(file: Path) -> list[str]:
    from aquaplumb.build import load
    from aquaplumb.review import review

    try:
        return [f"{finding.where}: {finding.name}" for finding in review(load(file)).findings if finding.severity == "stop"]
    except DesignError as wrong:
        return [f"cannot be read: {wrong}"]


class _Teachers(Screen):
    """For the browser that has opened the teacher's link, and no other."""

    def prepare(self) -> None:
        said = self.get_signed_cookie(_COOKIE, max_age_days=1) or b""
        if not hmac.compare_digest(said, self.room.teacher.encode()):
            raise tornado.web.HTTPError(404)


class Enter(Screen):
    """The teacher's link, with the token."""

    def get(self, token: str) -> None:
        if not hmac.compare_digest(token.encode(), self.room.teacher.encode()):
            self.room.doorkeeper.wrong(self.request.remote_ip or "")
            raise tornado.web.HTTPError(404)
        self.set_signed_cookie(_COOKIE, self.room.teacher, expires_days=1, httponly=True, samesite="Strict")
        self.redirect("/board")


class Wall(_Teachers):
    """The board itself; its numbers come by `Numbers`."""

    def get(self) -> None:
        self.show("board.html", address=self.room.address, code=self.room.register.code, said="")


class Numbers(_Teachers):
    async def get(self) -> None:
        self.finish(await self.room.board.as_dict())


class Sign(_Teachers):
    """The address with the code in it, for a phone's camera."""

    def get(self) -> None:
        import segno

        drawn = io.BytesIO()
        segno.make(f"{self.room.address}?code={self.room.register.code}", error="m").save(
            drawn, kind="svg", scale=8, border=4, xmldecl=False
        )
        self.set_header("Content-Type", "image/svg+xml")
        self.finish(drawn.getvalue())


class Press(_Teachers):
    """A button of the board."""

    def post(self, what: str) -> None:
        room, about = self.room, self.get_body_argument("about", "")
        try:
            if what == "save":
                return self.show("board.html", address=room.address, code=room.register.code, said=room.board.save())
            if what == "uncover" and about in books():
                room.board.uncovered ^= {about}
            if what == "open":
                learner = next((one for one in room.register.learners.values() if one.number == about), None)
                if learner is None:
                    raise DesignError("That learner is not in the room any more.")
                page = room.board.lend(learner)
                room.greet(self, room.register.desk)
                return self.redirect(f"/voila/render/{page}")
        except (DesignError, OSError) as wrong:
            return self.show("board.html", address=room.address, code=room.register.code, said=f"Not done: {wrong}")
        self.redirect("/board")


HANDLERS = [
    (r"/teacher/([\w-]+)", Enter),
    (r"/board", Wall),
    (r"/board/numbers", Numbers),
    (r"/board/sign\.svg", Sign),
    (r"/board/(uncover|open|save)", Press),
]
