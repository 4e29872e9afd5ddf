"""What the Setup page says of sensors, relays, limits and settings, in words. Pure."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from hangroom.air import SALTS, Salt, salt_humidity_pct
from hangroom.product.daily_work import salt_check_is_due
from hangroom.product.findings import Source
from hangroom.settings import RoomTable
from hangroom.settings.food_limits import COLD_HOLDING, FREEZING, WARM_HANGING
from hangroom.terms import Calibration, RelayKind, RelayRules, Stage
from hangroom.units import Units, say_duration, say_temperature
from hangroom_web.stages import STAGE_NAMES, say_band_c, say_band_pct
from hangroom_web.words import _

# The two that are easiest to come by stand first.
SALT_NAMES = {
    Salt.SODIUM_CHLORIDE: _("Table salt, sodium chloride"),
    Salt.MAGNESIUM_CHLORIDE: _("Magnesium chloride"),
    Salt.POTASSIUM_CHLORIDE: _("Potassium chloride"),
    Salt.POTASSIUM_CARBONATE: _("Potassium carbonate, potash"),
    Salt.MAGNESIUM_NITRATE: _("Magnesium nitrate"),
    Salt.POTASSIUM_SULPHATE: _("Potassium sulphate"),
    Salt.LITHIUM_CHLORIDE: _("Lithium chloride"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A food limit of a room with where it comes from."""

    said: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SaltOver:
    """A salt, and the humidity over it at some temperature, as far as its table reaches."""

    salt: Salt
    name: str
    known_pct: float | None
    bound_pct: float | None


def salts_over(temperature_c: float) -> list[SaltOver]:
    """Return every salt with what the air over it reads at a temperature."""
    return [
        SaltOver(
            salt=salt,
            name=name,
            known_pct=salt_humidity_pct(salt, temperature_c)
            if 0.0 <= temperature_c <= SALTS[salt].highest_c
            else None,
            bound_pct=SALTS[salt].bound_pct,
        )
        for salt, name in SALT_NAMES.items()
    ]


def say_calibration(calibration: Calibration | None, *, now: datetime) -> str:
    """Return what a sensor's calibration does and how old it is."""
    if calibration is None:
        return _("Never checked over a salt here: its own reading counts.")
    age = _say_days(now - calibration.checked_at)
    if calibration.gain_ratio == 1.0:
        said = _("{offset:+.1f} % is added to what it reads").format(offset=calibration.offset_pct)
    else:
        said = _("What it reads counts {gain:.3f} times, and {offset:+.1f} % is added").format(
            gain=calibration.gain_ratio, offset=calibration.offset_pct
        )
    return _("{said}; last checked {age} ago.").format(said=said, age=age)


def is_due(calibration: Calibration | None, *, now: datetime) -> bool:
    """Return whether a sensor should be checked over a salt: never was, or too long ago."""
    return salt_check_is_due(calibration.checked_at if calibration else None, now=now)


def _say_days(age: timedelta) -> str:
    days = age.days
    return _("1 day") if days == 1 else _("{days} days").format(days=days)


def say_rules(rules: RelayRules) -> list[str]:
    """Return a relay's rules, a sentence each."""
    told = [
        _("Runs at least {on} and rests at least {off}").format(
            on=say_duration(rules.min_on_s), off=say_duration(rules.min_off_s)
        )
    ]
    if rules.max_starts_per_h is not None:
        told.append(
            _("Starts at most {starts} times an hour").format(starts=rules.max_starts_per_h)
        )
    locks = []
    if rules.max_run_s is not None:
        locks.append(_("{run} without a pause").format(run=say_duration(rules.max_run_s)))
    if rules.max_on_s_per_h is not None:
        locks.append(_("{run} in an hour").format(run=say_duration(rules.max_on_s_per_h)))
    if locks:
        told.append(
            _("Locked out for {lockout} after {locks}").format(
                lockout=say_duration(rules.lockout_s), locks=_(" or ").join(locks)
            )
        )
    return told


def food_limits(table: RoomTable, units: Units) -> list[Limit]:
    """Return where a room's air counts as too warm and too cold for food, and by which source."""
    limits = table.temperature_limits()
    own = table.food_limits
    return [
        Limit(
            said=_("Too warm at {limit}").format(limit=say_temperature(limits.high_c, units)),
            source=_source(limits.high_c, own=own.high_c is not None),
        ),
        Limit(
            said=_("Too cold at {limit}").format(limit=say_temperature(limits.low_c, units)),
            source=_source(limits.low_c, own=own.low_c is not None),
        ),
    ]


def _source(limit_c: float, *, own: bool) -> str:
    if own:
        return _("your own figure, in the settings")
    published = next(
        one for one in (COLD_HOLDING, WARM_HANGING, FREEZING) if one.limit_c == limit_c
    )
    return say_source(published.source)


def say_source(source: Source) -> str:
    """Return where a figure comes from, and how surely it was read."""
    if not source.cites:
        return str(source.standing)
    return _("{cites} ({standing})").format(cites=source.cites, standing=source.standing)


def say_room(table: RoomTable, units: Units) -> list[tuple[str, str]]:
    """Return a room's settings as (what, value), in words."""
    told = [(_("Stage at the start"), STAGE_NAMES[Stage(table.stage)])]
    if table.temperature is not None:
        t = table.temperature
        told.append(
            (
                _("Temperature"),
                _("{wanted}; hard limits {low} and {high}").format(
                    wanted=say_band_c(t.setpoint_c, t.band_c, units),
                    low=say_temperature(t.low_limit_c, units),
                    high=say_temperature(t.high_limit_c, units),
                ),
            )
        )
    if table.humidity is not None:
        h = table.humidity
        told.append(
            (
                _("Humidity"),
                _("{wanted}; hard limits {low:g} % and {high:g} %").format(
                    wanted=say_band_pct(h.setpoint_pct, h.band_pct),
                    low=h.low_limit_pct,
                    high=h.high_limit_pct,
                ),
            )
        )
    told.append((_("A reading counts for"), say_duration(table.reading_expires_s)))
    if table.humidity is not None:
        told.append((_("Pause after a dose"), say_duration(table.settle_s)))
    if RelayKind.CIRCULATION_FAN in {relay.switches() for relay in table.relay.values()}:
        told.append(
            (
                _("The air is stirred for"),
                _("{stir} of every {every}").format(
                    stir=say_duration(table.stir_for_s), every=say_duration(table.stir_every_s)
                ),
            )
        )
    return told
