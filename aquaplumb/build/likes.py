"""`like = "bed 1"` in a section of a vessel or a line: all keys of that one, but for those that the section has itself, and where it stands.

What is saved stays what it was for everybody else: a change of the model is written down, as it was, in those that are like it and
are not changed with it; a key that is inherited and taken away, or changed inside, becomes the section's own.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from aquaplumb import tables
from aquaplumb.units import DesignError

LIKE, PLACE = "like", "at"  # … and the key that nobody gets of another: two do not stand in one place
SECTIONS = ("vessels", "lines")


def resolved(doc: Mapping) -> dict[str, Any]:
    """The values of a file with every `like` filled in; one that names nothing, or goes round in a ring, raises a `LikeError`."""
    out: dict[str, Any] = dict(doc)
    for section in SECTIONS:
        entries = doc.get(section)
        if isinstance(entries, Mapping) and any(isinstance(one, Mapping) and LIKE in one for one in entries.values()):
            out[section] = {name: _filled(section, entries, name) for name in entries}
    return out


class LikeError(DesignError):
    """A `like` that cannot be followed; `keys` say where."""

    def __init__(self, keys: tuple, why: str):
        super().__init__(why)
        self.keys = keys


def _filled(section: str, entries: Mapping, name: str, seen: tuple = ()) -> Any:
    own = entries[name]
    if not isinstance(own, Mapping) or LIKE not in own:
        return own
    model, keys = own[LIKE], (section, name, LIKE)
    if not isinstance(model, str) or model not in entries:
        raise LikeError(keys, tables.unknown(f"list of {section}", model, [one for one in entries if one != name]))
    if model == name or model in seen:
        raise LikeError(keys, f"{name} is like {model}, and {model} is like {name}; one of them needs its own keys.")
    filled = _filled(section, entries, model, (*seen, name))
    if not isinstance(filled, Mapping):
        raise LikeError(keys, f"{model} is no section of keys.")
    filled = {key: value for key, value in filled.items() if key != PLACE}
    return {**filled, **{key: value for key, value in own.items() if key != LIKE}}


def settle(doc, keys_changed) -> None:
    """Make a document ready for changes: pin in others what they inherit from a changed section, own what is taken away or changed inside.

    doc: A parsed document with its comments (tomlkit), changed in place.
    """
    changed = [keys for keys in keys_changed if len(keys) > 2 and keys[0] in SECTIONS]
    for section, name, key, *inside in changed:
        entries = doc.get(section)
        if entries is None or name not in entries or key == PLACE:
            continue
        giver = _from(entries, name, key)
        for other in entries:
            if other == name or any(c[:3] == (section, other, key) for c in changed) or name not in _models(entries, other):
                continue
            if giver is None:
                detach(entries, other)  # it would gain what it never had
            elif _from(entries, other, key) == name:
                entries[other][key] = _copied(entries[name][key])
        if inside and giver not in (None, name):
            entries[name][key] = _copied(entries[giver][key])


def take_away(entries, name: str, key: str) -> None:
    """Be without a key that is only inherited: all else becomes the section's own."""
    if key not in (*entries[name], PLACE) and _from(entries, name, key):
        detach(entries, name, key)


def detach(entries, name: str, key: str = "") -> None:
    """Give a section all that it inherits as its own, but for one key, and let it be like nobody."""
    own = entries[name]
    given = {
        one: _copied(entries[model][one])
        for model in reversed(_models(entries, name))
        for one in entries[model]
        if one not in (LIKE, PLACE, key)
    }
    own.pop(LIKE)
    for one, value in given.items():
        if one not in own:
            own[one] = value


def _models(entries, name: str) -> list[str]:
    """Whom a section is like, the nearest first."""
    seen = [name]
    while isinstance(model := entries[seen[-1]].get(LIKE), str) and model in entries and model not in seen:
        seen.append(model)
    return seen[1:]


def _from(entries, name: str, key: str) -> str | None:
    """Whose key a section has, its own name first; None where nobody has it."""
    return next((one for one in (name, *_models(entries, name)) if key in entries[one]), None)


def _copied(item):
    """A value of a document as a new one."""
    return copy.deepcopy(item.unwrap() if hasattr(item, "unwrap") else item)
