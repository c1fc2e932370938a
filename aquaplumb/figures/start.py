"""The picture of a first build: the elevation drawing, to scale in height."""

from __future__ import annotations

from aquaplumb.figures.elevation import Elevation


class StartPicture(Elevation):
    """A first build from the side. Its record is a `aquaplumb.whatif.start.FirstBuild`."""

    def __init__(self, record=None, *, system: str = "metric"):
        super().__init__(record, system=system)

    def drawn(self, record):
        """The build in the record."""
        return record.si.build
