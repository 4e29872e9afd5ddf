"""Where a group stands in a line, from its stored forecast, else from its weights. Pure."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from hangroom.dates import say_hour, say_since
from hangroom.product.expected import OLD_AFTER, Range, group_range
from hangroom.product.forecast import Forecast


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is known of a group; yields in % of green weight.

    `forecast` None: none was made, else made at `made_at`, its hours counting from `hung_at`.
    `weighed_pct`: the mean at the newest look, at `weighed_at`; None where it was never weighed.
    """

    target_pct: float
    forecast: Forecast | None = None
    made_at: datetime | None = None
    hung_at: datetime | None = None
    weighed_pct: float | None = None
    weighed_at: datetime | None = None

    def live(self, now: datetime) -> Forecast | None:
        """Return the forecast, unless it is older than what may be said of now."""
        fresh = self.made_at is not None and now - self.made_at <= OLD_AFTER
        return self.forecast if fresh else None

    def now_h(self, now: datetime) -> float:
        """Return how many of the forecast's hours have passed."""
        return (now - (self.hung_at or now)) / timedelta(hours=1)

    def moment(self, at_h: float) -> datetime:
        """Return the moment of an hour of the forecast's."""
        if self.hung_at is None:
            raise ValueError("without a forecast no hour counts from anything")
        return self.hung_at + timedelta(hours=at_h)


def yield_now(standing: Standing, now: datetime) -> Range | None:
    """Return the group's mean yield now by its forecast; None without one, or where it is old."""
    forecast = standing.live(now)
    return None if forecast is None else group_range(forecast, now_h=standing.now_h(now))


def arrived(standing: Standing, now: datetime) -> bool:
    """Whether the target is behind, by the forecast or else by the newest weights."""
    foretold = yield_now(standing, now)
    pct = standing.weighed_pct if foretold is None else foretold.middle_pct
    return pct is not None and pct <= standing.target_pct


def near_by(standing: Standing, *, now: datetime, next_look_at: datetime) -> bool:
    """Whether the target is behind, or reached before the next look in 1 case of 10 or more."""
    if arrived(standing, now):
        return True
    forecast = standing.live(now)
    if forecast is None or forecast.p10_h is None:
        return False
    return standing.moment(forecast.p10_h) <= next_look_at


def say_standing(standing: Standing, *, zone: ZoneInfo, now: datetime) -> str:
    """Return yield and window in a sentence; what is missing is said to be."""
    return f"{_say_yield(standing, zone, now)}; {_say_window(standing, zone, now)}"


def _say_yield(standing: Standing, zone: ZoneInfo, now: datetime) -> str:
    foretold = yield_now(standing, now)
    if foretold is not None:
        return f"yield {foretold.middle_pct:.1f} ± {foretold.spread_pct:.1f} % of green weight"
    if standing.weighed_pct is None or standing.weighed_at is None:
        return "yield unknown, no stick was weighed yet"
    when = say_since(standing.weighed_at, zone, now=now)
    return f"yield {standing.weighed_pct:.1f} % of green weight when weighed ({when})"


def _say_window(standing: Standing, zone: ZoneInfo, now: datetime) -> str:
    target = f"target {standing.target_pct:g} %"
    if arrived(standing, now):
        return f"{target} is reached."
    forecast = standing.live(now)
    if forecast is None:
        missing = "no forecast yet" if standing.forecast is None else "the last forecast is old"
        return f"{target}, {missing}."
    if forecast.p50_h is None:
        return f"{target} is not reached in this air."

    def said(at_h: float) -> str:
        return say_hour(max(standing.moment(at_h), now), zone, now=now)

    latest = "open" if forecast.p90_h is None else said(forecast.p90_h)
    earliest = said(forecast.p50_h if forecast.p10_h is None else forecast.p10_h)
    return f"{target} likely {said(forecast.p50_h)}, 8 times in 10 between {earliest} and {latest}."
