"""What checks the library elsewhere: the workflow, the hooks and the reference pages say the same as pyproject.toml and aquaplumb."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import aquaplumb

yaml = pytest.importorskip("yaml")
ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
JOBS = yaml.safe_load((ROOT / ".github" / "workflows" / "tests.yml").read_text(encoding="utf-8"))["jobs"]
HOOKS = yaml.safe_load((ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8"))["repos"]


def commands(job):
    return "\n".join(step.get("run", "") for step in JOBS[job]["steps"])


def test_the_workflow_covers_the_systems_and_pythons_that_we_promise():
    matrix = JOBS["tests"]["strategy"]["matrix"]
    assert {name.split("-")[0] for name in matrix["os"]} == {"ubuntu", "macos", "windows"}
    assert PROJECT["project"]["requires-python"] == f">={matrix['python'][0]}"
    assert all(isinstance(python, str) for python in matrix["python"]), "3.10 as a number is 3.1"


def test_the_workflow_uses_official_actions_by_major_version():
    used = [step["uses"] for job in JOBS.values() for step in job["steps"] if "uses" in step]
    assert all(re.fullmatch(r"actions/(checkout|setup-python|upload-artifact)@v\d+", name) for name in used)


def test_each_dependency_says_its_lowest_version():
    extras = PROJECT["project"]["optional-dependencies"]
    for said in [*PROJECT["project"]["dependencies"], *(one for extra in extras.values() for one in extra)]:
        assert ">=" in said or said.startswith("aquaplumb["), said


def test_the_lowest_job_takes_the_lowest_numpy():
    """The tests' own wntr asks for a newer one, so that the resolver alone does not try it."""
    (lowest,) = (one.partition(">=")[2] for one in PROJECT["project"]["dependencies"] if one.startswith("numpy"))
    assert "--resolution lowest-direct" in commands("lowest")
    assert f'"numpy=={lowest}.0"' in commands("lowest")


def test_the_workflow_and_the_hooks_use_one_ruff():
    (hook,) = (repo["rev"] for repo in HOOKS if repo["repo"].endswith("/ruff-pre-commit"))
    assert f'"ruff=={hook.removeprefix("v")}"' in commands("lint")


def test_the_readme_tells_of_this_version():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"- **{aquaplumb.__version__}** " in readme and f"Version {aquaplumb.__version__}." in readme


def test_the_reference_pages_show_what_is_public(tmp_path):
    pytest.importorskip("pdoc")
    assert "python .ci/reference.py" in commands("reference")
    done = subprocess.run(
        [sys.executable, str(ROOT / ".ci" / "reference.py"), str(tmp_path)], cwd=ROOT, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0 and "Warn" not in done.stderr, done.stderr
    front = (tmp_path / "aquaplumb.html").read_text(encoding="utf-8")
    assert all(f'id="{name}"' in front or list(tmp_path.rglob(f"{name}.html")) for name in aquaplumb.__all__)
    (page,) = tmp_path.rglob("pipes.html")
    text = page.read_text(encoding="utf-8")
    assert "Colebrook" in text and 'id="friction_head"' in text
    assert "Annotated[" not in re.sub("<[^>]+>", "", text)


MADE_TO_BE_THROWN_AWAY = {  # in a folder that goes again, or a program's own log
    "classroom/running.py", "teaching/copies.py", "walk.py", "workshop/sheet/pdf.py",
}  # fmt: skip


def test_what_a_person_keeps_is_written_in_one_step():
    """Half a file is worse than none: all else goes through `aquaplumb.files.write`."""
    package = ROOT / "aquaplumb"
    plain = re.compile(r"""\.write_(?:text|bytes)\(|\bopen\([^)]*["'][wax]b?\+?["']""")
    found = {str(path.relative_to(package)) for path in package.rglob("*.py") if plain.search(path.read_text(encoding="utf-8"))}
    assert found == MADE_TO_BE_THROWN_AWAY
