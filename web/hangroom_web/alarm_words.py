"""What the page tells alarms in: events, circumstances, and words shared with notices. Pure."""

from hangroom.alarm_table.words import Event
from hangroom.alarm_words import RANK, URGENCY, say_figures, say_why
from hangroom_web.words import _

__all__ = ["CIRCUMSTANCES", "EVENTS", "RANK", "URGENCY", "say_figures", "say_why"]

EVENTS = {
    Event.ACTIVATED: _("came on"),
    Event.RETURNED_TO_NORMAL: _("returned to normal"),
    Event.RE_ALARMED: _("still on, told again"),
    Event.ACKNOWLEDGED: _("acknowledged"),
    Event.RESET: _("reset"),
    Event.SHELVED: _("shelved"),
    Event.UNSHELVED: _("taken off the shelf"),
    Event.SHELF_ENDED: _("shelf time over"),
    Event.SUPPRESSED: _("kept quiet by design"),
    Event.UNSUPPRESSED: _("no longer kept quiet"),
    Event.TAKEN_OUT_OF_SERVICE: _("taken out of service"),
    Event.RETURNED_TO_SERVICE: _("returned to service"),
}

# Why alarms are kept quiet by design, by the code that the log keeps.
CIRCUMSTANCES = {
    "no-trusted-air": _("no sensor can be trusted, which is an alarm of its own"),
    "starting": _("the controller has only just started"),
    "inspection": _("somebody said that the door is open"),
    "door-opened": _("the air jumped as with an opened door"),
    "settling-in": _("the room is on its way to a new setpoint or stage"),
}
