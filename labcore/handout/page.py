"""Sheets to one HTML file that opens without a network, and to PDF where there is a Chromium."""

import os
import shutil
import subprocess
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources
from pathlib import Path
from secrets import token_hex
from tempfile import TemporaryDirectory
from types import MappingProxyType

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from labcore.errors import LabError
from labcore.exercises.ladder import drill_minutes
from labcore.handout.drawing import hand_svg, take_svg
from labcore.handout.sheet import Sheet
from labcore.paths import given_path, write_whole

# ISO 216 and ANSI/ASME Y14.1 (both from memory).
PAPERS: Mapping[str, str] = MappingProxyType({"A4": "210mm 297mm", "Letter": "8.5in 11in"})
CHROMIUM_NAMES = ("chromium", "chromium-browser", "chrome")
CHROMIUM_VARIABLE = "LABCORE_CHROMIUM"  # the path of a Chromium in an unusual place
PRINT_S = 120.0
NOT_PRINTED = "The page could not be printed. Open the HTML file in a browser and print it there."


def handout_html(sheets: Sequence[Sheet], *, paper: str = "A4") -> str:
    """Sheets as one page of HTML each, in one text that needs nothing else.

    ``paper`` is 'A4' or 'Letter'. Everything that a user wrote is escaped.
    """
    if paper not in PAPERS:
        raise LabError(f"The paper is {paper!r}; choose {' or '.join(PAPERS)}.")
    if not sheets:
        raise LabError("There is no sheet to write. Make at least one; a blank one will do.")
    template = _environment().get_template("sheet.html")
    return template.render(sheets=sheets, paper=paper, size=PAPERS[paper])


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("labcore.handout", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals |= {
        "tile": tile_svg,
        "take_svg": take_svg,
        "hand_svg": hand_svg,
        "drill_minutes": drill_minutes,
    }
    return environment


@cache
def tile_svg(waves: int) -> Markup:
    """The engraved bar of a note value (0: a plain note)."""
    folder = resources.files("labcore.handout.tiles")
    return Markup(folder.joinpath(f"bar{waves}.svg").read_text(encoding="utf-8"))


def write_handout(
    path: str | os.PathLike[str], *, sheets: Sequence[Sheet], paper: str = "A4"
) -> Path:
    """Write the sheets to an HTML file and return its path."""
    place = given_path(path)
    write_whole(place, text=handout_html(sheets, paper=paper), what="The sheet")
    return place


def find_chromium() -> str | None:
    """A Chromium of this computer, or None."""
    given = os.environ.get(CHROMIUM_VARIABLE)
    if given:
        return given if Path(given).is_file() else None
    return next((found for name in CHROMIUM_NAMES if (found := shutil.which(name))), None)


def print_pdf(
    html: str | os.PathLike[str], *, to: str | os.PathLike[str] | None = None
) -> Path | None:
    """Print an HTML file to a PDF beside it; None where there is no Chromium.

    Without one, open the HTML file in any browser and print it from there.

    Raises
    ------
    LabError
        There is no such file, or it could not be printed; a PDF printed before stays.
    """
    source, chromium = given_path(html).resolve(), find_chromium()
    if not source.is_file():
        raise LabError(f"There is no file {source}. Write the sheet first.")
    if chromium is None:
        return None
    target = source.with_suffix(".pdf") if to is None else given_path(to).resolve()
    unfinished = target.with_name(f"unfinished-{token_hex(8)}.pdf")
    try:
        with TemporaryDirectory() as folder:
            _run_chromium(chromium, source=source, target=unfinished, folder=folder)
        unfinished.replace(target)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise LabError(NOT_PRINTED) from error
    finally:
        unfinished.unlink(missing_ok=True)
    return target


def _run_chromium(chromium: str, *, source: Path, target: Path, folder: str) -> None:
    options = [
        "--headless",
        "--disable-gpu",
        "--no-first-run",
        "--disable-background-networking",
        "--no-pdf-header-footer",
        f"--user-data-dir={folder}",
        f"--print-to-pdf={target}",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.append("--no-sandbox")  # it refuses to run for the administrator otherwise
    command = [chromium, *options, source.as_uri()]
    subprocess.run(command, check=False, capture_output=True, timeout=PRINT_S)
