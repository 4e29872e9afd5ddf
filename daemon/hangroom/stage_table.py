"""What each stage of a room lets its relays do, and which setpoints it follows, as data."""

from collections.abc import Mapping
from types import MappingProxyType

from hangroom.terms import RelayKind, Stage

FANS = frozenset({RelayKind.EXHAUST_FAN, RelayKind.CIRCULATION_FAN})

# Casing dry: air moves all the time and no water is added, until the casing is dry to the touch
# (common practice, no source). Rest: the sticks equalise in moist, quiet air, so nothing is
# blown out. Empty: nothing hangs, nothing runs.
FORBIDDEN: Mapping[Stage, frozenset[RelayKind]] = MappingProxyType(
    {
        Stage.CASING_DRY: frozenset({RelayKind.HUMIDIFIER}),
        Stage.HANG: frozenset(),
        Stage.REST: frozenset({RelayKind.EXHAUST_FAN}),
        Stage.HOLD: frozenset(),
        Stage.EMPTY: frozenset(RelayKind),
    }
)
AIRS_ALL_THE_TIME = frozenset({Stage.CASING_DRY})

# The stages that follow a setpoint: while casings dry the room airs all the time.
FOLLOWS_HUMIDITY = frozenset({Stage.HANG, Stage.REST, Stage.HOLD})
FOLLOWS_TEMPERATURE = frozenset(Stage) - {Stage.EMPTY}
