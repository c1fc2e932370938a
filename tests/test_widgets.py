"""Widgets share what they leave as it is: less to send as a page opens, and nothing that is done to one is seen at another."""

import os
import re
import sys
from pathlib import Path

import ipywidgets
import pytest

import aquaplumb
from aquaplumb.whatif import widgets
from aquaplumb.whatif.widgets import HTML, Button, FloatSlider, HBox, Layout, Text, VBox, shown
from pages import panel_of


def test_what_is_left_as_it_is_is_one():
    parts = [HTML("a"), HTML("b"), Text(), FloatSlider(), Button(), HBox(), VBox()]
    assert len({part.layout.model_id for part in parts}) == 1
    assert parts[0].style is parts[1].style
    assert type(parts[4].style) is type(ipywidgets.Button().style)
    own = Button(layout=Layout(width="90px"))
    assert (own.layout.width, parts[4].layout.width) == ("90px", None)


def test_hiding_one_hides_no_other():
    one, other = VBox(), VBox()
    shown(one, True)
    assert one.layout is other.layout
    shown(one, False)
    assert (one.layout.display, other.layout.display) == ("none", None)
    shown(one, True)
    assert one.layout.display is None


def test_a_shared_one_cannot_be_changed_unseen():
    with pytest.raises(TypeError, match="width would change for all widgets that share it"):
        HTML().layout.width = "3px"
    widgets._SHARED.clear()


def test_after_all_are_closed_new_ones_share_a_new_one():
    before = HTML().layout
    ipywidgets.Widget.close_all()
    after = HTML()
    assert after.layout is not before
    assert after.layout.comm is not None


@pytest.mark.skipif(sys.platform == "win32", reason="kernels are forked where a process can be")
def test_a_forked_kernel_shares_its_own():
    before, (told, tells) = HTML().layout.model_id, os.pipe()
    child = os.fork()
    if not child:
        os.write(tells, HTML().layout.model_id.encode())
        os._exit(0)
    os.waitpid(child, 0)
    assert os.read(told, 100).decode() not in ("", before)


def test_a_panel_sends_few_layouts_and_styles(strict):
    before = set(ipywidgets.widgets.widget._instances)
    assert panel_of("fish_load", "courtyard").widget
    made = [one for key, one in ipywidgets.widgets.widget._instances.items() if key not in before]
    beside = [one for one in made if isinstance(one, (ipywidgets.Layout, ipywidgets.Style))]
    assert len(made) > 20
    assert len(beside) < len(made) / 3


def test_all_widgets_come_from_here():
    folder = Path(aquaplumb.__file__).parent
    takes = {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*.py")
        if re.search(r"(?m)^(import|from) ipywidgets", path.read_text("utf-8"))
    }
    assert takes == {"whatif/widgets.py", "whatif/whatif.py"}  # the other closes them all
