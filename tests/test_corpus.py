"""The corpus (`corpus`), a part of each group: every case ends as right, as a finding, or as one sentence of at most 300 letters.

``python tests/corpus --all`` runs every one; the workflow does so once a week. With CORPUS_EDITS more edits are tried here.
"""

import os
import re

import hypothesis
import pytest
from hypothesis import strategies as st

import corpus
from aquaplumb.build import Build, demos, load
from corpus import builds, slips

CASES = corpus.cases()


@pytest.mark.sweep(250)
@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.group} · {ascii(case.name)[:80]}")
def test_each_case_ends_as_it_may(case, tmp_path):
    corpus.ended(case, tmp_path)


def test_there_are_enough_cases_and_none_is_left_out_in_silence():
    assert len(CASES) >= 400 or os.name == "nt"
    missing = corpus.groups().keys() - {case.group for case in CASES}
    if missing:
        pytest.skip(f"not here: {', '.join(sorted(missing))} (they need fork, or root to become another user)")


def test_what_ends_wrongly_is_told(tmp_path):
    """The judge itself: a traceback, a long or unclean sentence, another end, and what takes too long."""

    def case(run, ends=corpus.ANY, says=""):
        return corpus.Case("judge", "one", run, ends, says)

    def raises(error):
        def run(_folder):
            raise error

        return run

    assert corpus.ended(case(lambda _: None), tmp_path) == corpus.RIGHT
    assert corpus.ended(case(raises(corpus.DesignError("no.")), says="no"), tmp_path) == corpus.SENTENCE
    for bad, why in (
        (case(raises(KeyError("a"))), "KeyError"), (case(raises(corpus.DesignError("long " * 90))), "450 letters"), (case(raises(corpus.DesignError("no.")), says="yes"), "does not say"),
        (case(lambda _: None, ends=(corpus.SENTENCE,)), "it ended as right"), (case(raises(corpus.DesignError(" "))), "a sentence of"),
    ):  # fmt: skip
        with pytest.raises(corpus.Wrong, match=why):
            corpus.ended(bad, tmp_path)


def test_what_hangs_is_stopped(tmp_path, monkeypatch):
    monkeypatch.setattr(corpus, "PATIENCE", 0.05)

    def run(_folder):
        for _ in range(10**7):
            pass

    with pytest.raises(corpus.Wrong, match="not done in"):
        corpus.ended(corpus.Case("judge", "slow", run), tmp_path)


# --- any edit of a demo's text --------------------------------------------------------------------

_VALUE = re.compile(r'(?<== )(?:"[^"\n]*"|-?[\d.]+|true|false)')


@st.composite
def edited(draw) -> str:
    """A demo's text with up to three edits: a line dropped, doubled or swapped with another, a value retyped or rescaled."""
    lines = load(draw(st.sampled_from(demos()))).text.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        one, other = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        how = draw(st.sampled_from(["drop", "double", "swap", "retype", "rescale", "cut"]))
        if how == "drop":
            del lines[one]
        elif how == "double":
            lines.insert(other, lines[one])
        elif how == "swap":
            lines[one], lines[other] = lines[other], lines[one]
        elif how == "cut":
            lines[one] = lines[one][: draw(st.integers(0, len(lines[one])))]
        elif values := [n for n, line in enumerate(lines) if _VALUE.search(line)]:
            place = values[one % len(values)]
            found = _VALUE.search(lines[place])
            lines[place] = lines[place][: found.start()] + _retyped(draw, found[0], how) + lines[place][found.end() :]
    return "\n".join(lines)


def _retyped(draw, value: str, how: str) -> str:
    if how == "rescale" and (old := slips.scaled(value, 1)):
        new = slips.scaled(value, draw(st.sampled_from(slips.FACTORS)))
        return value if new == old else new
    if how == "rescale":
        return value
    typed = draw(
        st.one_of(
            st.text(st.characters(blacklist_characters='"\\\n\r', blacklist_categories=("Cs", "Cc")), max_size=20),
            st.integers(-(10**20), 10**20),
            st.floats(),
        )
    )
    return f'"{typed}"' if isinstance(typed, str) else str(typed)


@hypothesis.settings(
    max_examples=int(os.environ.get("CORPUS_EDITS", "30")), deadline=None, derandomize="CORPUS_EDITS" not in os.environ, database=None
)
@hypothesis.given(edited())
def test_any_edit_ends_in_a_review_or_in_one_sentence(text):
    """Within 10 s of processor; exit 0, 1 or 2, since the command line says 2 of a sentence and 0 or 1 of a review (`test_cli`)."""
    corpus.ended(corpus.Case("edits", "one", lambda _: builds.looked_at(Build(text))), None)
