"""Two ways of finishing sticks, as ranges that batches are drawn from. All of it is invented."""

from dataclasses import dataclass

Range = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Regime:
    """`arrives_h`: where a true arrival lies outside, another target is drawn.

    `step_*`: size of a planned step, up or down. `hump_pct`: how much moister it starts.
    """

    name: str
    temperature_c: Range
    humidity_pct: Range
    arrives_h: Range
    target_on_hung_ratio: Range
    first_look_h: Range
    look_every_h: Range
    step_at_h: Range
    step_temperature_c: Range
    step_humidity_pct: Range
    hump_pct: Range
    compressor: bool


COOL = Regime(
    name="cool",
    temperature_c=(5.0, 15.0),
    humidity_pct=(60.0, 80.0),
    arrives_h=(72.0, 336.0),
    target_on_hung_ratio=(0.62, 0.85),
    first_look_h=(18.0, 30.0),
    look_every_h=(22.0, 26.0),
    step_at_h=(60.0, 108.0),
    step_temperature_c=(0.0, 4.0),
    step_humidity_pct=(4.0, 10.0),
    hump_pct=(3.0, 12.0),
    compressor=True,
)
ROOM = Regime(
    name="room",
    temperature_c=(17.0, 23.0),
    humidity_pct=(45.0, 66.0),
    arrives_h=(12.0, 90.0),
    target_on_hung_ratio=(0.65, 0.92),
    first_look_h=(7.0, 14.0),
    look_every_h=(10.0, 14.0),
    step_at_h=(18.0, 44.0),
    step_temperature_c=(0.0, 3.0),
    step_humidity_pct=(6.0, 15.0),
    hump_pct=(2.0, 15.0),
    compressor=False,
)
REGIMES = {regime.name: regime for regime in (COOL, ROOM)}
