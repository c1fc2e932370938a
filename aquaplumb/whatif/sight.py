"""What stands behind a page's gate: the guess answered on the demo's case, then the learner's own build."""

from __future__ import annotations

from aquaplumb.figures.style import Picture, plain, rich


class Sight:
    """The picture of the case that was guessed about, and then the build's own, with a sentence on why they differ."""

    def __init__(self, guessed: Picture, why: str, own: Picture):
        self.guessed, self.why, self.own, self.look = guessed, why, own, guessed.look
        self.alike = repr(guessed) == repr(own)  # who has no file yet may have the demo of the guess
        if self.alike:
            self.why = f"{why} Yours is the demo: the picture above is yours, too."
            self.look = guessed.look or own.look

    def _ipython_display_(self):
        from IPython.display import publish_display_data

        publish_display_data(
            {"text/html": "<p><b>The case that you guessed about:</b></p>", "text/plain": "The case that you guessed about:"}
        )
        self.guessed.display(self.look)
        yours = f"**And yours?** {self.why}"
        publish_display_data({"text/html": f"<p>{rich(yours)}</p>", "text/plain": plain(yours)})
        if not self.alike:
            self.own._ipython_display_()

    def __repr__(self):
        return "\n".join([repr(self.guessed), f"And yours? {self.why}", *([] if self.alike else [repr(self.own)])])
