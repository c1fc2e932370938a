"""Build the reference pages of the public functions into ``.reference/``: formula, range, source and example of each.

    python .ci/reference.py            # needs pip install -e ".[docs]"

What is public is what ``aquaplumb.__all__`` names, wherever its module stands.
"""

import inspect
import re
import sys
from pathlib import Path
from types import ModuleType

import pdoc

import aquaplumb

FOLDER = Path(__file__).resolve().parents[1] / ".reference"


def shown() -> list[str]:
    """The front door and each public module, in pdoc's way of saying it, and nothing else below them."""
    public = {name: getattr(aquaplumb, name) for name in aquaplumb.__all__}
    vars(aquaplumb).update(public)  # pdoc reads what is there, and these come when first asked for
    names = sorted(thing.__name__ for thing in public.values() if isinstance(thing, ModuleType))
    return ["aquaplumb", r"!aquaplumb\..*", *(part for name in names for part in (name, rf"!{name}\..*"))]


def plainly(annotation, *, written=inspect.formatannotation, **options) -> str:
    """An annotation without its kind, which the list of parameters tells with its unit."""
    return re.sub(r"(?:typing\.)?Annotated\[([^\[\]]+), Kind\(.*?\)\]", r"\1", written(annotation, **options)).replace(
        "pint.Quantity", "Quantity"
    )


def main(folder: Path = FOLDER) -> int:
    pdoc.doc.formatannotation = inspect.formatannotation = plainly
    pdoc.render.configure(docformat="numpy", math=True, show_source=False)
    pdoc.pdoc(*shown(), output_directory=folder)
    print(f"{folder / 'index.html'}: {len(list(folder.rglob('*.html')))} pages")
    return 0


if __name__ == "__main__":
    sys.exit(main(*map(Path, sys.argv[1:])))
