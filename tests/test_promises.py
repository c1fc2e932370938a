"""What DEVELOPERS.md promises is held by tests that exist."""

import re
from pathlib import Path

TESTS = Path(__file__).parent
SECTION = re.search(r"(?ms)^## What this tool promises$(.*?)^## ", (TESTS.parent / "DEVELOPERS.md").read_text(encoding="utf-8"))[1]


def test_each_promise_names_tests_that_are_there():
    rows = [row for row in SECTION.splitlines() if row.startswith("| ")][1:]
    assert len(rows) >= 10
    for row in rows:
        promise, held = row.strip("| ").rsplit("|", 1)
        named = re.findall(r"`(test_\w+\.py)::(test_\w+)`", held)
        assert named, f"no test holds this: {promise}"
        for file, test in named:
            assert f"\ndef {test}(" in (TESTS / file).read_text(encoding="utf-8"), f"{file} has no {test}"
