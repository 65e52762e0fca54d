"""What can be said of the changes of note value in a take.

A change is settled where the new speed is there within a beat, and late beyond what
`labcore.beats.switch_beats` gives it.
"""

from collections.abc import Sequence

from labcore.beats import switch_beats
from labcore.findings import bands, words
from labcore.findings.bands import verdict
from labcore.findings.choice import GATES
from labcore.model import Finding, Measure, Report, Verdict
from labcore.switching import HeldStretch, How, Plan, Switch, held_stretches, switches


def switch_findings(report: Report, *, plan: Plan | None = None) -> tuple[Finding, ...]:
    """What was heard of the changes of note value, most telling first; empty where there is none.

    Without a ``plan`` (see `labcore.switching.switches`) only changes that were played are
    spoken of, and none at all where one note value was asked for the whole take.
    """
    if _gated(report) or (plan is None and report.task.cycles_per_beat is not None):
        return ()
    found = switches(report, plan=plan)
    if not found:
        return ()
    others = [_other(switch, planned=plan is not None) for switch in found]
    uneven = [f for held in held_stretches(report, plan=plan) for f in _uneven(held)]
    return (*_switched(found), *[f for f in others if f is not None], *uneven)


def _gated(report: Report) -> bool:
    return any(f.kind in GATES and f.verdict is Verdict.NOT_ENOUGH for f in report.findings)


# --- changes that were made --------------------------------------------------------------------


def _switched(found: Sequence[Switch]) -> list[Finding]:
    """The changes that were there within a beat together, and the slowest of the others."""
    made = [switch for switch in found if switch.how is How.SWITCHED]
    soon = [switch for switch in made if _verdict(switch) is Verdict.SETTLED]
    slow = sorted(
        (switch for switch in made if switch not in soon),
        key=lambda switch: (_verdict(switch) is Verdict.WORK, _beats(switch)),
    )
    praise = [_praise(soon, of=len(found))] if soon else []
    return praise + ([_slow(slow[-1])] if slow else [])


def _beats(switch: Switch) -> float:
    return switch.beats_until_locked or 0.0


def _verdict(switch: Switch) -> Verdict:
    """The band, the count of waves being known to one wave."""
    if _beats(switch) <= bands.SWITCHED_BEATS:
        return Verdict.SETTLED
    least = _beats(switch) - (switch.wave_beats or 0.0)
    late = least > switch_beats(switch.from_value, switch.to_value)
    return Verdict.WORK if late else Verdict.NEARLY


def _praise(soon: Sequence[Switch], *, of: int) -> Finding:
    evidence = "; ".join(_evidence(switch) for switch in soon)
    if of == 1:
        (only,) = soon
        sentence = words.SWITCH_ONE.format(
            **_names(only), soon=words.waves_later(only.waves_until_locked or 0)
        )
    elif len(soon) == of:
        changes = words.capital(words.count(of, "change"))
        sentence = words.SWITCH_ALL.format(changes=changes)
    else:
        some = words.capital(words.number(len(soon)))
        was = "was" if len(soon) == 1 else "were"
        sentence = words.SWITCH_SOME.format(some=some, changes=words.count(of, "change"), was=was)
    return Finding("switching", Verdict.SETTLED, sentence, evidence)


def _slow(switch: Switch) -> Finding:
    sentence = words.SWITCH_SLOW.format(
        **_names(switch),
        waves=words.count(switch.waves_until_locked or 0, "wave"),
        beats=words.beats(_beats(switch)),
    )
    return Finding("switching", _verdict(switch), sentence, _evidence(switch))


def _names(switch: Switch) -> dict[str, str]:
    return {"old": words.number(switch.from_value), "new": words.number(switch.to_value)}


def _evidence(switch: Switch) -> str:
    return (
        f"from {switch.from_value} to {switch.to_value} at {switch.at_s:.1f} s: "
        f"{words.count(switch.waves_until_locked or 0, 'wave')}, {_beats(switch):.1f} beats"
    )


# --- changes that were not ---------------------------------------------------------------------


def _other(switch: Switch, *, planned: bool) -> Finding | None:
    names, evidence = _names(switch), f"looked at from {switch.at_s:.1f} s on"
    if switch.how is How.DRIFTED:
        if planned:
            sentence = words.SWITCH_SLIDES.format(**names)
            return Finding("switch_slides", Verdict.WORK, sentence, evidence)
        sentence = words.SWITCH_SLIDES_FREE.format(**names)
        return Finding("switch_slides", Verdict.NOT_ENOUGH, sentence, evidence)
    if switch.how is How.OTHER and switch.played is not None:
        sentence = words.SWITCH_OTHER.format(
            played=words.capital(words.number(switch.played)), asked=names["new"]
        )
        return Finding("switch_value", Verdict.WORK, sentence, evidence)
    unsaid = {How.UNSETTLED: words.SWITCH_UNSETTLED, How.SILENT: words.SWITCH_FEW}.get(switch.how)
    if unsaid is None:
        return None
    return Finding("switching", Verdict.NOT_ENOUGH, unsaid.format(**names), evidence)


# --- evenness of one stretch -------------------------------------------------------------------


def _uneven(held: HeldStretch) -> list[Finding]:
    """Only what is clearly uneven is said of a single stretch."""
    if held.value is None:
        return []
    rows = (
        ("even_width", held.measures.extent_evenness, bands.WIDTH_PERCENT,
         words.SWITCH_WIDTH_UNEVEN),
        ("even_time", held.measures.time_evenness, bands.TIME_PERCENT, words.SWITCH_TIME_UNEVEN),
    )  # fmt: skip
    return [
        _uneven_finding(kind, measure, held.value, form)
        for kind, measure, band, form in rows
        if measure is not None
        and measure.n >= bands.LEAST_WAVES
        and verdict(measure, settled=band[0], work=band[1]) is Verdict.WORK
    ]


def _uneven_finding(kind: str, measure: Measure, value: int, form: str) -> Finding:
    sentence = form.format(value=words.number(value), percent=words.percent(measure.value))
    evidence = f"spread of {measure.value:.0f} % over {measure.n} waves at {value} to the click"
    return Finding(kind, Verdict.WORK, sentence, evidence)
