"""A sensor's salt checks: each is kept, and the newest ones make its calibration."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import partial

from hangroom.air import Salt
from hangroom.answers.asked import Applied, Asked, Noted
from hangroom.control.sensors.salt_checks import SaltCheck, calibration_from
from hangroom.errors import InputError
from hangroom.store.request_body import choice, figure, words
from hangroom.store.salt_checks import KeptCheck, forget_salt_checks, keep_salt_check, salt_checks
from hangroom.terms import RoomPlan


def calibration(asked: Asked) -> Applied:
    """Return what becomes of a salt check, which counts together with the ones before it."""
    body, plan = asked.request.body, asked.plan
    sensor, salt = words(body, "sensor"), choice(body, "salt", Salt)
    check = KeptCheck(
        salt=salt,
        read_pct=figure(body, "read_pct"),
        temperature_c=figure(body, "temperature_c"),
        checked_at=asked.at.now,
        checked_by=asked.request.asked_by,
    )
    earlier = salt_checks(asked.db).get((plan.name, sensor), ())
    changed = with_calibration(plan, sensor, (*earlier, check), sensors=asked.sensors)
    made = changed.calibrations[sensor]
    return Applied(
        plan=changed,
        keep=partial(keep_salt_check, room=plan.name, sensor=sensor, check=check),
        said=(
            f"From now on a reading of {check.read_pct:.1f} % from {sensor} counts as "
            f"{made.gain_ratio * check.read_pct + made.offset_pct:.1f} %."
        ),
        noted=Noted(
            kind="calibrated",
            figures={
                "read_pct": check.read_pct,
                "temperature_c": check.temperature_c,
                "gain_ratio": made.gain_ratio,
                "offset_pct": made.offset_pct,
            },
            words={"sensor": sensor, "salt": salt},
        ),
    )


def calibration_forget(asked: Asked) -> Applied:
    """Return what becomes of the wish to go by a sensor's own reading again."""
    sensor, plan = words(asked.request.body, "sensor"), asked.plan
    if sensor not in plan.calibrations:
        raise InputError(f"The sensor {sensor!r} has no calibration here. Nothing was changed.")
    rest = {name: other for name, other in plan.calibrations.items() if name != sensor}
    return Applied(
        plan=replace(plan, calibrations=rest),
        keep=partial(forget_salt_checks, room=plan.name, sensor=sensor, now=asked.at.now),
        said=f"Readings from {sensor} count as they are again.",
        noted=Noted(kind="calibration-forgotten", words={"sensor": sensor}),
    )


def with_calibration(
    plan: RoomPlan, sensor: str, checks: Sequence[KeptCheck], *, sensors: Collection[str]
) -> RoomPlan:
    """Return the plan with a sensor calibrated by its checks, oldest first.

    Raises InputError where the room has no such sensor or the checks make no calibration.
    """
    if sensor not in sensors:
        raise InputError(f"This room has no sensor {sensor!r}. Choose one that it has.")
    made = calibration_from(
        [
            SaltCheck(
                salt=Salt(check.salt),
                temperature_c=check.temperature_c,
                read_pct=check.read_pct,
                checked_at=check.checked_at,
            )
            for check in checks
        ]
    )
    return replace(plan, calibrations={**plan.calibrations, sensor: made})
