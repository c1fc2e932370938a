"""Every control of every what-if is either kept by the keep button or said, where it stands, not to be kept."""

import importlib
import pkgutil
from collections import Counter

import pytest

from aquaplumb import whatif
from aquaplumb.build import load
from aquaplumb.whatif import build_sheet, supply
from pages import WALKED, panel_of

pytestmark = pytest.mark.usefixtures("strict")

PANELS = [
    name for _, name, _ in pkgutil.iter_modules(whatif.__path__) if hasattr(importlib.import_module(f"aquaplumb.whatif.{name}"), "panel")
]
PICKS = {"line", "stretch", "branch", "set", "stock"}  # they say what the others are of, or move the others


def opened(name, path):
    return importlib.import_module(f"aquaplumb.whatif.{name}").panel(load(path))


@pytest.fixture
def build_file(name, demo, tmp_path, monkeypatch):
    """A demo as a person's own file; battery and panel need a DC pump to begin with, which page 11 keeps first."""
    monkeypatch.setattr(build_sheet, "_sheet", lambda build: "")  # tests/test_build_sheet_page.py writes the sheet
    path = tmp_path / "my-build.toml"
    if name != "start":  # it makes the file
        path.write_text(load(demo).text, encoding="utf-8")
    if name == "supply_year":
        panel = supply.panel(load(path))
        panel.set(pump=next(pump for pump in panel.control("pump").all.values() if panel.control("wire").spec.options[pump]))
        panel._press_keep()
        assert panel.kept.startswith("✔"), panel.kept
    return path


def other(panel, name):
    """Another value of a control, near where it stands."""
    control = panel.control(name)
    if hasattr(control, "options"):
        options = list(control.options.values())
        return options[(options.index(control.value) + 1) % len(options)]
    if not hasattr(control, "slider"):
        return not control.value
    kind = control.spec.kind
    _low, high, step = control.spec.marks(panel.system, control.low, control.high)
    at = control._snapped(kind.shown(control.value, panel.system))
    to = kind.from_shown(at + step if at + step <= high + 1e-9 else at - step, panel.system)
    return kind.quantity(to) if kind.si else round(to, 9)


def ways(panel, kinds):
    """The start, and each choice (kept or not, as `kinds` has it) that brings out controls not there at first, or changes what they offer."""
    yield {}
    offered = {name for name, row in panel._rows.items() if row.offered}
    for name in {row.spec.of for row in panel._rows.values() if getattr(row.spec, "of", "")}:
        start, tried = panel.values[name], 0
        for option in panel.control(name).all.values() if name not in PICKS and panel.control(name).spec.kept in kinds else ():
            if option == start:
                continue
            panel.set(**{name: option})
            new = {key for key, row in panel._rows.items() if row.offered} - offered
            if new or not tried:
                offered, tried = offered | new, tried + 1
                yield {name: option}
        panel.set(**{name: start})


def moved(panel, way, kept):
    """Go that way and move all controls that are shown, of those that are kept or of those that are not; returns their names."""
    panel.set(**way)
    shown = [name for name, row in panel._rows.items() if row.offered and row.spec.kept is kept and name not in {*way, *PICKS}]
    before = {name: panel.control(name).value for name in shown}
    panel.set(**{name: other(panel, name) for name in shown})
    if "siphons ask for more water" in panel.said:  # so many beds have plain drains: it is said, and cannot be kept
        panel.set(drains=before["drains"])
    assert not panel.stale, panel.said
    return [name for name in shown if panel.control(name).value != before[name]]  # a menu of one thing cannot be moved


def same(one, other):
    return (
        one == other
        if isinstance(one, (str, bool)) or one is None or isinstance(one, tuple)
        else one == pytest.approx(other, rel=1e-6, abs=1e-6)
    )


@pytest.mark.sweep(7)
@pytest.mark.parametrize("demo", [*WALKED, "terrace"])
@pytest.mark.parametrize("name", PANELS)
def test_what_is_kept_is_where_the_next_panel_starts(name, demo, build_file, unseen):
    before = build_file.read_text(encoding="utf-8") if build_file.exists() else ""
    panel = opened(name, build_file) if before else panel_of(name, demo)
    if not any(row.spec.kept for row in panel._rows.values()):
        return
    for way in list(ways(panel, [True])):
        if before:
            build_file.write_text(before, encoding="utf-8")
        panel = opened(name, build_file) if before else panel_of(name, demo)
        moved(panel, way, True)
        assert unseen(panel)  # only what all moved controls come to is drawn
        panel._press_keep()
        if name == "siphon_round" and panel.kept.startswith("✖ Not kept: on the "):  # a siphon that cannot work on this drain
            assert build_file.read_text(encoding="utf-8") == before
            continue
        assert panel.kept.startswith("✔") and "Only tried" not in panel.kept, panel.kept
        text = build_file.read_text(encoding="utf-8")
        new = Counter(text.split("\n")) - Counter(before.split("\n"))
        again = opened(name, build_file)
        again.set(**{key: panel.values[key] for key in PICKS & {*panel._rows} if key != "set"})
        for key, row in panel._rows.items():
            if row.offered and row.spec.kept and key not in PICKS:
                written = (
                    isinstance(row.value, str)
                    and row.value
                    and any(f'"{row.value}"' in line for line in (text.split("\n") if key in way else new))
                )
                mains = (
                    name == "supply" and key == "pump" and f'pump = "{row.value}"' in text
                )  # as the build has it; the page opens with a DC pump to try
                larger = (
                    name == "start" and key == "tank" and row.value * (1 - 1e-9) <= again.control(key).value
                )  # it says "at least": whole steps, and the layout's smallest
                assert written or mains or larger or same(again.control(key).value, row.value), (
                    f"{key}: {row.value} was kept, {again.control(key).value} comes back"
                )


@pytest.mark.sweep(7)
@pytest.mark.parametrize("demo", WALKED)
@pytest.mark.parametrize("name", PANELS)
def test_what_is_not_kept_says_so(name, demo, build_file, unseen):
    panel = opened(name, build_file) if build_file.exists() else panel_of(name, demo)
    if all(row.spec.kept for row in panel._rows.values()):
        return
    panel._press_keep()
    assert panel.kept.startswith("✔") and "Only tried" not in panel.kept, panel.kept
    for way in list(ways(panel, [True, False])):
        panel = opened(name, build_file)
        panel.set(**way)
        panel._press_keep()
        before = build_file.read_text(encoding="utf-8")
        names = moved(panel, way, False)
        assert unseen(panel)
        panel._press_keep()
        assert build_file.read_text(encoding="utf-8") == before
        tried = panel.kept.partition("Only tried, not kept: ")[2]
        for key, row in panel._rows.items():
            if not row.spec.kept:
                shown = row.menu if hasattr(row, "menu") else row.box
                assert shown.tooltip.endswith("not kept")
                assert "ap-try" in row.line._dom_classes
                assert key not in names or row.spec.label in tried, f"{row.spec.label} was moved, and nothing says that it is not kept"
