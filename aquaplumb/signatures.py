"""What a signature says: of a call, which argument is which; and written into a docstring, of which an author writes the rest.

An author's docstring holds what it is, then a line for each thing that has more to say than its annotation does, the
formula, its range and its source, and an example::

    The head that a straight run of full pipe costs.

    flow: A negative one runs backward and gives a negative head.
    temperature (one value): The water's, 20 °C unless given.
    returns: Never less than nothing.

    h = f (L/D) v |v| / 2g, from Re 0 to 1e8.
    Source: Darcy–Weisbach.

    (then an example, as typed in a shell)

`filled_in` makes of it the sections that `help`, editors and reference pages know, with name, kind and unit of each.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from typing import Any

from aquaplumb.kinds import Kind

_ENTRY = re.compile(r"(?P<name>[a-z_]\w*)(?: \((?P<shape>[^)]*)\))?:(?: (?P<text>.*))?$")
_OWN = ("returns", "raises")


def filled_in(
    doc: str | None, fields: dict[str, tuple[str, str, str]], returns: tuple[str, str, str] | None, title: str = "Parameters"
) -> str | None:
    """The whole docstring, from an author's and from what the annotations say.

    fields: For each name what it is ("Flow"), its unit ("m³/s") and its shape unless the author says another.
    returns: The same of what comes back; None of a record.
    """
    if not doc:
        return doc
    lines = inspect.cleandoc(doc).split("\n")
    at = next((i for i, line in enumerate(lines) if line.startswith(">>> ")), len(lines))
    lines, examples = lines[:at], lines[at:]
    words: list[str] = []
    notes: list[str] = []
    said: dict[str, tuple[str | None, list[str]]] = {}
    place, name = words, None
    for line in lines:
        found = _ENTRY.match(line)
        if found and (found["name"] in fields or found["name"] in _OWN):
            name, place = found["name"], notes
            said[name] = (found["shape"], [found["text"]] if found["text"] else [])
        elif name and line.startswith("    "):
            said[name][1].append(line.strip())
        else:
            name = None
            if line.startswith("Source:") and place is words:
                place = notes
            place.append(line)
    parts = ["\n".join(words).strip()]
    if fields:
        parts.append(_section(title, [_entry(field, *fields[field], *said.get(field, (None, []))) for field in fields]))
    if returns:
        parts.append(_section("Returns", [_entry("", *returns, *said.get("returns", (None, [])))]))
    if "raises" in said:
        parts.append(_section("Raises", [_entry("", "DesignError", "", "", None, said["raises"][1])]))
    if any(notes):
        parts.append(_section("Notes", ["\n".join(notes).strip()]))
    if examples:
        parts.append(_section("Examples", ["\n".join(examples).strip()]))
    return "\n\n".join(parts) + "\n"


def annotated(
    function: Callable, signature: inspect.Signature, kinds: dict[str, Kind] | None = None, returns: Kind | None = None
) -> str | None:
    """A function's docstring, filled in from its signature; `kinds` are those of its arguments, `returns` of what comes back."""
    comes = signature.return_annotation
    return filled_in(
        function.__doc__,
        {name: of_annotation(one.annotation, (kinds or {}).get(name)) for name, one in signature.parameters.items()},
        None if comes in (inspect.Signature.empty, "None") else of_annotation(comes, returns),
    )


def of_annotation(annotation, kind: Kind | None) -> tuple[str, str, str]:
    """What a docstring says of an argument: its annotation as it stands in the code, its unit, its shape."""
    if annotation is inspect.Parameter.empty:
        return "", "", ""
    words = annotation if isinstance(annotation, str) else kind.noun if kind else getattr(annotation, "__name__", str(annotation))
    return words.replace(" | Any", ""), kind.si if kind else "", "scalar or array" if kind else ""


def _section(title: str, entries: list[str]) -> str:
    return "\n".join([title, "-" * len(title), *entries])


def _entry(name: str, what: str, unit: str, shape: str, own_shape: str | None, text: list[str]) -> str:
    head = f"{name} : " if name and what else name
    optional = ", optional" if what.endswith(" | None") and name else ""
    shape = own_shape or shape
    line = f"{head}{what.removesuffix(' | None')}{f', {shape}' if shape else ''}{optional}{f' [{unit}]' if unit else ''}"
    return "\n".join([line, *(f"    {one}" for one in text)])


class Call:
    """The arguments of a function by name, and the function called with them as they were read."""

    def __init__(self, function: Callable):
        self.function, self.signature = function, inspect.signature(function)
        several = self.signature.parameters.values()
        self._in_place = tuple(p.name for p in several if p.kind is p.POSITIONAL_OR_KEYWORD)
        self._names = frozenset(p.name for p in several if p.kind in (p.POSITIONAL_OR_KEYWORD, p.KEYWORD_ONLY))
        self._needed = frozenset(p.name for p in several if p.default is p.empty)
        self._plain = len(self._names) == len(several)  # no * and no **

    def named(self, args: tuple, kwargs: dict) -> dict[str, Any]:
        """The arguments by name; a call that does not fit is told how the function is used."""
        given = dict(zip(self._in_place, args))
        fits = self._plain and len(given) == len(args) and given.keys().isdisjoint(kwargs)
        given |= kwargs
        if fits and self._needed <= given.keys() <= self._names:
            return given
        try:
            return self.signature.bind(*args, **kwargs).arguments
        except TypeError as wrong:
            name = self.function.__name__
            raise TypeError(f"{name}: {wrong}; it is used as {name}{_usage(self.signature)}") from None

    def __call__(self, given: dict[str, Any]) -> Any:
        """What the function makes of its arguments by name."""
        if not self._plain:
            bound = inspect.BoundArguments(self.signature, given)
            return self.function(*bound.args, **bound.kwargs)
        rest, args = dict(given), []
        for name in self._in_place:
            if name not in rest:
                break
            args.append(rest.pop(name))
        return self.function(*args, **rest)


def _usage(signature: inspect.Signature) -> str:
    """How a function is called: "(flow, *, temperature)"; what stands after the star is given by name."""
    names, starred = [], False
    for name, one in signature.parameters.items():
        if one.kind is one.KEYWORD_ONLY and not starred:
            names.append("*")
            starred = True
        names.append(name if one.default is one.empty else f"{name}=…")
    return f"({', '.join(names)})" + (", with a name before each that follows the *" if starred else "")
