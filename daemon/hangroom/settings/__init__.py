"""The settings file: what may stand in it, and how it is read."""

from hangroom.settings.read import check_settings, read_settings
from hangroom.settings.sensors import SensorTable
from hangroom.settings.tables import OutsideTable, RoomTable, Settings

__all__ = [
    "OutsideTable",
    "RoomTable",
    "SensorTable",
    "Settings",
    "check_settings",
    "read_settings",
]
