"""Moments in time as the casebook keeps them: UTC, to the microsecond, as text."""

from datetime import UTC, datetime


def now() -> datetime:
    """The present moment, aware, in UTC."""
    return datetime.now(UTC)


def to_text(moment: datetime) -> str:
    """ISO 8601 text of fixed width in UTC, so that text order is time order.

    Raises `ValueError` for a moment without a time zone: nobody could say when it was.

    >>> from datetime import timedelta, timezone
    >>> to_text(datetime(2024, 2, 29, 14, 35, tzinfo=timezone(timedelta(hours=2))))
    '2024-02-29T12:35:00.000000+00:00'
    """
    if moment.utcoffset() is None:
        raise ValueError(f"{moment.isoformat()} has no time zone; give one, such as UTC.")
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def from_text(text: str) -> datetime:
    """The moment that `to_text` wrote, aware, in UTC.

    >>> from_text("2024-02-29T12:35:00.000000+00:00")
    datetime.datetime(2024, 2, 29, 12, 35, tzinfo=datetime.timezone.utc)
    """
    return datetime.fromisoformat(text)
