"""What each stage of a room lets its relays do."""

from hangroom.terms import RelayKind, Stage

# Casing dry: air moves all the time and no water is added, until the casing is dry to the touch
# (common practice, no source). Rest: the sticks equalise in moist, quiet air, so nothing is
# blown out. Empty: nothing hangs, nothing runs.
FORBIDDEN = {
    Stage.CASING_DRY: frozenset({RelayKind.HUMIDIFIER}),
    Stage.HANG: frozenset[RelayKind](),
    Stage.REST: frozenset({RelayKind.EXHAUST_FAN}),
    Stage.HOLD: frozenset[RelayKind](),
    Stage.EMPTY: frozenset(RelayKind),
}

AIRS_ALL_THE_TIME = frozenset({Stage.CASING_DRY})
