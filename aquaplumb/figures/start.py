"""The picture of a first build: the elevation drawing, to scale in height."""

from __future__ import annotations

from aquaplumb.figures.elevation import Elevation


class StartPicture(Elevation):
    """A first build from the side. Its record is a `aquaplumb.whatif.start.FirstBuild`."""

    def __init__(self, record=None, *, system: str = "metric"):
        super().__init__(record, system=system)
        self._seen: dict[tuple, bytes] = {}

    def png(self, record=None, system: str | None = None, *, compression: int = 1) -> bytes:
        """The drawing as PNG; nothing in it moves, so one drawn before is kept: there are two dozen in all."""
        record = self.record if record is None else record
        self.system = system or self.system
        mark = (self.system, self.titled, self.scale, compression, self.key(record), self.title(record))
        if mark not in self._seen:
            if len(self._seen) > 60:
                self._seen.clear()
            self._seen[mark] = super().png(record, compression=compression)
        return self._seen[mark]

    def drawn(self, record):
        """The build in the record."""
        return record.si.build
