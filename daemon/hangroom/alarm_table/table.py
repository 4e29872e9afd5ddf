"""The rationalised table of every alarm: the master alarm database, one row each."""

from hangroom.alarm_table.air_rows import AIR_ROWS
from hangroom.alarm_table.equipment_rows import EQUIPMENT_ROWS
from hangroom.alarm_table.row import AlarmId, Row, Scope

TABLE = {row.id: row for row in (*AIR_ROWS, *EQUIPMENT_ROWS)}


def rows_of(scope: Scope) -> dict[AlarmId, Row]:
    """Return the rows that concern a room, the service, a batch or a group."""
    return {id_: row for id_, row in TABLE.items() if row.scope is scope}
