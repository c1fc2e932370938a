"""The screens before the pages: the code and a name, the list of pages, and files to take home."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tornado.template
import tornado.web

from aquaplumb.classroom.pages import books, downloads, title
from aquaplumb.classroom.register import Taken, Waits
from aquaplumb.units import DesignError

if TYPE_CHECKING:
    from aquaplumb.classroom.serving import Room

_SCREENS = Path(__file__).parent / "screens"
_LOADER = tornado.template.Loader(str(_SCREENS))
_ANSWERS = {
    403: "This page waited too long, or it is not yours. Open the first page again and type the code.",
    404: "There is no such page in this room. Go back to the list of pages.",
    405: "That cannot be done here.",
    413: "That was too much to send at once.",
}
_POLICY = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self' data:; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"


class Screen(tornado.web.RequestHandler):
    """A screen of ours: plain pages, no script in them, every word of a learner shown as text."""

    @property
    def room(self) -> Room:
        return self.settings["room"]

    def set_default_headers(self) -> None:
        for name, value in {
            "Content-Security-Policy": _POLICY,
            "X-Content-Type-Options": "nosniff",
            "Referrer-Policy": "same-origin",
            "Cache-Control": "no-store",
        }.items():
            self.set_header(name, value)
        self.clear_header("Server")

    def show(self, screen: str, /, **words: Any) -> None:
        """Answer with one of our screens."""
        self.finish(_LOADER.load(screen).generate(form=self.xsrf_form_html(), **words))

    def write_error(self, status_code: int, **_words: Any) -> None:
        """One sentence and a way on."""
        said = _ANSWERS.get(status_code, "Something went wrong in the room's server; your kept build is not touched. Try again.")
        self.finish(_LOADER.load("sorry.html").generate(said=said))


class Front(Screen):
    """The first page: for who is known the pages, else the code and a name."""

    def get(self) -> None:
        learner = self.room.learner_of(self)
        onward = _onward(self.get_query_argument("next", ""))
        if learner is None:
            return self.show(
                "join.html", said="", name="", code=_shown_code(self.get_query_argument("code", "")), onward=onward, number=False
            )
        if onward:
            return self.redirect(onward)
        self.room.greet(self, learner)
        files = downloads(self.room.register.place(learner))
        pages = [(number, name, title(name)) for number, name in books().items()]
        self.show("pages.html", learner=learner, pages=pages, files=files, said="")


class Join(Screen):
    """A code and a name, sent."""

    def post(self) -> None:
        code, name = self.get_body_argument("code", ""), self.get_body_argument("name", "", strip=False)
        number, onward = self.get_body_argument("number", ""), _onward(self.get_body_argument("next", ""))
        device = self.request.remote_ip or ""
        try:
            if not self.room.doorkeeper.lets_in(device, code):
                raise DesignError("That is not the code on the wall. It has six digits.")
            learner = self.room.register.join(name, number)
        except DesignError as wrong:
            taken = isinstance(wrong, Taken)
            if taken and number.strip():
                self.room.doorkeeper.wrong(device)
            self.set_status(429 if isinstance(wrong, Waits) else 403)
            return self.show(
                "join.html", said=str(wrong), name=name[:60], code=_shown_code(code), onward=onward, number=taken or bool(number.strip())
            )
        self.room.greet(self, learner)
        self.redirect(onward or "/")


class Consent(Screen):
    """A learner lets the teacher show their build, or not."""

    def post(self) -> None:
        learner = self.room.learner_of(self)
        if learner is None:
            raise tornado.web.HTTPError(403)
        try:
            self.room.register.show(learner, self.get_body_argument("shown", "") == "yes")
        except DesignError as wrong:
            self.set_status(507)
            return self.show("sorry.html", said=str(wrong))
        self.redirect("/")


class Leave(Screen):
    """Another person at the same device."""

    def post(self) -> None:
        self.clear_cookie("aquaplumb-learner")
        self.redirect("/")


class Mine(Screen):
    """A file of the learner's own, to take home."""

    def get(self, name: str) -> None:
        learner = self.room.learner_of(self)
        if learner is None or name not in downloads(folder := self.room.register.place(learner)):
            raise tornado.web.HTTPError(404)
        self.set_header("Content-Type", "application/octet-stream")
        self.set_header("Content-Disposition", f'attachment; filename="{re.sub(r"[^A-Za-z0-9._-]", "_", name)}"')
        self.finish((folder / name).read_bytes())


class Asset(Screen):
    """Our own style sheets and scripts."""

    def get(self, name: str) -> None:
        kind = {"css": "text/css", "js": "text/javascript"}[name.rsplit(".", 1)[1]]
        self.set_header("Content-Type", f"{kind}; charset=utf-8")
        self.finish((_SCREENS / name).read_bytes())


def _onward(asked: str) -> str:
    """Where to go after joining: a page of the walk, or nowhere."""
    return asked if re.fullmatch(r"/voila/render/[0-9a-z-]+\.ipynb", asked) else ""


def _shown_code(code: str) -> str:
    return re.sub(r"\D", "", code)[:6]


HANDLERS = [
    (r"/", Front),
    (r"/join", Join),
    (r"/shown", Consent),
    (r"/leave", Leave),
    (r"/mine/([^/\\]+)", Mine),
    (r"/room/static/((?:page|room|board)\.(?:css|js))", Asset),
]
