"""Humidity and temperature setpoints: each belongs to the stage it was asked for in."""

from dataclasses import replace
from functools import partial

from hangroom.answers.asked import Applied, Asked, Noted
from hangroom.answers.planned import beside_plan
from hangroom.control.stages import plan_of, with_plan_of
from hangroom.errors import InputError
from hangroom.store.request_body import figure
from hangroom.store.requests import Kind
from hangroom.store.setpoints import keep_setpoint
from hangroom.terms import RoomPlan, Stage
from hangroom.units import say_temperature

HUMIDITY, TEMPERATURE = Kind.HUMIDITY_SETPOINT, Kind.TEMPERATURE_SETPOINT


def humidity_setpoint(asked: Asked) -> Applied:
    """Return what becomes of a wished humidity, in %RH."""
    setpoint_pct = figure(asked.request.body, "value")
    said = f"Setpoint is {setpoint_pct:g} %."
    applied = _applied(asked, HUMIDITY, setpoint_pct, said, {"setpoint_pct": setpoint_pct})
    return beside_plan(asked, applied)


def temperature_setpoint(asked: Asked) -> Applied:
    """Return what becomes of a wished temperature, in degC."""
    setpoint_c = figure(asked.request.body, "value")
    said = f"Setpoint is {say_temperature(setpoint_c, asked.units)}."
    return _applied(asked, TEMPERATURE, setpoint_c, said, {"setpoint_c": setpoint_c})


def _applied(
    asked: Asked, what: Kind, value: float, said: str, figures: dict[str, float]
) -> Applied:
    plan = asked.plan
    return Applied(
        plan=with_setpoint(plan, plan.stage, what, value),
        keep=partial(
            keep_setpoint,
            room=plan.name,
            stage=plan.stage,
            what=what,
            value=value,
            set_by=asked.request.asked_by,
            now=asked.at.now,
        ),
        said=said,
        noted=Noted(kind=what, figures=figures, words={"stage": plan.stage}),
    )


def with_setpoint(plan: RoomPlan, stage: Stage, what: str, value: float) -> RoomPlan:
    """Return the plan with a setpoint of one stage changed; InputError where it may not be."""
    planned = plan_of(plan, stage)
    if what == HUMIDITY:
        if planned.humidity is None:
            raise InputError("Nothing in this room acts on humidity.")
        humidity = replace(planned.humidity, setpoint_pct=value)
        changed, fault, unit = replace(planned, humidity=humidity), humidity.fault(), "%"
    else:
        if planned.temperature is None:
            raise InputError("Nothing in this room acts on temperature.")
        temperature = replace(planned.temperature, setpoint_c=value)
        changed, fault, unit = replace(planned, temperature=temperature), temperature.fault(), "°C"
    if fault:
        raise InputError(f"{value:g} {unit} is too near a limit: {fault}. Choose another setpoint.")
    return with_plan_of(plan, stage, changed)
