"""The stage a room is in, what ends it and when; and what every stage does to the air. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from hangroom.stage_table import (
    AIRS_ALL_THE_TIME,
    FANS,
    FOLLOWS_HUMIDITY,
    FOLLOWS_TEMPERATURE,
    FORBIDDEN,
)
from hangroom.store.live import LiveStage
from hangroom.terms import (
    HumidityTarget,
    RelayKind,
    Stage,
    StagePlan,
    TemperatureTarget,
)
from hangroom.units import Units, say_duration, temperature_shown
from hangroom_web.dates import say_moment
from hangroom_web.relays import RELAY_NAMES
from hangroom_web.site import Site
from hangroom_web.words import _

STAGE_NAMES = {
    Stage.CASING_DRY: _("casing dry"),
    Stage.HANG: _("hang"),
    Stage.REST: _("rest"),
    Stage.HOLD: _("hold"),
    Stage.EMPTY: _("empty"),
}

# What control does in each stage, said before somebody begins one.
STAGE_DOES = {
    Stage.CASING_DRY: _("Air moves all the time and no water is added, until the casing is dry."),
    Stage.HANG: _("The air is kept at its setpoints while the sticks dry."),
    Stage.REST: _("Moist, quiet air: the water inside comes out to the dry edge."),
    Stage.HOLD: _("Moist air: sticks that are done lose little more until they are pulled."),
    Stage.EMPTY: _("Nothing hangs and nothing runs."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StageNow:
    """The stage under way: `said` tells its end, `begun` its beginning, in words.

    `gone_ratio`: the share of its time that is over, None where it has no end.
    """

    said: str
    begun: str
    gone_ratio: float | None


def stage_now(live: LiveStage | None, *, site: Site, now: datetime) -> StageNow | None:
    """Return the stage that is under way, or None where it is only what the settings say."""
    if live is None:
        return None
    begun = _("Begun {moment} by {by}.").format(
        moment=say_moment(live.since_at, site.zone, now=now), by=live.by
    )
    if live.ends_at is None:
        said = _("until somebody begins another stage")
        return StageNow(said=said, begun=begun, gone_ratio=None)
    left_s = (live.ends_at - now).total_seconds()
    lasts_s = (live.ends_at - live.since_at).total_seconds()
    return StageNow(
        said=_("until {moment}, then {then}").format(
            moment=say_moment(live.ends_at, site.zone, now=now),
            then=STAGE_NAMES[live.then or Stage.HANG],
        ),
        begun=_("{begun} {left} left.").format(begun=begun, left=say_duration(left_s)),
        gone_ratio=min(1.0, max(0.0, 1.0 - left_s / lasts_s)) if lasts_s > 0 else 1.0,
    )


def say_wanted(
    stage: Stage,
    humidity: HumidityTarget | None,
    temperature: TemperatureTarget | None,
    units: Units,
) -> list[str]:
    """Return what a stage asks of the air, for example ['Temperature 4 ± 1 °C', ...]."""
    told = []
    if temperature is not None and stage in FOLLOWS_TEMPERATURE:
        wanted = say_band_c(temperature.setpoint_c, temperature.band_c, units)
        told.append(_("Temperature {wanted}").format(wanted=wanted))
    if humidity is not None and stage in FOLLOWS_HUMIDITY:
        wanted = say_band_pct(humidity.setpoint_pct, humidity.band_pct)
        told.append(_("Humidity {wanted}").format(wanted=wanted))
    return told


def say_relays(stage: Stage, relays: Sequence[RelayKind]) -> list[str]:
    """Return what a stage does with a room's relays, for example ['Humidifier stays off']."""
    told = [
        _("{relay} stays off").format(relay=RELAY_NAMES[kind])
        for kind in relays
        if kind in FORBIDDEN[stage]
    ]
    told += [
        _("{relay} runs all the time").format(relay=RELAY_NAMES[kind])
        for kind in relays
        if stage in AIRS_ALL_THE_TIME and kind in FANS
    ]
    return told


def say_band_pct(setpoint_pct: float, band_pct: float) -> str:
    """Return for example '76 ± 3 %'."""
    return _("{setpoint:g} ± {band:g} %").format(setpoint=setpoint_pct, band=band_pct)


def say_band_c(setpoint_c: float, band_c: float, units: Units) -> str:
    """Return for example '4 ± 1 °C', in the keeper's unit."""
    step = temperature_shown(1.0, units) - temperature_shown(0.0, units)
    return _("{setpoint:g} ± {band:g} °{unit}").format(
        setpoint=round(temperature_shown(setpoint_c, units), 1),
        band=round(band_c * step, 1),
        unit=units.temperature,
    )


def say_lasts(planned: StagePlan) -> str:
    """Return for example 'For 1 h, then hang', or that it has no end."""
    if planned.for_s is None:
        return _("Until somebody begins another stage")
    return _("For {lasts}, then {then}").format(
        lasts=say_duration(planned.for_s), then=STAGE_NAMES[planned.then or Stage.HANG]
    )
