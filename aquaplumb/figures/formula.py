"""A formula as a small picture, for paper: pages without a kernel and without a network have nothing else to set it with."""

from __future__ import annotations

import io

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.mathtext import MathTextParser

from aquaplumb.units import DesignError

_SIZE = 12.0  # points


def formula(tex: str) -> tuple[bytes, float, float]:
    r"""What stands between dollar signs, as SVG with outlines for letters; with its width and height [points].

    Raises
    ------
    DesignError
        Where it is no formula that matplotlib can set.

    Source: none; a layout.

    Examples
    --------
    >>> formula(r"\text{speed} = \frac{Q}{A}")[0][:5]
    b'<?xml'
    """
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update({"svg.fonttype": "path", "svg.hashsalt": tex, "mathtext.fontset": "dejavusans"})
        figure = Figure()
        FigureCanvasAgg(figure)
        try:
            drawn = MathTextParser("path").parse(f"${tex.strip()}$", dpi=72)
        except ValueError:
            raise DesignError(f"the formula {tex.strip()[:60]} cannot be set.") from None
        width, height, depth = (part * _SIZE / 10 for part in (drawn.width, drawn.height, drawn.depth))  # it parses at ten points
        figure.set_size_inches((width + 4) / 72, (height + 4) / 72)
        figure.text(2 / (width + 4), (depth + 2) / (height + 4), f"${tex.strip()}$", fontsize=_SIZE)
        page = io.BytesIO()
        figure.savefig(page, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return page.getvalue(), width + 4, height + 4
