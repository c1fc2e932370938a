"""What stands behind a page's gate: the guess answered on the demo's case, then the learner's own build."""

from __future__ import annotations

from aquaplumb.figures.style import Picture, plain, rich


class Sight:
    """The picture of the case that was guessed about, and then the build's own, with a sentence on why they differ."""

    def __init__(self, guessed: Picture, why: str, own: Picture):
        self.guessed, self.why, self.own = guessed, why, own

    def _ipython_display_(self):
        from IPython.display import publish_display_data

        publish_display_data(
            {"text/html": "<p><b>The case that you guessed about:</b></p>", "text/plain": "The case that you guessed about:"}
        )
        self.guessed._ipython_display_()
        yours = f"**And yours?** {self.why}"
        publish_display_data({"text/html": f"<p>{rich(yours)}</p>", "text/plain": plain(yours)})
        self.own._ipython_display_()

    def __repr__(self):
        return f"{self.guessed!r}\nAnd yours? {self.why}\n{self.own!r}"
