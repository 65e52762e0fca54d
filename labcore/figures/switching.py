"""The note value over a whole take: what was planned, each wave, and how soon it was there."""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from labcore.beats import NOTE_VALUES
from labcore.figures import look
from labcore.figures.physics import Place, assembled, axes_at, label, time_row
from labcore.figures.strokes import Trace, stroke
from labcore.figures.writing import sounding_span_s
from labcore.findings.words import count, waves_later
from labcore.metre import find_beat
from labcore.model import Floats, Report
from labcore.switching import How, Plan, Switch, settled_waves, switches

SHOWN = (0.5, 8.2)  # waves to the click
ROW = Place("", (0.0, 1.0), (0.0, 1.0))
WORDS_Y = 7.5  # what is said of each change stands here
CLOSE_SHARE = 0.13  # of the picture: changes nearer than this are written on two lines


def switch_figure(report: Report, *, plan: Plan | None = None) -> go.Figure:
    """Each wave's own speed in waves to the click, filled where a note value is there.

    The plan is a broad pale step under the waves. A player's line runs through the picture.
    """
    beat = find_beat(report.task, clicks=report.take.clicks)
    end_s = report.take.facts.duration_s
    middle_s = np.array([(wave.start_s + wave.end_s) / 2.0 for wave in report.cycles])
    speed = np.array([(beat.step_s if beat else 1.0) / w.duration_s for w in report.cycles])
    settled = settled_waves(report, plan=plan)
    found = switches(report, plan=plan)
    traces: list[Trace] = [
        *_planned(plan or (), end_s=sounding_span_s(report)[1]),
        _dots(middle_s[~settled], speed[~settled], filled=False),
        _dots(middle_s[settled], speed[settled], filled=True),
        *[
            stroke([s.at_s, s.at_s], [SHOWN[0], 7.1], color=look.CLICK, width=1.5, dash="dash")
            for s in found
        ],
    ]
    layout = axes_at(ROW, x="seconds", y="waves to the click", x_range=(0.0, end_s), y_range=SHOWN)
    layout["yaxis"] = {**layout["yaxis"], "tickvals": list(NOTE_VALUES), "gridcolor": look.GRID}
    layout["annotations"] = _said(found, end_s=end_s)
    layout["meta"] = {"rows": [time_row(ROW, duration_s=end_s)]}
    return assembled(traces, layout=layout, height_px=400)


def switch_words(report: Report, *, plan: Plan | None = None) -> str:
    """What `switch_figure` shows, in a sentence."""
    found = switches(report, plan=plan)
    settled = settled_waves(report, plan=plan)
    told = "; ".join(
        f"from {s.from_value} to {s.to_value} at {s.at_s:.0f} s: {_short(s)}" for s in found
    )
    on = "all" if len(settled) and settled.all() else f"{int(settled.sum())} of them"
    waves = f"{count(len(report.cycles), 'wave')}, {on} on a note value"
    return f"{waves.capitalize()}. {told.capitalize() if told else 'No change was found'}."


def _planned(plan: Plan, *, end_s: float) -> list[Trace]:
    ends = [start_s for start_s, _ in plan[1:]] + [end_s]
    return [
        stroke([start_s, stop_s], [value, value], color=look.SKY, width=16.0, opacity=0.45)
        for (start_s, value), stop_s in zip(plan, ends, strict=False)  # no plan, no step
    ]


def _dots(x: Floats, y: Floats, *, filled: bool) -> Trace:
    shown = np.clip(y, SHOWN[0] + 0.1, 7.0)
    line = {"width": 1.8, "color": look.PITCH}
    marker = {"size": 9, "color": look.PITCH if filled else look.PAPER, "line": line}
    return {**stroke(x, shown), "mode": "markers", "marker": marker}


def _said(found: Sequence[Switch], *, end_s: float) -> list[dict[str, object]]:
    """What became of each change, over its line; neighbours that are close take turns in height."""
    written = []
    low = False
    for place, switch in enumerate(found):
        near = place > 0 and switch.at_s - found[place - 1].at_s < CLOSE_SHARE * end_s
        low = near and not low
        y = WORDS_Y - 0.42 if low else WORDS_Y + 0.1
        written.append(label(_short(switch), x=switch.at_s, y=y, size=look.SMALL_PX + 1))
    return written


def _short(switch: Switch) -> str:
    """A change in two or three words."""
    if switch.how is How.SWITCHED:
        return waves_later(switch.waves_until_locked or 0)
    if switch.how is How.OTHER:
        return f"{switch.played} instead of {switch.to_value}"
    return {
        How.DRIFTED: "slides",
        How.UNSETTLED: "no one speed",
        How.SILENT: "too few waves",
    }[switch.how]
