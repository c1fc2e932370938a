"""The shape of the house: what stands at the top, which way imports run, what loads when, and the form of docstrings."""

import ast
import functools
import importlib
import importlib.util
import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

import aquaplumb
from aquaplumb.units import KINDS, Record

PACKAGE = Path(aquaplumb.__file__).parent
HOUSE = PACKAGE.parent
ALLOWED = {"README.md", "DEVELOPERS.md", "pyproject.toml", "notebooks", "aquaplumb", "data", "tests"}
ALLOWED_DOTTED = {".ci", ".binder", ".github", ".hub", ".gitignore", ".gitattributes", ".pre-commit-config.yaml"}

MODULES = sorted(PACKAGE.rglob("*.py"))
FOLDERS = {p.parent.name for p in PACKAGE.glob("*/__init__.py")}
FRONT_DOOR = {"__init__", "__main__", "walk"}  # they may open every room, and no room asks for them


def rooms():
    """The rooms in the order in which data flows, as the map in DEVELOPERS.md has them."""
    return re.findall(r"(?m)^\| `(\w+)/` \|", (HOUSE / "DEVELOPERS.md").read_text(encoding="utf-8"))


def dotted(path):
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" and len(parts) > 1 else parts)


def room(name):
    """The room of a module such as "plumbing.pipes"; "" on the ground floor."""
    return name.split(".")[0] if name.split(".")[0] in FOLDERS else ""


@functools.cache
def is_module(name):
    return (PACKAGE / name.replace(".", "/")).is_dir() or (PACKAGE / f"{name.replace('.', '/')}.py").exists()


@functools.cache
def parsed(path):
    return ast.parse(path.read_text(encoding="utf-8"))


@functools.cache
def imports(path):
    """(what is imported, whether at the top of the file), our own as "review.findings.falls", others as "numpy"."""
    return list(_imports(path))


def _imports(path):
    at_the_top = set(parsed(path).body)
    for node in ast.walk(parsed(path)):
        top = node in at_the_top
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name.removeprefix("aquaplumb."), top
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: say where it is from, not 'from .'"
            ours = node.module.removeprefix("aquaplumb").lstrip(".") if node.module.split(".")[0] == "aquaplumb" else None
            if ours is None:
                yield node.module, top
                continue
            names = [f"{ours}.{alias.name}".lstrip(".") for alias in node.names]
            yield from ((name, top) for name in names if is_module(name))
            if ours and not all(map(is_module, names)):
                yield ours, top


def is_ours(name):
    return is_module(name.split(".")[0])


def git(*arguments):
    try:
        return subprocess.run(["git", *arguments], cwd=HOUSE, capture_output=True, encoding="utf-8", check=True).stdout.splitlines()
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a git checkout")


def test_the_top_level_holds_only_what_it_may():
    names = {line.split("/")[0] for line in git("ls-files")}  # a log or a sheet that lies in a clone is nobody's business
    assert names <= ALLOWED | ALLOWED_DOTTED
    assert names >= ALLOWED


def test_no_path_of_anyones_machine_is_written_down():
    machine = re.compile("/" + r"(?:work|root|home|Users)/[a-z.]")
    for line in git("ls-files"):
        path = HOUSE / line
        if path.suffix in {".py", ".md", ".toml", ".csv", ".ipynb"} and path.exists():
            found = machine.search(path.read_text(encoding="utf-8"))
            assert not found, f"{line}: {found[0]}"


# --- imports ----------------------------------------------------------------------------------------------


def test_the_map_has_every_room():
    assert sorted(rooms()) == sorted(FOLDERS)
    flat = {p.stem for p in PACKAGE.glob("*.py")}
    assert len(flat) <= 12, f"a room for each: {flat}"  # records left units, and sentences kinds, which had grown over 400 lines


