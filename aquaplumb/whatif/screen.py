"""How a panel lies on the screen: beside its picture where there is room, under it where there is not; in light and in dark.

What counts is the width of the panel itself (a container query), not that of the window: a list of files may stand beside it.
"""

from __future__ import annotations

from typing import Any

from aquaplumb.whatif import widgets

_DARK = ":is([data-jp-theme-light=false], .theme-dark)"  # the page's body, in JupyterLab and Voilà

# Letters typed at a slider or a list are not for the notebook, which would take `x` for "cut this cell" and the arrows for "go on".
_KEYS = """<img alt="" hidden src="data:," onerror="if (!window.apKeys) { window.apKeys = true;
window.addEventListener('keydown', e => { if (e.target.closest?.('.ap-panel, .ap-quiz'))
e.target.toggleAttribute('data-lm-suppress-shortcuts', !(e.ctrlKey || e.metaKey)); }, true); } this.remove()">"""

# For the whole page: nothing around a panel scrolls by itself, or its picture could not stay in view; printed text breaks between
# words; tables that are too wide scroll in their own box, and the line that stands for folded code is cut at its end; pictures follow a dark theme: the browser turns what was white to
# nearly black, and each colour keeps its hue. On a phone a picture keeps its size and scrolls in its frame, or nobody could read its
# words: the smallest has ten pixels (`figures.style.SMALLEST`).
_PAGE = """
[data-voila] .ap-lab { display: none; }
:is(.jp-OutputArea, .jp-OutputArea-child, .jp-OutputArea-output):has(.ap-panel) { overflow: visible !important; }
.jp-OutputArea-output pre, .jp-RenderedText pre { word-break: normal; overflow-wrap: break-word; }
.jp-OutputArea-output pre.ap-wide { white-space: pre !important; overflow-x: auto; padding: 0;
  background: none; font: 13px/1.3 var(--jp-code-font-family, monospace); font-family: var(--jp-code-font-family, monospace) !important; }
:is(.MathJax_Display, mjx-container[display="true"]) { overflow-x: auto; overflow-y: hidden; max-width: 100%; }
.jp-RenderedHTMLCommon dd { margin: 0 0 6px 12px; }
.jp-RenderedHTMLCommon dt { margin: 0; }
@media print { details::details-content { content-visibility: visible; display: block; block-size: auto; } }
.jp-RenderedHTMLCommon table { display: block; max-width: 100%; overflow-x: auto; }
:is(.jp-Placeholder-content, .jp-Placeholder-contentContainer, .jp-PlaceholderText) { min-width: 0; max-width: 100%;
  overflow: hidden; text-overflow: ellipsis; }
.jp-RenderedHTMLCommon :is(td, th) { word-break: normal; overflow-wrap: normal; }
@media (max-width: 700px) {
  .jp-RenderedImage { overflow-x: auto; }
  .jp-RenderedImage img { max-width: none !important; height: auto; }
}
DARK :is(.ap-panel, .ap-quiz, .ap-gallery) img,
DARK .jp-OutputArea-child:has(+ .jp-OutputArea-child details) .jp-RenderedImage img { filter: invert(.9) hue-rotate(180deg); }
"""

