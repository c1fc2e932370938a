"""The widgets of `ipywidgets`, with one layout and one style for all that leave theirs as they are.

Each widget sends a layout and mostly a style of its own to the browser, which is more than half of what a page sends as it opens. Those of ours
share them: whoever wants to change one gives the widget its own, ``VBox(layout=Layout())``; `shown` does, where it hides one.
"""

from __future__ import annotations

import os
from typing import NoReturn

import ipywidgets
from ipywidgets import Layout
from traitlets import HasTraits, default

_SHARED: dict[tuple[int, type], ipywidgets.Widget] = {}  # by process: a forked kernel's browser knows none of before


def _shared(kind: type) -> ipywidgets.Widget:
    """The one of a kind; another where it was closed."""
    mine = os.getpid(), kind
    if mine not in _SHARED or _SHARED[mine].comm is None:
        _SHARED[mine] = kind()
        _SHARED[mine].observe(_refuse, _SHARED[mine].keys)
    return _SHARED[mine]


def _refuse(change) -> NoReturn:
    raise TypeError(f"{change.name} would change for all widgets that share it; give this one a layout or style of its own.")


def shown(widget: ipywidgets.DOMWidget, so: bool) -> None:
    """Show a widget, or hide it."""
    if widget.layout is _shared(Layout):
        if so:
            return
        widget.layout = Layout()
    widget.layout.display = None if so else "none"


class _Plain(HasTraits):
    @default("layout")
    def _layout(self):
        return _shared(Layout)

    @default("style")
    def _style(self):
        return _shared(self.traits()["style"].klass)


# fmt: off
class HTML(_Plain, ipywidgets.HTML): ...
class Button(_Plain, ipywidgets.Button): ...
class Checkbox(_Plain, ipywidgets.Checkbox): ...
class Dropdown(_Plain, ipywidgets.Dropdown): ...
class FloatSlider(_Plain, ipywidgets.FloatSlider): ...
class FloatText(_Plain, ipywidgets.FloatText): ...
class HBox(_Plain, ipywidgets.HBox): ...
class Play(_Plain, ipywidgets.Play): ...
class RadioButtons(_Plain, ipywidgets.RadioButtons): ...
class Text(_Plain, ipywidgets.Text): ...
class Textarea(_Plain, ipywidgets.Textarea): ...
class ToggleButton(_Plain, ipywidgets.ToggleButton): ...
class VBox(_Plain, ipywidgets.VBox): ...
