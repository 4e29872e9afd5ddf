"""Forecasts of what hangs: questions out of the store, asked of a child, answers into the store.

Read `desk.py` first. Nothing here runs in the loop's thread, and nothing here computes a forecast.
"""

from hangroom.forecasting.child import Child
from hangroom.forecasting.desk import Forecasts
from hangroom.forecasting.humidity_plans import HumidityPlans

__all__ = ["Child", "Forecasts", "HumidityPlans"]
