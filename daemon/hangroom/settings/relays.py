"""What a relay switches and how it may be switched, with the usual rules of each kind."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from hangroom.settings.base import Number, Seconds, Table, Whole
from hangroom.terms import RelayKind, RelayRules, Wiring

HOUR_S = 3600.0

# What a relay gets where the file does not say; our judgement where no source is named.
# Humidifier: short pulses matter more than few, since 0.13 g of water lift a cubic metre by 1 %. A
# dose and its pause leave time for some 24 an hour. More than a quarter of the time on is a tank
# emptied into a room that does not hold the water.
# Exhaust fan: no compressor, so that a short run harms nothing, and in 30 s one of 30 m3/h would
# dry a cubic metre by the whole band. As many doses; in a simulated closet with a wet load 20 an
# hour were too few to stay in the band. A long run is looked at again every two hours; the air
# outside, not a share of the hour, says how much of it is too much.
# Compressor: at least 5 min off and 3 min on, the usual anti-short-cycle figures of refrigerator
# manuals; six starts an hour, common practice, no source. A coil that has not reached its setpoint
# in 90 min is iced and wants 20 min without cooling. That is 82 % of the time, so there is no
# limit per hour: 80 % of any hour would end each of these runs after 48 min.
# Heater: half the time, in runs of 20 min; whatever needs more of it is open, or far too cold. One
# that reheats works against a compressor and is off as soon as that no longer cools the room.
DEFAULT_RULES = {
    RelayKind.HUMIDIFIER: RelayRules(
        min_on_s=2, min_off_s=60, max_run_s=120, max_starts_per_h=24, max_on_s_per_h=900
    ),
    RelayKind.EXHAUST_FAN: RelayRules(
        min_on_s=10, min_off_s=90, max_run_s=7200, max_starts_per_h=24
    ),
    RelayKind.CIRCULATION_FAN: RelayRules(min_on_s=60, min_off_s=60, max_starts_per_h=6),
    RelayKind.COOLING: RelayRules(
        min_on_s=180, min_off_s=300, max_run_s=5400, max_starts_per_h=6, lockout_s=1200
    ),
    RelayKind.HEATER: RelayRules(
        min_on_s=30, min_off_s=60, max_run_s=1200, max_starts_per_h=12, max_on_s_per_h=1800
    ),
}
REHEAT_RULES = RelayRules(min_on_s=60, min_off_s=60, max_run_s=7200, max_starts_per_h=12)

ROLES = {"fan": ("exhaust", "circulation"), "heater": ("reheat",)}


class RelayTable(Table):
    """One relay: what it switches, its BCM pin and polarity, how it may be switched."""

    kind: Literal["humidifier", "fan", "cooling", "heater"]
    role: Literal["exhaust", "circulation", "reheat"] | None = None
    pin: Whole
    active_high: Annotated[bool, Field(strict=True)] = True
    min_on_s: Seconds | None = None
    min_off_s: Seconds | None = None
    max_run_s: Annotated[Number, Field(ge=2, le=7 * 86_400)] | None = None
    max_starts_per_h: Annotated[Whole, Field(ge=1, le=1800)] | None = None
    max_on_s_per_h: Annotated[Number, Field(ge=2, le=HOUR_S)] | None = None
    lockout_s: Seconds | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.kind == "fan" and self.role is None:
            raise ValueError(
                "a fan needs role = 'exhaust' (blows room air out) or "
                "'circulation' (stirs the air inside)"
            )
        if self.role is not None and self.role not in ROLES.get(self.kind, ()):
            raise ValueError(
                f"a {self.kind} has no role {self.role!r}; a fan is for 'exhaust' or "
                "'circulation', a heater may 'reheat'. Remove it, or name another"
            )
        rules = self.rules()
        for key, longest_s in (
            ("max_run_s", rules.max_run_s),
            ("max_on_s_per_h", rules.max_on_s_per_h),
        ):
            if longest_s is not None and longest_s < rules.min_on_s:
                raise ValueError(
                    f"{key} ({longest_s:g}) is shorter than min_on_s ({rules.min_on_s:g}); "
                    "raise one or lower the other"
                )
        return self

    def wiring(self) -> Wiring:
        """Return how it is wired."""
        return Wiring(pin=self.pin, active_high=self.active_high)

    def switches(self) -> RelayKind:
        """Return what control calls it."""
        return RelayKind(f"{self.role}-fan" if self.kind == "fan" else self.kind)

    def reheats(self) -> bool:
        """Return whether it warms what cooling has dried, and nothing else."""
        return self.role == "reheat"

    def rules(self) -> RelayRules:
        """Return its rules, from the file or the default of its kind."""
        default = REHEAT_RULES if self.reheats() else DEFAULT_RULES[self.switches()]
        own = {rule.name: getattr(self, rule.name) for rule in fields(RelayRules)}
        rules = {
            name: getattr(default, name) if value is None else value for name, value in own.items()
        }
        if rules["max_on_s_per_h"] == HOUR_S:  # all of it is no limit
            rules["max_on_s_per_h"] = None
        return RelayRules(**rules)


def stir_faults(
    relays: Mapping[str, RelayTable], stir_for_s: float, stir_every_s: float
) -> list[str]:
    """Say which circulation fan is asked to start more often than it may."""
    stirs_per_h = HOUR_S / stir_every_s if stir_for_s < stir_every_s else 0.0
    return [
        f"stir_every_s ({stir_every_s:g}) asks for {stirs_per_h:.3g} starts an hour of "
        f"relay.{name}, which may do {most}; stir less often, or raise its max_starts_per_h"
        for name, relay in relays.items()
        if relay.switches() is RelayKind.CIRCULATION_FAN
        and (most := relay.rules().max_starts_per_h) is not None
        and stirs_per_h > most
    ]