def test_imports_run_one_way():
    order = ["", *rooms()]
    for path in MODULES:
        own = dotted(path)
        for name, _ in imports(path):
            if not is_ours(name) or own in FRONT_DOOR - {"__init__"}:
                continue
            assert name not in FRONT_DOOR, f"{own} asks the front door for {name}"
            assert order.index(room(name)) <= order.index(room(own)), f"{own} imports {name}, from a room below it"


def test_no_modules_import_each_other():
    ahead = {dotted(p): {n for n, top in imports(p) if top and is_ours(n)} for p in MODULES}
    done: set[str] = set()

    def visit(name, way):
        assert name not in way, f"a circle of imports: {' → '.join([*way, name])}"
        if name not in done:
            for other in ahead.get(name, ()):
                if other != name:
                    visit(other, [*way, name])
            done.add(name)

    for name in ahead:
        visit(name, [])


def test_one_name_means_one_class():
    """Two records of one name in two rooms are taken for each other, by readers and by editors."""
    places: dict[str, list[str]] = {}
    for path in MODULES:
        for node in parsed(path).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, []).append(dotted(path))
    assert {name: where for name, where in places.items() if len(where) > 1} == {}


def test_a_module_holds_one_subject_on_a_few_pages():
    for path in MODULES:
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 400, f"part {dotted(path)} in two by subject"


def test_heavy_libraries_stay_in_their_rooms():
    for path in MODULES:
        own = room(dotted(path))
        for name, top in imports(path):
            library = name.split(".")[0]
            if library in ("ipywidgets", "traitlets"):
                assert own in ("whatif", "questions"), f"{path.name}: widgets belong to whatif and questions"
            if library == "IPython":  # a picture shows itself in a notebook; nothing else needs it
                assert own in ("whatif", "questions") or (own in ("figures", "workshop") and not top), (
                    f"{path.name}: what a notebook shows belongs to whatif"
                )
            if library == "matplotlib":
                assert own in ("figures", "whatif", "workshop"), f"{path.name}: plots belong to figures"
            if library in ("pandas", "scipy", "fluids"):
                assert not top or name == "scipy.special", f"{path.name}: import {name} in the function that needs it"


@pytest.mark.parametrize(
    "code", ["import aquaplumb", "import aquaplumb; str(aquaplumb.review.review('courtyard'))"], ids=["import", "review"]
)
def test_nothing_heavy_is_loaded_before_it_is_needed(code):
    heavy = ("matplotlib", "pandas", "ipywidgets", "IPython", "jupyterlab")
    code += f"; import sys; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=HOUSE, capture_output=True, encoding="utf-8", check=True)
    assert done.stdout.strip() == "[]"


def test_every_name_of_the_front_door_opens():
    for name in aquaplumb.__all__:
        assert getattr(aquaplumb, name) is not None
    with pytest.raises(AttributeError, match="no 'pond'"):
        aquaplumb.pond  # noqa: B018
    assert dir(aquaplumb) == sorted(aquaplumb.__all__)


def test_import_lines_from_before_the_rooms_still_work():
    """In a notebook that somebody copied: the same module by both names, and a word of where it is now."""
    from aquaplumb.pipes import bore as old_bore
    from aquaplumb.readings.log import Log as OldLog

    from aquaplumb.plumbing.pipes import bore
    from aquaplumb.review.readings.log import Log

    assert old_bore is bore and OldLog is Log
    for old, new in aquaplumb._MOVED.items():
        now = importlib.import_module(f"aquaplumb.{new}")
        sys.modules.pop(f"aquaplumb.{old}", None)
        if old in aquaplumb.__all__:
            assert importlib.import_module(f"aquaplumb.{old}") is now
        else:
            with pytest.warns(DeprecationWarning, match=rf"{re.escape(old)} is now aquaplumb\.{re.escape(new)}"):
                assert importlib.import_module(f"aquaplumb.{old}") is now


# --- docstrings -------------------------------------------------------------------------------------------

