"""What the take panel does when the reader wants a take kept in the practice log."""

from collections.abc import Callable

from labcore.errors import LabError
from labcore.model import Recording, Report
from labcore.practice_log import PracticeLog

Keep = Callable[[Recording, Report], str]


def keep_in(
    log: PracticeLog | Callable[[], PracticeLog],
    *,
    player: str = "",
    exercise: str | None = None,
    with_sound: bool = False,
) -> Keep:
    """A function that keeps a take and says what was kept, for `PanelExtras.keep`.

    ``log`` may be `labcore.practice_log.open_log` itself: then nothing is opened, and no file is
    made, before something is kept. ``player`` is who played, where the report does not say it;
    with neither, keeping raises a `LabError`.
    """

    def keep(recording: Recording, report: Report) -> str:
        label = report.context.player or player
        if not label:
            raise LabError(
                "Write a nickname under “string, fret, finger, technique” first; the log keeps "
                "takes by nickname. No surnames are needed."
            )
        kept_in = log if isinstance(log, PracticeLog) else log()
        sound = recording if with_sound else None
        kept_in.add(report, player=label, exercise=exercise, sound=sound)
        kept = "with its sound" if with_sound else "its numbers only, no sound"
        return f"Kept for “{label}” in the log of this computer, {kept}."

    return keep
