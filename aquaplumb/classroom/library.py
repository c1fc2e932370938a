"""The scripts and styles that every page loads, squeezed once for all browsers and kept by them for the day.

A page of Voilà's brings megabytes of them; thirty phones that ask at once would wait for the Wi-Fi, and then for the
processor that squeezes the same file thirty times.
"""

from __future__ import annotations

import functools
import gzip
import mimetypes
from pathlib import Path
from typing import Any

import tornado.web

_KEPT = 8 * 3600  # s: a day of teaching
_SMALL = 1024  # bytes, below which nothing is gained


@functools.cache
def squeezed(path: str, _changed: float) -> bytes:
    """A file, squeezed; once as long as it is not changed."""
    return gzip.compress(Path(path).read_bytes(), 6, mtime=0)


@functools.cache
def light(handler: type[tornado.web.StaticFileHandler]) -> type[tornado.web.StaticFileHandler]:
    """A handler of static files that sends them squeezed, and lets browsers keep them."""

    class Light(handler):  # type: ignore[misc, valid-type]
        async def get(self, path: str, include_body: bool = True) -> None:
            if "gzip" not in self.request.headers.get("Accept-Encoding", ""):
                return await super().get(path, include_body)
            self.path = self.parse_url_path(path)
            place = self.get_absolute_path(self.root, self.path)  # which may find the root, too
            self.absolute_path = found = self.validate_absolute_path(self.root, place)
            kind = mimetypes.guess_type(found or "")[0] or ""
            if found is None or not kind.startswith(("text/", "application/javascript", "application/json", "image/svg")):
                return await super().get(path, include_body)
            file = Path(found)
            if file.stat().st_size < _SMALL:
                return await super().get(path, include_body)
            self.set_header("Content-Type", kind)
            self.set_header("Content-Encoding", "gzip")
            self.set_header("Vary", "Accept-Encoding")
            self.set_header("Cache-Control", f"private, max-age={_KEPT}")
            await self.finish(squeezed(found, file.stat().st_mtime))

        def set_extra_headers(self, path: str) -> None:
            self.set_header("Cache-Control", f"private, max-age={_KEPT}")

    return Light


def lightened(route: Any) -> tuple:
    """A route whose files are sent squeezed, where it is one of plain files."""
    pattern, handler, *words = route
    plain = issubclass(handler, tornado.web.StaticFileHandler) and "get" not in vars(handler)
    return (pattern, light(handler), *words) if plain or handler.__name__ == "FileFindHandler" else tuple(route)
