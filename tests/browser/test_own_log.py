"""The log's form in a real JupyterLab: begun, a reading refused, a day added, and the advice that follows."""

import pytest


@pytest.fixture(scope="module")
def page(lab, open_notebook, written_notebook):
    written_notebook(
        lab.root / "own-log.ipynb",
        "from aquaplumb import my_build\nfrom aquaplumb.whatif import own_log\nbuild = my_build('log-build.toml')",
        "own_log.form(build)",
    )
    notebook = open_notebook("own-log.ipynb", width=1280, height=800)
    notebook.run_all()
    notebook.page.wait_for_selector(".ap-panel >> text=Start my log")
    return notebook


def seen(page, text):
    page.page.wait_for_selector(f".ap-panel >> text={text}")


def test_a_log_is_begun_kept_and_heard(page, lab):
    assert page.errors() == []
    page.page.get_by_text("A demo's log, and what it asks for").click()
    seen(page, "29 days of readings")
    page.see("own-log-demo")
    page.page.get_by_role("button", name="Start my log").click()
    seen(page, "my-log.csv has no readings yet")
    page.see("own-log-begun")
    page.type("pH", "74")
    page.type("nitrite [mg/L as N]", "6")
    page.page.get_by_role("button", name="Add today's readings").click()
    seen(page, "cannot be: pH in water with living fish lies from 3 to 11")
    assert page.box("pH").input_value() == "74" and page.box("nitrite [mg/L as N]").input_value() == "6"
    page.type("pH", "7.1")
    page.page.get_by_role("button", name="Add today's readings").click()
    seen(page, "now: nitrite.")
    assert page.box("pH").input_value() == "" and (lab.root / "my-log.csv").read_text(encoding="utf-8").count("7.1") == 1
    page.see("own-log-added")
    assert page.errors() == []


def test_the_form_stands_beside_what_the_log_says(page):
    form, words = (
        page.page.get_by_role("button", name="Add today's readings").bounding_box(),
        page.page.locator(".ap-panel img").first.bounding_box(),
    )
    assert form["x"] + form["width"] <= words["x"] + 1
    for field in page.page.locator(".ap-panel .widget-text").all():
        assert field.bounding_box()["width"] <= 310
