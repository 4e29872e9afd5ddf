"""What each alarm is called, in a few plain words."""

from collections.abc import Mapping
from types import MappingProxyType

from hangroom.alarm_table.row import AlarmId

TITLES: Mapping[AlarmId, str] = MappingProxyType(
    {
        AlarmId.SENSOR_STALE: "A sensor does not answer",
        AlarmId.SENSOR_IMPLAUSIBLE: "A sensor cannot be trusted",
        AlarmId.SENSORS_DISAGREE: "The sensors disagree",
        AlarmId.TEMPERATURE_HIGH: "Too warm",
        AlarmId.TEMPERATURE_HIGH_HIGH: "Far too warm",
        AlarmId.TEMPERATURE_LOW: "Too cold",
        AlarmId.HUMIDITY_HIGH: "Too humid",
        AlarmId.HUMIDITY_HIGH_HIGH: "Far too humid",
        AlarmId.HUMIDITY_LOW: "Too dry",
        AlarmId.HUMIDITY_LOW_LOW: "Far too dry",
        AlarmId.HUMIDIFIER_INEFFECTIVE: "The humidifier does nothing",
        AlarmId.HUMIDIFIER_STUCK_ON: "The humidifier does not stop",
        AlarmId.FAN_INEFFECTIVE: "The exhaust fan does nothing",
        AlarmId.COOLING_INEFFECTIVE: "The cooling does nothing",
        AlarmId.DOOR_OPEN: "The door stands open",
        AlarmId.RELAY_CHATTER: "A relay switches too often",
        AlarmId.COMPRESSOR_SHORT_CYCLE: "The compressor gets too little rest",
        AlarmId.RELAY_LOCKED_OUT: "A relay is locked out after running too long",
        AlarmId.SETPOINT_UNREACHABLE: "The setpoint cannot be reached",
        AlarmId.DAEMON_RESTARTED: "The controller was restarted",
        AlarmId.LOG_FULL: "The record cannot be written",
        AlarmId.CLOCK_JUMP: "The clock jumped",
        AlarmId.BATCH_PAST_TARGET: "A group is past its target",
        AlarmId.INSPECTION_MISSED: "A look was missed",
    }
)
