"""The forecast of one group. It loads numpy: for short-lived children only."""

from hangroom.forecast.forecaster import forecast, learned_from

__all__ = ["forecast", "learned_from"]
