"""Times in the log: UTC text of one width (so that it sorts), and the player's own offset."""

from datetime import UTC, date, datetime, timedelta, timezone

from labcore.exercises.past import aware


def now() -> datetime:
    """The present moment, with the machine's time zone."""
    return datetime.now().astimezone()


def utc_text(moment: datetime) -> str:
    """UTC to the millisecond.

    >>> utc_text(datetime(2026, 3, 2, 20, 0, tzinfo=timezone(timedelta(hours=1))))
    '2026-03-02T19:00:00.000'
    """
    return aware(moment).astimezone(UTC).replace(tzinfo=None).isoformat(timespec="milliseconds")


def offset_minutes(moment: datetime) -> int:
    """Minutes the player's clock is ahead of UTC."""
    return round((moment.utcoffset() or timedelta()).total_seconds() / 60.0)


def moment(text: str, *, offset_min: int = 0) -> datetime:
    """The moment that `utc_text` wrote, on the player's own clock."""
    utc = datetime.fromisoformat(text).replace(tzinfo=UTC)
    return utc.astimezone(timezone(timedelta(minutes=offset_min)))


def day_text(day: date | None) -> str | None:
    """A day as text, None stays None."""
    return None if day is None else day.isoformat()