_STYLE = """
.ap-panel { --ap-ink: var(--jp-ui-font-color1, #26323c); --ap-ground: var(--jp-layout-color0, white); --ap-edge: #8fa5b3;
  container-type: inline-size; width: 100%; overflow: visible; }
[data-voila] .ap-panel { --ap-ground: var(--jp-layout-color1, white); }
.ap-panel .ap-cols { display: flex; flex-flow: row nowrap; align-items: flex-start; gap: 4px 20px; width: 100%; overflow: visible; }
.ap-panel .ap-controls { flex: 0 0 280px; width: 280px; overflow: visible; }
.ap-panel .ap-shown { flex: 1 1 0; min-width: 0; position: sticky; top: 0; overflow: visible; }
.ap-panel .ap-head, .ap-panel .ap-rest { width: 100%; overflow: visible; }
@container (max-width: 619px) {
  .ap-panel .ap-cols { flex-direction: column; align-items: stretch; }
  .ap-panel .ap-shown { display: contents; }
  .ap-panel .ap-head { order: 0; position: sticky; top: 0; z-index: 2; background: var(--ap-ground); padding-bottom: 4px; }
  .ap-panel .ap-controls { order: 1; flex: 0 0 auto; width: 100%; max-width: 480px; }
  .ap-panel .ap-head .ap-result { min-height: 0; max-height: 127px; overflow-y: auto; }
  .ap-panel .ap-rest { order: 2; }
  .ap-panel .ap-frame { overflow: auto; max-height: 46vh; }
  .ap-panel .ap-frame img { max-width: none; }
}
.ap-panel :is(.ap-controls, .ap-more, .ap-form) > * { width: 100%; margin: 2px 0; overflow: visible; }
.ap-panel .ap-more { border-left: 2px solid var(--ap-edge); padding-left: 8px; }
.ap-panel > .widget-toggle-button { width: auto; max-width: 100%; }
.ap-panel .ap-behind { width: 100%; overflow: visible; }
.ap-panel .ap-row { display: flex; flex-flow: column; align-items: stretch; }
.ap-panel .ap-row > * { width: auto; margin: 0; }
.ap-panel .ap-row { padding-bottom: 4px; }
.ap-panel .widget-text, .ap-panel .widget-dropdown, .ap-panel .widget-checkbox { display: flex; flex-flow: row wrap;
  height: auto; width: auto; align-items: baseline; gap: 0 8px; }
.ap-panel .widget-inline-hbox .widget-label { flex: 1 1 auto; width: auto; max-width: 100%; height: auto; margin: 0; text-align: left;
  white-space: normal; overflow: visible; }
.ap-panel .ap-form .widget-text { flex-wrap: nowrap; }
.ap-panel .ap-form .widget-text .widget-label { flex: 1 1 0; min-width: 0; }
.ap-panel .ap-form .widget-text input { flex: 0 0 112px; width: 112px; min-width: 0; }
.ap-panel .ap-row .widget-text { flex-wrap: nowrap; }
.ap-panel .ap-row .widget-text .widget-label { flex: 1 1 0; min-width: 0; }
.ap-panel .ap-row .widget-text input { flex: 0 0 84px; width: 84px; }
.ap-panel .ap-row .ap-tape.widget-text input { flex: 0 0 104px; width: 104px; }
.ap-panel .widget-dropdown select { flex: 1 1 150px; height: 28px; min-width: 0; max-width: 100%; }
.ap-panel .ap-row .widget-slider { height: 22px; padding: 0 10px; }
.ap-panel .ap-row .slider-container { width: 100%; margin: 0; }
.ap-panel .widget-checkbox label { white-space: normal; line-height: 1.4; width: auto; }
.ap-panel .widget-label, .ap-panel .widget-html-content { color: var(--ap-ink); line-height: 1.4; }
.ap-panel .ap-try .widget-label { font-style: italic; }
.ap-panel .widget-html, .ap-panel .widget-html-content { height: auto; overflow: visible; margin: 0; min-width: 0; max-width: 100%; }
.ap-panel .widget-html { width: auto; }
.ap-panel .ap-result { font-size: 15px; min-height: 42px; margin: 2px 0 0; }
.ap-panel .ap-above { margin: 2px 0 4px; font-style: italic; }
.ap-panel .ap-bad { border-left: 4px solid #d55e00; padding-left: 8px; }
.ap-panel .ap-frame { position: relative; }
.ap-panel img { display: block; max-width: 100%; height: auto; background: white; }
DARK .ap-panel { --jp-widgets-dropdown-arrow: url("data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 18 18'%3E%3Cpath d='M5 7l4 4 4-4' fill='none' stroke='%23ddd' stroke-width='2'/%3E%3C/svg%3E"); }
.ap-panel .ap-old img { opacity: .25; filter: grayscale(1); }
DARK .ap-panel .ap-old img { filter: invert(.9) grayscale(1); }
.ap-panel .ap-old::after { content: "out of date"; left: 45%; top: 45%; }
.ap-panel .ap-busy img, .ap-panel .ap-busy .ap-result, .ap-panel .ap-busy .ap-list { opacity: .35; }
.ap-panel .ap-busy .ap-frame::after { content: "computing …"; left: 45%; top: 30%; }
.ap-panel .ap-old::after, .ap-panel .ap-busy .ap-frame::after { position: absolute; font-size: 15px; color: var(--ap-ink);
  background: var(--ap-ground); padding: 2px 10px; border: 1px solid var(--ap-edge); }
.ap-panel ul.ap-list { margin: 4px 0; padding: 0; list-style: none; }
.ap-panel .ap-list li { margin: 2px 0; }
.ap-panel .ap-stop { border-left: 4px solid #d55e00; padding-left: 8px; }
.ap-panel .ap-fix { border-left: 4px solid #e69f00; padding-left: 8px; }
.ap-panel .ap-note, .ap-panel .ap-none { border-left: 4px solid var(--ap-edge); padding-left: 8px; }
.ap-panel .ap-words { display: none; margin-left: 12px; }
.ap-panel .ap-twin:has(details[open]) + .ap-words { display: block; }
.ap-panel .ap-words ul { margin: 2px 0; padding-left: 18px; }
.ap-panel .noUi-handle:focus-visible, .ap-panel summary:focus-visible { outline: 2px solid #0072b2; outline-offset: 2px; }
"""


