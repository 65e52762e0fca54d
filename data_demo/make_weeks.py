"""Make the demo log: six weeks of bench 6 with every finger, as a log is exported.

    python data_demo/make_weeks.py

Each take is described and sounded as in `make_takes`, heard and judged by the whole chain, kept in
a log and forgotten as sound. What is left is `bench6_weeks.json`: numbers and words, no sound.
Bench 6 and the boathouse in Tarnwick are invented.
"""

import json
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from make_takes import BEND, THIRD_AT_9, form_take, seed_of

from labcore.analysis import hear, judge
from labcore.practice_log import open_log
from labcore.synthesis import Playing, synthesise

OUT = Path(__file__).with_name("bench6_weeks.json")
FIRST_EVENING = datetime(2026, 3, 3, 19, 30, tzinfo=timezone(timedelta(hours=1)))
# Kept of each take: what lesson 09 shows, to keep the file small.
KEPT = (
    "returned_share", "return_to_pitch", "direction", "extent", "extent_evenness", "time_evenness",
    "asynchrony", "lock", "rate", "rate_error", "cycles_per_beat", "plain_note",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Evening:
    """One take: on which day, with which finger, and how it was played."""

    day: int
    finger: int
    short_cents: float  # how far from home the waves stop
    width_percent: float
    time_percent: float


# Days 0 to 40 from 3 March. Finger 3 settles; week 4 is a rest week, with two takes; fingers 1
# and 2 come later and are rougher; finger 4 is tried once.
EVENINGS = (
    *(Evening(day, 3, 30.0 - 2.0 * i, 16.0, 6.5) for i, day in enumerate((0, 1, 3, 4, 5))),
    *(Evening(day, 3, 20.0 - 2.5 * i, 14.0, 5.5) for i, day in enumerate((7, 8, 10, 11, 12))),
    *(Evening(day, 3, 9.0 - 1.5 * i, 11.0, 4.5) for i, day in enumerate((14, 15, 17, 18))),
    *(Evening(day, 1, 16.0, 15.0, 6.0) for day in (16, 19)),
    *(Evening(day, 3, 6.0, 9.0, 4.0) for day in (22, 25)),
    *(Evening(day, 3, 3.0, 8.0, 3.5) for day in (28, 29, 31, 32, 33)),
    *(Evening(day, 1, 9.0, 12.0, 5.0) for day in (29, 31, 33)),
    *(Evening(day, 2, 12.0, 13.0, 5.5) for day in (30, 32)),
    *(Evening(day, 3, 1.0, 6.0, 3.0) for day in (35, 36, 38, 39)),
    *(Evening(day, 1, 6.0, 10.0, 4.5) for day in (37, 40)),
    *(Evening(day, 2, 8.0, 11.0, 5.0) for day in (36, 39)),
    Evening(40, 4, 22.0, 20.0, 8.0),
)


def report_of(number: int, evening: Evening):
    """A take as played that evening, heard and judged."""
    name = f"bench6_week_take{number}"
    playing = Playing(
        cycles_per_beat=(3, 3),
        return_cents=evening.short_cents,
        return_spread_cents=3.0,
        extent_spread_percent=evening.width_percent,
        time_spread_percent=evening.time_percent,
        extent_cents=48.0,
    )
    context = replace(THIRD_AT_9, finger=evening.finger)
    take = form_take(name, playing, says="", context=context)
    recording, _ = synthesise(take, rng=np.random.default_rng(seed_of(name)))
    return judge(hear(recording), BEND, context=replace(context, player="bench 6"))


def main() -> None:
    """Keep every take in a log, and write the log out."""
    with TemporaryDirectory() as folder:
        log = open_log(Path(folder) / "log.sqlite")
        for number, evening in enumerate(EVENINGS):
            when = FIRST_EVENING + timedelta(days=evening.day, minutes=number % 7)
            log.add(report_of(number, evening), recorded=when)
            print(f"{number + 1} of {len(EVENINGS)}")
        log.describe("bench 6", instrument="solid body, six strings", strings="0.010 to 0.046")
        whole = json.loads(log.export_json(Path(folder) / "log.json").read_text(encoding="utf-8"))
    tables = whole["tables"]
    tables["measure"] = [row for row in tables["measure"] if row["name"] in KEPT]
    for table in ("note", "turn", "plain_part"):
        tables[table] = []
    tables["finding"] = [row | {"evidence": ""} for row in tables["finding"]]
    text = json.dumps(_rounded(whole), ensure_ascii=False, separators=(",", ":"))
    for number, row in enumerate(tables["take"]):
        text = text.replace(row["take_id"], f"b6-{number:02}")  # short, and alike at every run
    text = text.replace(tables["player"][0]["player_id"], "b6")
    OUT.write_text(text + "\n", encoding="utf-8")


def _rounded(value):
    """Numbers to five significant figures: more would only fill the file."""
    if isinstance(value, float):
        return float(f"{value:.5g}")
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_rounded(inner) for inner in value]
    return value


if __name__ == "__main__":
    main()
