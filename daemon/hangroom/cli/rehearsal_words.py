"""A rehearsal told in words."""

from collections.abc import Iterator, Sequence

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.titles import TITLES
from hangroom.cli.rehearsal import Rehearsal
from hangroom.cli.rehearsal_alarms import AlarmSpan
from hangroom.cli.rehearsal_figures import RoomFigures, RoomRecord
from hangroom.settings import Settings
from hangroom.simulation.faults import MEANING
from hangroom.simulation.scenario import WHOLE_HOUSE
from hangroom.units import Units, say_duration, say_temperature, say_weight


def told(rehearsal: Rehearsal, settings: Settings) -> str:
    """Return the whole report, in the keeper's units."""
    return "\n".join(_lines(rehearsal, settings))


def _lines(rehearsal: Rehearsal, settings: Settings) -> Iterator[str]:
    scenario, units = rehearsal.scenario, settings.units.units()
    yield (
        f"{scenario.name}: {scenario.days:g} simulated days, seed {scenario.seed}; "
        f"the first {scenario.warmup_h:g} h are left out of the figures."
    )
    for name, figures in rehearsal.figures.items():
        yield ""
        yield from _room(settings.room[name].title, rehearsal.records[name], figures, units)
    yield ""
    yield from _faults(rehearsal)
    for event in rehearsal.events:
        jump_s = event.figures.get("jump_s")
        by = (
            ""
            if jump_s is None
            else f", by {'-' if jump_s < 0 else '+'}{say_duration(abs(jump_s))}"
        )
        yield f"Noted at hour {event.uptime_s / 3600:.1f}: {event.kind}{by}"
    yield from _alarms(rehearsal.alarms, settings)
    yield (
        f"Water and heat of the simulated rooms add up to within {rehearsal.balance_residual:.0e} "
        f"of what moved. It took {rehearsal.cpu_s:.1f} s of computing."
    )
    yield "This is how the program treats a simulated room; yours will differ in what it leaks,"
    yield "holds and weighs."


def _room(title: str, record: RoomRecord, figures: RoomFigures, units: Units) -> Iterator[str]:
    target, wanted_c = record.plan.humidity, record.plan.temperature
    yield title
    if target and figures.in_band_pct is not None:
        yield _row("wanted", f"{target.setpoint_pct:g} ± {target.band_pct:g} %")
        yield _row("in the band", f"{figures.in_band_pct:.1f} % of the time, by the true humidity")
    yield _row(
        "humidity",
        f"{figures.humidity_mean_pct:.1f} % on average, standard deviation "
        f"{figures.humidity_sd_pct:.1f}, above {figures.humidity_p99_pct:.1f} % in 1 % of the time",
    )
    asked = f", wanted {say_temperature(wanted_c.setpoint_c, units)}" if wanted_c else ""
    yield _row(
        "temperature", f"{say_temperature(figures.temperature_mean_c, units)} on average{asked}"
    )
    for kind, per_day in figures.switches_per_day.items():
        yield _row(
            kind.replace("-", " "),
            f"{per_day:6.0f} switches a day, on {figures.on_pct[kind]:5.1f} %",
        )
    yield _row("water", f"{say_weight(figures.water_g_per_day, units)} a day from the humidifier")
    if figures.loss_pct_per_day is not None:
        yield _row("weight loss", f"{figures.loss_pct_per_day:.1f} % of the hang weight a day")
    yield _row("fights", f"{figures.fights_per_day:.1f} a day (aired within 5 min of humidifying)")
    unsafe = "none" if not figures.unsafe_states else f"{figures.unsafe_states} ticks"
    yield _row("unsafe states", unsafe)
    for line, ticks in record.unsafe.items():
        yield f"    {line}: {ticks} ticks"


def _row(name: str, says: str) -> str:
    return f"  {name:<16} {says}"


def _alarms(alarms: Sequence[AlarmSpan], settings: Settings) -> Iterator[str]:
    """Tell every alarm, and of each kind once what causes it and what to do."""
    yield f"Alarms: {'none' if not alarms else ''}".rstrip()
    told: set[AlarmId] = set()
    for alarm in alarms:
        where = settings.room[alarm.room].title if alarm.room else "the service"
        lasts = (
            "to the end"
            if alarm.cleared_s is None
            else f"for {say_duration(alarm.cleared_s - alarm.raised_s)}"
        )
        yield (
            f"  hour {alarm.raised_s / 3600:.1f}, {lasts}: {where}, {alarm.id} "
            f"({TITLES[alarm.id]}; {alarm.priority} priority)"
        )
        if alarm.id not in told:
            told.add(alarm.id)
            yield f"    cause: {TABLE[alarm.id].cause}"
            yield f"    to do: {TABLE[alarm.id].action}"


def _faults(rehearsal: Rehearsal) -> Iterator[str]:
    faults = rehearsal.scenario.faults
    yield f"What went wrong on purpose: {'nothing' if not faults else ''}".rstrip()
    told: set[tuple[str, str]] = set()
    for fault in faults:
        where = "all rooms" if fault.kind in WHOLE_HOUSE else fault.room
        if (where, fault.kind) in told:
            continue
        told.add((where, fault.kind))
        meaning = MEANING[fault.kind].split(";")[0].replace("`size`", f"{fault.size:g}")
        times = sum(f.room == fault.room and f.kind == fault.kind for f in faults)
        again = f", {times} times in all" if times > 1 else ""
        yield (
            f"  hour {fault.at_h:g}, for {say_duration(3600 * fault.for_h)}{again}: {where}, "
            f"{fault.kind} ({meaning})"
        )
