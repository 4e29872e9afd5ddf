"""The words an alarm's state and history are told in, after ISA-18.2 / IEC 62682."""

from enum import StrEnum


class Condition(StrEnum):
    """What the evaluation says, after its delays."""

    NORMAL = "normal"
    ACTIVE = "active"


class Suppression(StrEnum):
    """Why nobody is told, the strongest first."""

    OUT_OF_SERVICE = "out of service"
    BY_DESIGN = "suppressed by design"
    SHELVED = "shelved"
    NONE = "none"


class Event(StrEnum):
    """What can happen to an alarm: by evaluation, by a person, by design, by time."""

    ACTIVATED = "activated"
    RETURNED_TO_NORMAL = "returned-to-normal"
    RE_ALARMED = "re-alarmed"
    ACKNOWLEDGED = "acknowledged"
    RESET = "reset"
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    SHELF_ENDED = "shelf-ended"
    SUPPRESSED = "suppressed"
    UNSUPPRESSED = "unsuppressed"
    TAKEN_OUT_OF_SERVICE = "taken-out-of-service"
    RETURNED_TO_SERVICE = "returned-to-service"


class Tell(StrEnum):
    """What the keeper shall notice of an event."""

    NOTHING = "nothing"
    ANNUNCIATE = "annunciate"
    ANNUNCIATE_AGAIN = "annunciate-again"
    SILENCE = "silence"
