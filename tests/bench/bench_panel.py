"""How direct a slider feels: python tests/bench/bench_panel.py [--kernel-only]

1. In the kernel: compute and draw for one move of a panel with two curves, a band, a point and a marked line.
2. In a browser: from the key press to changed pixels, the panel against the same figure done the ordinary way
   (`interactive_output` and inline matplotlib), in one run. Machines differ; the ratio is what counts.
"""

from __future__ import annotations

import importlib.util
import statistics
import sys
import tempfile
import time
from pathlib import Path

BROWSER = Path(__file__).resolve().parents[1] / "browser"
sys.path[:0] = [str(BROWSER), str(BROWSER.parents[1])]

ORDINARY = """
import ipywidgets as widgets, matplotlib.pyplot as plt, numpy as np
from IPython.display import display
import toy
%matplotlib inline
def draw(flow):
    record = toy.jet(flow / 3.6e6, 0.02, 0.8, 1, False, "far").si
    figure, axes = plt.subplots(figsize=(6.4, 4.0), dpi=100)
    axes.plot(np.linspace(0, 2, 50), np.linspace(1.0, 0.6, 50))
    axes.plot(record.along, record.up)
    axes.fill_between(record.along, record.low, record.up, alpha=0.15)
    axes.axvline(record.wall, linestyle="--"); axes.text(record.wall, 1.1, "wall")
    axes.plot([record.landing], [0.02], "o")
    axes.set(xlim=(0, 2), ylim=(0, 1.2), xlabel="distance [m]", ylabel="height [m]",
             title=f"The water lands {record.landing:.3g} m away.")
    axes.grid(True)
    plt.show()
slider = widgets.FloatSlider(min=0, max=6000, step=50, value=1500, description="flow [L/h]")
out = widgets.interactive_output(draw, {"flow": slider})
out.add_class("ordinary")
display(slider, out)
"""

# From the key press (caught first of all) to the second frame after another, fully decoded picture is in the page.
WATCH = """
(where) => {
  window.moves = []; let pressed = 0, seen = null;
  const holder = document.querySelector(where);
  const source = () => holder.querySelector('img')?.src ?? null;
  seen = source();
  document.addEventListener('keydown', () => { pressed = performance.now(); }, true);
  new MutationObserver(() => {
    const image = holder.querySelector('img');
    if (!image || image.src === seen || !pressed) return;
    seen = image.src; const start = pressed; pressed = 0;
    image.decode().then(() => requestAnimationFrame(() => requestAnimationFrame(() =>
      window.moves.push(performance.now() - start))));
  }).observe(holder, {subtree: true, childList: true, attributes: true});
}
"""


def kernel(moves: int = 200) -> None:
    """Compute and draw for each move, in this process."""
    spec = importlib.util.spec_from_file_location("toy", BROWSER / "toy.py")
    toy = importlib.util.module_from_spec(spec)
    sys.modules["toy"] = toy
    spec.loader.exec_module(toy)
    panel = toy.panel()
    slider, whole, drawn, sizes = panel.control("flow").slider, [], [], []
    for place in range(moves):
        start = time.perf_counter()
        slider.value = 500 + 50 * (place % 40)
        whole.append(time.perf_counter() - start)
        start = time.perf_counter()
        sizes.append(len(panel.picture.png(panel.record)))
        drawn.append(time.perf_counter() - start)
    fresh = []
    for _ in range(10):
        panel.picture._drawn = None
        start = time.perf_counter()
        panel.picture.png(panel.record)
        fresh.append(time.perf_counter() - start)
    median = statistics.median
    print(f"kernel, one move in all           {1e3 * median(whole):7.1f} ms (aim 30)")
    print(f"  of it drawing and encoding      {1e3 * median(drawn):7.1f} ms (aim 25), {median(sizes) / 1024:.0f} KiB a picture")
    print(f"  the same with a new frame       {1e3 * median(fresh):7.1f} ms")


def pixels(page, where: str, handle, moves: int = 40) -> list[float]:
    """Milliseconds from key press to changed pixels, one move at a time."""
    page.page.evaluate(WATCH, where)
    handle.focus()
    for count in range(1, moves + 1):
        page.page.keyboard.press("ArrowRight" if count % 20 < 10 else "ArrowLeft")
        page.page.wait_for_function("count => window.moves.length >= count", arg=count, timeout=20_000)
        page.page.wait_for_timeout(60)
    return page.page.evaluate("() => window.moves")[3:]  # the first few warm up


def browser() -> None:
    """Both ways in one browser."""
    import lab as tools

    if reason := tools.missing():
        print(f"browser part left out: {reason}")
        return
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = tools.Lab(Path(folder) / "lab")
        window = tools.launched(playwright)
        try:
            server.add(BROWSER / "toy.py")
            tools.written_notebook(server.root / "panel.ipynb", "import toy\npanel = toy.panel()", "panel")
            tools.written_notebook(server.root / "ordinary.ipynb", ORDINARY)
            found, desk = {}, tools.desk(window, server)
            for name, where, handles in (
                ("ordinary", ".ordinary", ".widget-slider .noUi-handle"),
                ("panel", ".ap-panel", ".ap-panel .noUi-handle"),
            ):
                page = tools.Notebook(desk, f"{name}.ipynb", height=900)
                page.run_all()
                page.page.wait_for_selector(f"{where} img")
                found[name] = statistics.median(pixels(page, where, page.page.locator(handles).first))
                assert page.errors() == [], page.errors()
                page.close()
        finally:
            window.close()
            server.close()
    print(f"key press to pixels, ordinary way {found['ordinary']:7.0f} ms")
    print(f"key press to pixels, panel        {found['panel']:7.0f} ms")
    print(f"ratio                             {found['panel'] / found['ordinary']:7.2f} (aim 0.4)")


if __name__ == "__main__":
    kernel()
    if "--kernel-only" not in sys.argv:
        browser()