def styled(css: str) -> widgets.HTML:
    """Some style, which may say DARK for a page in a dark theme, with that of the whole page; letters are kept from the notebook."""
    return widgets.HTML(f"<style>{(_PAGE + css).replace('DARK', _DARK)}</style>{_KEYS}")


def beside(controls: list, head: list, rest: list, wide: int) -> Any:
    """The widget of a panel: controls, beside them (or under them, where it is narrow) what comes of them.

    `head` stays in view while the controls are scrolled; `rest` follows it. `wide` is the picture's width in pixels.
    """

    def box(parts: list, name: str, **layout) -> widgets.VBox:
        made = widgets.VBox(parts, layout=widgets.Layout(**layout))
        made.add_class(name)
        return made

    shown = box([box(head, "ap-head"), box(rest, "ap-rest")], "ap-shown", max_width=f"{wide + 12}px")
    cols = widgets.HBox([box(controls, "ap-controls"), shown])
    cols.add_class("ap-cols")
    panel = widgets.VBox([styled(_STYLE), cols])
    panel.add_class("ap-panel")
    return panel


class Fold:
    """Rarer controls, or what need not be read at once, behind a button; `open` shows them, `offer` says what is there. `button` is the button's own layout."""

    def __init__(self, lines: list, words: str = "more …", *, name: str = "ap-more", **button):
        self._words = words
        self._box = widgets.VBox(lines)
        self._box.add_class(name)
        self._button = widgets.ToggleButton(icon="chevron-down", **button)
        self._button.observe(lambda _: self._show(), "value")
        self.parts = [self._button, self._box]
        self._show()

    def open(self) -> None:
        """Show the rarer controls."""
        self._button.value = True

    @property
    def closed(self) -> bool:
        """Whether something is behind the button that is not shown."""
        return bool(self._words) and not self._button.value

    def over(self, panel: Any) -> Fold:
        """The same over all of a panel; without words the panel stays as it is."""
        if not self._words:
            return self
        style, cols = panel.children
        fold = Fold([cols], self._words, name="ap-behind")
        panel.children = [style, *fold.parts]
        if self._button.value:
            fold.open()
        return fold

    def offer(self, words: str) -> None:
        """What stands on the button; without words there is no button, and nothing behind it."""
        self._words = words
        self._show()

    def _show(self) -> None:
        seen = self._button.value
        self._button.description, self._button.icon = ("less", "chevron-up") if seen else (self._words, "chevron-down")
        widgets.shown(self._button, bool(self._words))
        widgets.shown(self._box, bool(self._words) and seen)
