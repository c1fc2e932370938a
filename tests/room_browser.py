"""What a browser does in a room, without a screen: joins, opens a page, asks for its widgets, moves one. For tests and the benchmark."""

from __future__ import annotations

import asyncio
import json
import re
import time
import urllib.parse
import uuid

from jupyter_server.services.kernels.connection.base import deserialize_msg_from_ws_v1, serialize_msg_to_ws_v1
from tornado.httpclient import AsyncHTTPClient, HTTPRequest
from tornado.websocket import websocket_connect

PROTOCOL = "v1.kernel.websocket.jupyter.org"


class RoomBrowser:
    """One learner's browser."""

    def __init__(self, address: str):
        self.address, self.cookies, self.line = address.rstrip("/"), {}, None
        self.session, self.kernel, self.html = uuid.uuid4().hex, "", ""
        self.states: dict[str, dict] = {}
        self._client = AsyncHTTPClient(force_instance=True, defaults={"request_timeout": 300, "connect_timeout": 60})

    @property
    def headers(self) -> dict[str, str]:
        return {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}

    async def fetch(self, path: str, **words):
        """An answer, whatever its code; cookies are kept, and nothing is followed."""
        headers = {**self.headers, **words.pop("headers", {})}
        request = HTTPRequest(self.address + path, headers=headers, follow_redirects=False, **words)
        answer = await self._client.fetch(request, raise_error=False)
        for set_one in answer.headers.get_list("Set-Cookie"):
            name, value = set_one.split(";")[0].split("=", 1)
            self.cookies[name] = value
        return answer

    async def send(self, path: str, **fields):
        """A form."""
        if "_xsrf" not in self.cookies:
            await self.fetch("/")
        body = urllib.parse.urlencode({"_xsrf": self.cookies.get("_xsrf", "").strip('"'), **fields})
        return await self.fetch(path, method="POST", body=body)

    async def join(self, code: str, name: str, **fields):
        return await self.send("/join", code=code, name=name, **fields)

    async def page(self, book: str) -> float:
        """Open a page up to its last cell; returns the seconds that it took."""
        start = time.monotonic()
        answer = await self.fetch(f"/voila/render/{book}")
        self.html = answer.body.decode()
        found = re.search(r'"kernelId": "([^"]+)"', self.html)
        assert answer.code == 200 and found, (answer.code, self.html[:500])
        self.kernel = found[1]
        return time.monotonic() - start

    async def connect(self, kernel: str = "", **headers):
        """The websocket of a kernel, by default of the page that is open."""
        address = f"{self.address.replace('http', 'ws')}/api/kernels/{kernel or self.kernel}/channels?session_id={self.session}"
        request = HTTPRequest(address, headers={**self.headers, "Origin": self.address, **headers}, connect_timeout=60)
        line = await websocket_connect(request, subprotocols=[PROTOCOL], max_message_size=1 << 28)
        if not kernel:
            self.line = line
        return line

    async def say(self, kind: str, content: dict, channel: str = "shell", metadata: dict | None = None, line=None) -> str:
        """One message to the kernel; returns its id."""
        header = {"msg_id": uuid.uuid4().hex, "msg_type": kind, "session": self.session, "username": "", "version": "5.4"}
        header["date"] = "2026-01-01T00:00:00Z"
        message = {"header": header, "parent_header": {}, "metadata": metadata or {}, "content": content, "buffers": []}
        await (line or self.line).write_message(
            serialize_msg_to_ws_v1(message, channel, lambda part: json.dumps(part).encode()), binary=True
        )
        return header["msg_id"]

    async def hear(self, seconds: float = 60) -> tuple[str, dict, dict, dict] | None:
        """The next message: channel, header, parent header, content; None when nothing came, or the line is closed."""
        try:
            got = await asyncio.wait_for(asyncio.shield(self._next()), seconds)
        except TimeoutError:
            return None
        if got is None:
            return None
        channel, parts = deserialize_msg_from_ws_v1(got)
        header, parent, _, content = (json.loads(bytes(part)) for part in parts[:4])
        return channel, header, parent, content

    def _next(self):
        if getattr(self, "_reading", None) is None or self._reading.done():
            self._reading = asyncio.ensure_future(self.line.read_message())
        return self._reading

    async def widgets(self) -> dict[str, dict]:
        """All widgets of the page, by their id, as the page itself asks for them."""
        comm = uuid.uuid4().hex
        await self.say("comm_open", {"comm_id": comm, "target_name": "jupyter.widget.control", "data": {}}, metadata={"version": "1.0.0"})
        await self.say("comm_msg", {"comm_id": comm, "data": {"method": "request_states"}})
        while told := await self.hear():
            content = told[3]
            if told[1]["msg_type"] == "comm_msg" and content["data"].get("method") == "update_states":
                self.states = content["data"]["states"]
                return self.states
        raise AssertionError("no widgets came")

    def find(self, model: str, **state) -> str:
        """The id of the first widget of a model with some values in its state."""
        return next(
            ident
            for ident, one in self.states.items()
            if one["model_name"] == model and all(one["state"].get(key) == value for key, value in state.items())
        )

    async def move(self, ident: str, **state) -> tuple[float, list[dict]]:
        """Change a widget; returns the seconds until the kernel was done with it, and what it changed on the page."""
        start = time.monotonic()
        asked = await self.say("comm_msg", {"comm_id": ident, "data": {"method": "update", "state": state, "buffer_paths": []}})
        return await self._until_idle(asked, start)

    async def press(self, ident: str) -> tuple[float, list[dict]]:
        """Press a button."""
        start = time.monotonic()
        asked = await self.say("comm_msg", {"comm_id": ident, "data": {"method": "custom", "content": {"event": "click"}}})
        return await self._until_idle(asked, start)

    async def _until_idle(self, asked: str, start: float):
        changed = []
        while told := await self.hear():
            _, header, parent, content = told
            if header["msg_type"] == "comm_msg" and content["data"].get("method") == "update":
                changed.append(content["data"]["state"])
            if header["msg_type"] == "status" and content["execution_state"] == "idle" and parent.get("msg_id") == asked:
                return time.monotonic() - start, changed
        raise AssertionError("the kernel did not answer")

    def close(self):
        if self.line:
            self.line.close()
        self._client.close()
