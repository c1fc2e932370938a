"""What a page shows of a build's findings: its own in full, what its panel has just brought about, and how many more there are."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from aquaplumb.figures.style import rich

SIGNS = {"stop": "✖ Stop", "fix": "▲ Fix", "note": "● Note"}

_LINE = r"\[\w|\bsection\b|\b\w+ = "  # for who writes the build file by hand: a section or a line of it
_WORD = r"\b[a-z]+(?:_[a-z]+)+\b"  # … or a key of it
_IN_A_FILE = re.compile(_LINE)
_KEY = rf"{_LINE}|{_WORD}"
_NOTEBOOK = re.compile(r"\bnotebook(?= \d\d\b)")
_MORE = re.compile(r"(?:And|Nothing for this page;) (?:\d+|some|more)\b")  # how `_more` begins, and no finding
_SENTENCE = re.compile(r"(?<=[.!?;]) (?=[A-Z])")
_ASIDE = re.compile(rf" \([^()]*(?:{_KEY})[^()]*\)|,? and write (?:it|that) as [^,.;]+")


def on_page(findings: Iterable, page: str, *, known: Collection = (), count: int = 4, counted: bool = True) -> list[tuple[str, str]]:
    """What a page tells of findings, worst first: its own, each that says stop, and those of other pages that are not `known`.

    `known` has the (name, where) of those that the build had before: a page is not the place for them. Of all that is left
    it tells how many, and for which pages; where they are not `counted`, of other pages only that there are some: a panel looks at
    fewer than a review does.
    """
    order, every = list(SIGNS), list(findings)
    here = [f for f in every if (f.notebook or "00") == page or f.severity == "stop" or (known and (f.name, f.where) not in known)]
    here = sorted(here, key=lambda f: (order.index(f.severity), f.notebook != page))[:count]
    rest = [f for f in every if f not in here]
    return [(f.severity, told(f, page)) for f in here] + ([("note", _more(rest, page, bool(here), counted))] if rest else [])


def told(finding, page: str) -> str:
    """A finding and what to do about it, in the words of a page: not which line of the file to write, where a page sets it."""
    sets = "The build file sets it."
    if finding.notebook:
        sets = "The controls of this page set it." if finding.notebook == page else f"Page {finding.notebook} sets it."
    said = f"{_spoken(finding.sentence)} {in_words(finding.cure, sets)}"
    return re.sub(rf"(?<=\()page {page}(?= )|\bpage {page}(?= shows)|(?<=\bof )page {page}\b", "this page", said)


def in_words(text: str, sets: str) -> str:
    """A text without the words of the build file; a sentence that says which line to write gives way to `sets`."""
    sentences = _SENTENCE.split(_spoken(text))
    return " ".join(dict.fromkeys(sets if _IN_A_FILE.search(sentence) else sentence for sentence in sentences))


def _spoken(text: str) -> str:
    return re.sub(_WORD, lambda key: key[0].replace("_", " "), _ASIDE.sub("", _NOTEBOOK.sub("page", text)))


def _more(rest: list, page: str, some: bool, counted: bool) -> str:
    """How many findings are not told here, beside `some` that are, and where they belong."""
    here, later, earlier = (
        [f for f in rest if f.notebook == page], [f for f in rest if f.notebook > page], [f for f in rest if f.notebook < page]
    )  # fmt: skip
    wheres = {"here": here, "for later pages": later, "for earlier pages": earlier}
    if not counted and later and earlier:
        wheres = {"here": here, "for other pages": later + earlier}

    def many(group: list) -> str:
        if counted or group is here:
            return f"{len(group)}{' more' * some}"
        return "more" if some else "some"

    words = [f"{many(group)} {where}" for where, group in wheres.items() if group]
    fix = sorted({f.notebook for f in rest if f.severity == "fix"} - {page})
    mend = f" To fix: {'page' if len(fix) == 1 else 'pages'} {', '.join(fix)}." if fix else ""
    return f"{'And' if some else 'Nothing for this page;'} {' and '.join(words)}.{mend}"


def not_said(found: list[tuple[str, str]], reviewed: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """What a panel shows of its controls beside the review of what is kept: what that does not say, nor gives the same advice for, and not how many more there are."""

    def there(severity: str, text: str) -> bool:
        advice = _SENTENCE.split(text, maxsplit=1)[-1]
        same = bool(re.search(r"\d", advice))  # with its numbers; "Send more water" may be said of two things
        return (severity, text) in reviewed or (same and any(severity == other and seen.endswith(advice) for other, seen in reviewed))

    return [one for one in found if not there(*one) and not _MORE.match(one[1])]


def parted(found: list[tuple[str, str]], kept: list[tuple[str, str]] | None, *, looked: bool) -> tuple[str, list[tuple[str, str]]]:
    """What a panel shows of its controls, and of what is `kept` once something is, as HTML; and the notes that need not be seen at first.

    Those are notes where there are several. What stops or is to be fixed is never among them, nor that there is more on other pages.
    """
    beside = found if kept is None else not_said(found, kept)
    notes = [one for one in [*beside, *(kept or [])] if one[0] == "note" and not _MORE.match(one[1])]
    notes = notes if len(notes) > 1 else []
    loud, loud_kept = ([one for one in every if one not in notes] for every in (beside, kept or []))
    if kept is None:
        return as_list(loud, "This panel finds no fault.") if looked else "", notes
    nothing = "Nothing to mend." if notes else "Nothing found."
    return (
        f'{as_list(loud, "") if loud else ""}<p class="ap-kept"><b>The review of what is kept:</b></p>{as_list(loud_kept, nothing)}',
        notes,
    )


def plain_finding(one) -> tuple[str, str]:
    """A finding as its severity and its sentence, checked."""
    severity, text = one if isinstance(one, tuple) else (one.severity, getattr(one, "text", None) or str(one))
    if severity not in SIGNS:
        raise ValueError(f"a finding's severity is {severity!r}; it can be {', '.join(SIGNS)}")
    return severity, str(text)


def as_list(found: list[tuple[str, str]], nothing: str) -> str:
    """Findings as a list, each with its sign."""
    if not found:
        return f'<ul class="ap-list"><li class="ap-none">{nothing}</li></ul>'
    lines = "".join(f'<li class="ap-{severity}"><b>{SIGNS[severity]}:</b> {rich(text)}</li>' for severity, text in found)
    return f'<ul class="ap-list">{lines}</ul>'
