"""The words that the pages explain, folded away under page 00: `data/glossary.md` has them, a line each."""

from __future__ import annotations

import html
import re

from aquaplumb import tables
from aquaplumb.units import folded


class Glossary:
    """Terms and their meanings, in the order of the alphabet."""

    def __init__(self, terms: dict[str, str]):
        self.terms = terms

    def __repr__(self):
        return f"{len(self.terms)} words, from {min(self.terms, key=str.lower)} to {max(self.terms, key=str.lower)}."

    def _repr_html_(self) -> str:
        rows = "".join(f"<dt><b>{html.escape(term)}</b></dt><dd>{html.escape(meaning)}</dd>" for term, meaning in self.terms.items())
        return folded(repr(self), f"<dl>{rows}</dl>")


def glossary() -> Glossary:
    """What the pages' words in bold mean."""
    text = (tables.folder("data") / "glossary.md").read_text(encoding="utf-8")
    return Glossary(dict(re.findall(r"(?m)^- \*\*(.+?)\*\*: (.+)$", text)))
