"""The operating day: when it ends, in UTC."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from signals.venue.model import Operating


def day_end_after(operating: Operating, now_ms: int) -> int:
    """Give the next end of the operating day after `now_ms`, both UTC ms."""
    zone = ZoneInfo(operating.timezone)
    now = datetime.fromtimestamp(now_ms / 1000, UTC).astimezone(zone)
    ends = time.fromisoformat(operating.day_ends)
    days = (now.date() + timedelta(days=ahead) for ahead in range(3))
    moments = (datetime.combine(day, ends, zone) for day in days)
    return next(at for moment in moments if (at := round(moment.timestamp() * 1000)) > now_ms)


def day_of(operating: Operating, now_ms: int) -> str:
    """Give the operating day that `now_ms` (UTC ms) lies in, as the local date on which it began."""
    zone = ZoneInfo(operating.timezone)
    now = datetime.fromtimestamp(now_ms / 1000, UTC).astimezone(zone)
    before = now.time() < time.fromisoformat(operating.day_ends)
    return (now.date() - timedelta(days=before)).isoformat()
