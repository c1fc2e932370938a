"""What the printed pages share: their style, their paper, and where they are written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from aquaplumb.units import DesignError
from aquaplumb.workshop.sheet import saving
from aquaplumb.workshop.sheet.web_page import PAPERS


def template(name: str):
    """One of the templates beside this module; all that is put into it is escaped, unless it is marked as ours."""
    import jinja2

    place = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent),
        autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined,
    )  # fmt: skip
    return place.get_template(name)


def ours(html: str):
    """Text of our own making, which a template does not escape."""
    from markupsafe import Markup

    return Markup(html)


def paper_for(paper: str, units: str) -> str:
    """The paper that was asked for, else letter for US units and A4 for metric ones.

    Raises
    ------
    DesignError
        Where the paper is not known.
    """
    if paper and paper not in PAPERS:
        raise DesignError(f"there is no paper '{paper[:40]}'; there is {' and '.join(PAPERS)}.")
    return paper or ("letter" if units == "US" else "A4")


def page_file(out: str) -> Path:
    """Where one page goes.

    Raises
    ------
    DesignError
        Where the name is not that of a page.
    """
    path = Path(out)
    if path.suffix.lower() not in (".html", ".htm"):
        raise DesignError(f"'{path.name}' does not say that it is a page; end it in .html.")
    return path


def written(folder: Path, files: Mapping[str, str | bytes], *, force: bool = False) -> list[Path]:
    """Write pages and PDFs into a folder, which is made where it is not there; never over a file that somebody has written in.

    Raises
    ------
    DesignError
        Where the folder cannot be made, or a file is there that is not as it was saved here.
    """
    free(folder, files, force=force)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise DesignError(f"the folder {folder.name} cannot be made: {wrong.strerror}; name another.") from None
    for name, made in files.items():
        stamped = saving.stamped(made, pdf=True) if isinstance(made, bytes) else saving.stamped(made.encode("utf-8"))
        saving.save(folder / name, stamped, force=True)
    return [folder / name for name in files]


def free(folder: Path, names: Iterable[str], *, force: bool = False) -> None:
    """Refuse a folder that is a file, or in which one of these is there and is not as it was saved here.

    Raises
    ------
    DesignError
        Where it is so.
    """
    if folder.is_file():
        raise DesignError(f"{folder.name} is a file, not a folder; name a folder for the pages.")
    for name in names:
        _refuse(folder / name, force)


def _refuse(path: Path, force: bool) -> None:
    if path.is_dir():
        raise DesignError(f"{path.name} is a folder; move it away, or name another place.")
    if path.exists() and not force and not saving.is_ours(path):
        raise DesignError(f"{path.name} is there already and is not as it was saved here; give another name, or add --force to replace it.")
