"""A forecast in words: where a group is, when it may arrive, what to know about that. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time
from zoneinfo import ZoneInfo

from hangroom.product.day_ahead import ahead_of
from hangroom.product.drying_lights import Light, surface_light
from hangroom.product.forecast import Forecast
from hangroom.product.forecast_warnings import LOUD_REMARKS, Loudness, warnings_of
from hangroom.product.forecast_words import say, words_of
from hangroom.product.told import Words
from hangroom.store.batches import Group
from hangroom.store.forecasts import KeptForecast
from hangroom.units import Units, say_duration, say_temperature
from hangroom_web import rail
from hangroom_web.dates import say_hour, say_moment
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.words import _

LIGHT_WORDS = {
    Light.GREEN: _("Green: dries evenly"),
    Light.AMBER: _("Amber: the surface runs ahead of the core"),
    Light.RED: _("Red: the surface is far drier than the core"),
}


# What holds for every forecast; it stands once on a sheet.
HOLDS = _("± and ranges hold 8 times in 10. The light is our own judgement, not proven on sticks.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A warning or note; `loud`: somebody should act on it today. `brief`: without its meaning."""

    said: str
    brief: str = ""
    loud: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastView:
    """A forecast as a sheet shows it; `light` is None where there is only a straight line.

    `head`: where the group is, '' where only a line says so; `then`: when it may arrive. `figures`:
    name and value. `made`: how old it is and what it went by. `trouble`: what is wrong with it, ''
    for nothing.
    """

    head: str = ""
    then: str
    made: str
    trouble: str = ""
    light: Light | None = None
    light_said: str = ""
    figures: Sequence[tuple[str, str]] = ()
    warnings: Sequence[Told] = ()
    notes: Sequence[Told] = ()


def forecast_view(
    told: Foretold, group: Group, *, units: Units, zone: ZoneInfo, look_at: Sequence[time]
) -> ForecastView:
    """Put what was foretold of a hanging group into words; `look_at`: the daily look's times."""
    kept = told.kept
    if kept is None:
        return ForecastView(
            then=say_estimate(told, group, zone),
            made=rail.estimate_footnote(told.line, group, now=told.now),
            trouble=_say_missing(told),
        )
    forecast = kept.forecast
    light = surface_light(forecast.surface_to_core_ratio, forecast.surface_aw, forecast.core_aw)
    when = _When(told, zone)
    loud = [
        Told(
            said=say(one.remark, units, when),
            brief=_brief(words_of(one.remark, units, when)),
            loud=one.loudness is Loudness.MEDIUM,
        )
        for one in warnings_of(
            forecast,
            group=_("Group {}").format(group.letter),
            diameter_mm=kept.diameter_mm,
            ahead=ahead_of(told.now, kept.hung_at, zone=zone, look_at=look_at),
            before=told.earlier.forecast if told.earlier else None,
        )
    ]
    return ForecastView(
        head=_say_now(told, kept, zone),
        then=_say_arrival(told, forecast, zone),
        made=_say_made(told, kept),
        trouble=_say_trouble(told, zone),
        light=light,
        light_said=_("{light}. Surface {ratio:.2f} of the core's water").format(
            light=LIGHT_WORDS[light], ratio=forecast.surface_to_core_ratio
        ),
        figures=_figures(told, kept, units),
        # An old forecast's warnings speak of moments that may be past.
        warnings=[] if told.old else loud,
        notes=[
            Told(said=say(remark, units, when))
            for remark in forecast.remarks
            if remark.code not in LOUD_REMARKS
        ],
    )


def say_window(told: Foretold, zone: ZoneInfo) -> str:
    """Return when the target may be reached, in a few words for a bracket on the drawing."""
    if told.kept is None:
        said = rail.say_window(told.line, zone, now=told.now)
        drawn = told.line is not None and told.line.window is not None
        return _("{window}, straight line").format(window=said) if drawn else said
    if told.arrived:
        return _("at its target")
    forecast = told.kept.forecast
    if forecast.p10_h is None:
        return _("not in this air")
    earliest = _hour(told, forecast.p10_h, zone)
    if forecast.p90_h is None:
        return _("{earliest} at the earliest").format(earliest=earliest)
    return _("{earliest} to {latest}").format(
        earliest=earliest, latest=_hour(told, forecast.p90_h, zone)
    )


def say_estimate(told: Foretold, group: Group, zone: ZoneInfo) -> str:
    """Return where the group is and when it may arrive, in one or two honest sentences."""
    if told.kept is None:
        return rail.say_estimate(told.line, group, zone, now=told.now)
    return _("{now}. {then}").format(
        now=_say_now(told, told.kept, zone), then=_say_arrival(told, told.kept.forecast, zone)
    )


