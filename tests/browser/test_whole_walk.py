"""The whole walk, played from 00 to 08 in one browser with choices that are not the defaults: it ends in a sound build."""

from pathlib import Path

import pytest

from aquaplumb.build import load
from aquaplumb.review import review

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"


def choose(label, option):
    return lambda page: page.page.locator(".ap-panel:has(.ap-frame)").get_by_label(label, exact=True).select_option(label=option)


def enter(label, text):
    return lambda page: page.type(label, text)


def press(number, key="ArrowRight"):
    return lambda page: page.press(page.sliders().nth(number), key)


# What a panel shows: its picture and its sentence; some choices move only one of them.
STATE = (
    "() => { const p = document.querySelector('.ap-panel:has(.ap-frame)');"
    " return p.querySelector('.ap-frame img').src + p.querySelector('.ap-result').innerText; }"
)
STEPS = {
    "00-start-here": [choose("layout", "two loops"), press(0)],  # three beds
    "01-fish-load": [enter("stocking density [kg/m³]", "12")],
    "02-beds-and-media": [choose("crop", "basil")],
    "03-how-much-water": [enter("tank volumes an hour [1/h]", "0.9")],
    "04-pipe-size": [choose("size on the label", "40 mm")],
    "05-fittings-and-lift": [enter("elbows, first stretch", "3")],
    "06-drains-and-siphons": [enter("holes of its screen [cm²]", "200")],
    "07-sharing-the-flow": [press(0, "ArrowLeft"), choose("set the valves", "balanced for the shares")],
    "08-pump-choice": [enter("flow wanted [L/h]", "1500")],
}


@pytest.mark.skipif(not all((NOTEBOOKS / f"{name}.ipynb").exists() for name in STEPS), reason="the walk is not whole yet")
def test_from_stocking_density_to_the_pump(lab, open_notebook):
    file = lab.root / "my-build.toml"
    file.unlink(missing_ok=True)
    for name, actions in STEPS.items():
        lab.add(NOTEBOOKS / f"{name}.ipynb")
        page = open_notebook(f"{name}.ipynb", height=7500)
        page.hide_files()
        page.run_all()
        assert page.errors() == [], name
        for action in actions:
            before = page.page.evaluate(STATE)
            action(page)
            page.page.wait_for_function(f"before => ({STATE})() !== before", arg=before, timeout=30_000)
        page.page.get_by_role("button", name="Keep").first.click()
        page.page.wait_for_function(
            "() => [...document.querySelectorAll('.ap-panel [role=status]')].some(e => /✔ Kept/.test(e.innerText))"
        )
        assert page.errors() == [], name
        assert review(load(file)).sound, (name, review(load(file)).advice)
        page.close()
    build = load(file)
    assert len(build.of_kind("bed")) == 3
    assert len(build.pumped) == 2
    assert build.value("fish", "density") == "12 kg/m³"
    assert build.value("plants", "crop") == "basil"
    assert build.pumped["tank loop"].si.pipe[0].si.size == "40 mm"
    assert build.pumped["tank loop"].si.pipe[0].si.fittings["elbow 90"] == 3
    assert build.pumped["tank loop"].wanted.to("L/h").magnitude == pytest.approx(1500)