UNITS = {kind.si for kind in KINDS}
TRADE = ("fish", "water", "plumbing", "air", "power")


def public():
    """(module.name, thing) for each public function and record that a trade module itself defines."""
    for path in MODULES:
        if room(dotted(path)) in TRADE:
            module = importlib.import_module(f"aquaplumb.{dotted(path)}")
            for name, thing in vars(module).items():
                if not name.startswith("_") and getattr(thing, "__module__", "") == module.__name__ and callable(thing):
                    yield f"{dotted(path)}.{name}", thing


PUBLIC = dict(public())
DOORS = {name: thing for name, thing in PUBLIC.items() if hasattr(thing, "si") and hasattr(thing, "kinds")}
RECORDS = {name: thing for name, thing in PUBLIC.items() if isinstance(thing, type) and issubclass(thing, Record)}
HEADING = re.compile(r"(?m)^(Parameters|Attributes|Returns|Raises|Notes|Examples|Sources?)(?:\n-{3,}$|:)")


def sections(thing):
    """The parts of a docstring by their headings; what stands before the first is ""."""
    parts = HEADING.split(inspect.getdoc(thing) or "")
    return {"": parts[0], **{name.rstrip("s") if name.startswith("Source") else name: text for name, text in zip(parts[1::2], parts[2::2])}}


def entries(text):
    """(name, what it says) of each parameter."""
    return re.findall(r"(?m)^(\w+) : (.+)$", text)


def unit_of(text):
    found = re.search(r" \[([^\]]*)\]\s*$", text)
    return found[1] if found else ""


def test_there_is_something_to_read():
    assert len(DOORS) > 60 and len(RECORDS) > 10


@pytest.mark.parametrize("name", DOORS)
def test_a_functions_docstring(name):
    """What its author wrote, and what the door made of it."""
    function, said = DOORS[name], sections(DOORS[name])
    assert "----" not in function.si.__doc__, "names, kinds and units are in the annotations: say what they cannot (see signatures.py)"
    assert said[""].strip().split("\n")[0].endswith("."), "the first line is a sentence"
    given = entries(said.get("Parameters", ""))
    assert [n for n, _ in given] == list(inspect.signature(function).parameters)
    for parameter, text in given:
        kind = function.kinds.get(parameter)
        assert unit_of(text) == (kind.si if kind else ""), f"{parameter} : {text}"
    if function.returns is not None:
        returned = said["Returns"].strip().split("\n")[0]
        assert unit_of(returned) == function.returns.si, returned
    assert said.get("Source", "").strip(), "says where it is from"
    assert ">>> " in said.get("Examples", ""), "shows what a builder would type"


@pytest.mark.parametrize("name", RECORDS)
def test_a_records_docstring(name):
    record, said = RECORDS[name], sections(RECORDS[name])
    assert said[""].strip(), "says what it is"
    assert inspect.getdoc(record) != inspect.getdoc(Record), "has words of its own"
    assert [n for n, _ in entries(said["Attributes"])] == list(record._kinds)


@pytest.mark.parametrize("name", sorted(PUBLIC.keys() - DOORS.keys() - RECORDS.keys()))
def test_everything_else_says_what_it_is(name):
    assert inspect.getdoc(PUBLIC[name])


def test_units_in_docstrings_are_ones_that_we_know():
    for name, thing in PUBLIC.items():
        for section in ("Parameters", "Attributes", "Returns"):
            for line in sections(thing).get(section, "").split("\n"):
                if not line.startswith(" ") and (unit := unit_of(line)):
                    assert unit in UNITS, f"{name}: {line}"


# --- lint ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("check", [("check",), ("format", "--check")], ids=" ".join)
def test_ruff_is_content(check):
    if importlib.util.find_spec("ruff") is None:
        pytest.skip("ruff is not installed")
    done = subprocess.run(
        [sys.executable, "-m", "ruff", *check, "--no-cache", "."], cwd=HOUSE, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stdout
