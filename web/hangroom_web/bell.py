"""The bell at the rooms in words: how it is wired, what it tells of, what it does now. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from hangroom.alarm_table.ringing import Ring
from hangroom.alarm_table.row import Priority
from hangroom.settings.bell import BellTable, SounderTable
from hangroom.store.live import LiveBell
from hangroom_web.words import _

TELLS_OF = {
    Priority.HIGH: _("alarms of high priority"),
    Priority.MEDIUM: _("alarms of high and medium priority"),
    Priority.LOW: _("every alarm"),
}
DOES_NOW = {
    Ring.NOTHING: _("Silent: nothing waits for an acknowledgement that it tells of."),
    Ring.LAMP: _("The lamp blinks: an alarm waits for an acknowledgement."),
    Ring.BUZZER: _("It sounds: an urgent alarm is on, and nobody has acknowledged it."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class BellView:
    """The bell as Setup shows it; `trouble`: what is wrong with it, '' for nothing."""

    parts: Sequence[tuple[str, str]]
    tells: str
    now: str
    trouble: str


def bell_view(table: BellTable | None, live: LiveBell | None, *, alive: bool) -> BellView | None:
    """Return the bell in words, None where the settings name none."""
    if table is None:
        return None
    parts = [
        (name, _say_sounder(part))
        for name, part in ((_("Buzzer"), table.buzzer), (_("Lamp"), table.lamp))
        if part is not None
    ]
    if table.button is not None:
        parts.append(
            (
                _("Button"),
                _("GPIO {pin} to ground; acknowledges what the bell tells of").format(
                    pin=table.button.pin
                ),
            )
        )
    known = live if alive else None
    return BellView(
        parts=parts,
        tells=_("It tells of {what}. Buzzer and fast blinking: act now.").format(
            what=TELLS_OF[table.least]
        ),
        now=DOES_NOW[known.ring] if known else _("What it does now is not known."),
        trouble=known.fault if known else "",
    )


def _say_sounder(part: SounderTable) -> str:
    level = _("high") if part.active_high else _("low")
    return _("GPIO {pin}, on at a {level} level").format(pin=part.pin, level=level)