def say_now(told: Foretold) -> str:
    """Return for example '78.4 % now (± 1.9)', '' without a forecast that holds now."""
    here = None if told.old else told.group_now()
    if here is None:
        return ""
    return _("{now:.1f} % now (±\N{NO-BREAK SPACE}{spread:.1f})").format(
        now=here.middle_pct, spread=here.spread_pct
    )


def _say_now(told: Foretold, kept: KeptForecast, zone: ZoneInfo) -> str:
    if not told.old:
        return _("{now} of green weight").format(now=say_now(told))
    here = told.group_now()
    if here is None:
        return ""
    return _("{then:.1f} % (±\N{NO-BREAK SPACE}{spread:.1f}) of green weight at {moment}").format(
        then=here.middle_pct,
        spread=here.spread_pct,
        moment=say_moment(kept.made_at, zone, now=told.now),
    )


def _say_arrival(told: Foretold, forecast: Forecast, zone: ZoneInfo) -> str:
    target = f"{100.0 * forecast.target_yield_ratio:g} %"
    if told.arrived:
        return _("The target of {target} is reached. Pull it when it suits you.").format(
            target=target
        )
    if forecast.p50_h is None:
        said = _("In the air that is planned it most likely never gets to {target}.").format(
            target=target
        )
        if forecast.p10_h is None:
            return said
        return _("{said} If it does, hardly before {earliest}.").format(
            said=said, earliest=_hour(told, forecast.p10_h, zone)
        )
    likely = _hour(told, forecast.p50_h, zone)
    earliest = "" if forecast.p10_h is None else _hour(told, forecast.p10_h, zone)
    if forecast.p90_h is None:
        return _("{target} likely {likely}, at the earliest {earliest}, and perhaps never.").format(
            target=target, likely=likely, earliest=earliest
        )
    if told.moment(forecast.p90_h) < told.now:
        return _("{target} should be behind by now. Weigh it to know.").format(target=target)
    return _("{target} likely {likely}; 8 times in 10 between {earliest} and {latest}.").format(
        target=target,
        likely=likely,
        earliest=earliest,
        latest=_hour(told, forecast.p90_h, zone),
    )


def _figures(told: Foretold, kept: KeptForecast, units: Units) -> list[tuple[str, str]]:
    forecast = kept.forecast
    figures = [
        (
            _("Loss per day"),
            _("{pct:.1f} % of hung weight").format(pct=forecast.loss_pct_per_day),
        )
    ]
    if not told.arrived:
        figures.append((_("Never arrives"), say_never(forecast.never_pct)))
    if kept.plan:
        air = kept.plan[-1]
        figures.append(
            (
                _("In air of") if len(kept.plan) == 1 else _("In air of, at last"),
                _("{humidity:.0f} %, {temperature}").format(
                    humidity=air.humidity_pct,
                    temperature=say_temperature(air.temperature_c, units),
                ),
            )
        )
    return figures


def say_never(never_pct: float) -> str:
    """Return the chance that the target is never reached: no false nought, no false certainty."""
    if never_pct < 1.0:
        return _("under 1 in 100")
    return _("{times} in 100").format(times=f"{min(never_pct, 99.0):.0f}")


def _say_made(told: Foretold, kept: KeptForecast) -> str:
    if kept.weighings == 0:
        of = _("the air, the recipe and the casing; no weight yet")
    elif kept.weighings == 1:
        of = _("the air and 1 look on the scale")
    else:
        of = _("the air and {} looks on the scale").format(kept.weighings)
    return _("Made {age} ago from {of}.").format(age=say_duration(told.age.total_seconds()), of=of)


def _say_trouble(told: Foretold, zone: ZoneInfo) -> str:
    said = []
    if told.old:
        said.append(
            _("Old: made {age} ago, so it may no longer hold.").format(
                age=say_duration(told.age.total_seconds())
            )
        )
    elif told.overtaken and told.failed is None:
        said.append(_("Newer weights are being worked in; look again in a minute."))
    if told.failed is not None:
        said.append(
            _("The newest try, {moment}, failed. {why}").format(
                moment=say_moment(told.failed.at, zone, now=told.now), why=told.failed.why
            )
        )
    return " ".join(said)


def _say_missing(told: Foretold) -> str:
    said = _("No forecast yet: this is a straight line from the weights alone.")
    if told.failed is None:
        return said
    return _("{said} The newest try failed. {why}").format(said=said, why=told.failed.why)


@dataclass(frozen=True, slots=True)
class _When:
    """Says hours since hanging as moments, those of the past with their clock."""

    told: Foretold
    zone: ZoneInfo

    def __call__(self, at_h: float) -> str:
        if self.told.moment(at_h) < self.told.now:
            return say_moment(self.told.moment(at_h), self.zone, now=self.told.now)
        return _hour(self.told, at_h, self.zone)


def _brief(words: Words) -> str:
    return f"{words.happened} {words.do}"


def _hour(told: Foretold, at_h: float, zone: ZoneInfo) -> str:
    return say_hour(told.moment(at_h), zone, now=told.now)
