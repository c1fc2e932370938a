"""What a build file says of its builder's own: rows and air pumps in files beside it, and the findings that are accepted."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any

from aquaplumb.air.air_pump_file import air_pump_of
from aquaplumb.build import own_rows
from aquaplumb.build.sections import Accepted
from aquaplumb.records import Fixed


class OwnReader:
    """The part of `aquaplumb.build.reader.Reader` that reads what is the builder's own."""

    doc: dict
    folder: Path
    own: own_rows.Own
    refuse: Callable[..., Any]
    known: Callable[..., None]
    values: Callable[..., dict]
    record: Callable[..., Any]

    def own_rows(self, folder: Path) -> own_rows.Own:
        """The rows of the files that an [own] section names, beside the build."""
        section = self.values(("own",), self.doc.get("own", {}), own_rows.TABLES)
        for table, file in section.items():
            if not isinstance(file, str) or not file.strip():
                self.refuse(("own", table), f'is {file!r:.60}; it needs the name of a file, such as {table} = "my-{table}.csv".')
        found: dict = {}
        for table in section:
            self.known(("own", table), lambda table=table: found.update(own_rows.read({table: section[table]}, folder)))
        return Fixed(found)

    def named_row(self, field: str, name):
        """A name that a field holds: one of the build's own carries its row."""
        return self.own.get(own_rows.NAMED.get(field, field), {}).get(name, name) if isinstance(name, str) else name

    def from_files(self, name: str, found):
        """A section with the air pumps that files tell of in place of the files' names."""
        if name != "air" or not isinstance(found, dict):
            return found
        found = dict(found)
        for field in ("pump", "backup_pump"):
            file = found.pop(f"{field}_file", None)
            if file is None:
                continue
            keys = (name, f"{field}_file")
            if not isinstance(file, str) or found.get(field):
                self.refuse(keys, f'is {file!r:.60}; it names a file such as "my-blower.csv", and stands in place of {field}.')
            self.known(keys, functools.partial(self.blower, field, file, found))
        return found

    def blower(self, field: str, file: str, found: dict) -> None:
        """Read the air pump of a file beside the build."""
        found[field] = air_pump_of(self.folder / file)

    def accepted(self) -> dict[tuple[str, str], Accepted]:
        """The findings that the builder accepts, by name and what they are about; a file may have none."""
        found = {}
        for key, said in self.values(
            ("accepted",), given := self.doc.get("accepted", {}), given if isinstance(given, dict) else ()
        ).items():
            keys = ("accepted", key)
            name, dot, where = key.partition(" · ")
            if not dot or not isinstance(said, dict):
                self.refuse(
                    keys,
                    'write its name and what it is about as the review has them, as in [accepted."drain short · tank overflow"], and below it reason, kind and said.',
                )
            made = self.record(keys, said, Accepted)
            if not made.si.reason.strip():
                self.refuse((*keys, "reason"), 'is blank; say why, such as "bell proven with the bucket".')
            found[name.strip(), where.strip()] = made
        return found
