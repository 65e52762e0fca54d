"""Open the lessons: ``python -m labcore``. Further arguments go to JupyterLab.

    python -m labcore --no-browser --port=8890

JupyterLab runs with settings of our own, kept in ``labcore/lab``: put before the reader's, never
written over them. One of them runs a lesson when it is opened, so that its pictures stand there;
another keeps them out of its file.
"""

import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from labcore.errors import LabError

HERE = Path(__file__).parent
SETTINGS = HERE / "lab"
START = "00_start_here.ipynb"
SAVING = "--ContentsManager.pre_save_hook=labcore.lab.saving.keep_what_was_written"


def find_lessons(places: Sequence[Path]) -> Path:
    """The first notebooks folder that holds the start lesson.

    Raises
    ------
    LabError
        None of the places has one.
    """
    for place in places:
        if (place / "notebooks" / START).is_file():
            return (place / "notebooks").absolute()
    raise LabError(
        f"The lessons were not found: there is no folder “notebooks” with {START} in it. Go to "
        "the folder that was cloned and start “python -m labcore” there."
    )


def arguments_for(lessons: Path, *, more: Sequence[str], is_root: bool) -> list[str]:
    """What JupyterLab is started with: the start lesson alone on the page, then what was added."""
    return [
        f"--ServerApp.root_dir={lessons.parent}",
        f"--LabApp.default_url=/doc/tree/{lessons.name}/{START}",
        "--LabApp.check_for_updates_class=jupyterlab.handlers.announcements.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
        f"--LabApp.extra_labextensions_path={SETTINGS / 'labextensions'}",
        SAVING,
        *(["--allow-root"] if is_root else []),
        *more,
    ]


def with_settings(environment: Mapping[str, str]) -> dict[str, str]:
    """The environment with our settings found before the reader's own."""
    before = environment.get("JUPYTER_CONFIG_PATH")
    paths = [str(SETTINGS), *([before] if before else [])]
    return {**environment, "JUPYTER_CONFIG_PATH": os.pathsep.join(paths)}


def main() -> int:
    """Start JupyterLab on the start lesson; the exit code is 2 when there are no lessons."""
    try:
        lessons = find_lessons([HERE.parent, Path()])
    except LabError as error:
        print(error, file=sys.stderr)
        return 2
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    os.environ.update(with_settings(os.environ))
    from jupyterlab.labapp import LabApp  # it reads the environment when it is imported

    LabApp.launch_instance(argv=arguments_for(lessons, more=sys.argv[1:], is_root=is_root))
    return 0


if __name__ == "__main__":
    sys.exit(main())
