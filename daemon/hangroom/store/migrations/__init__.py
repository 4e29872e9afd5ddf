"""The steps that bring a database to the present shape, oldest first.

A step is never edited once it has landed; a change is a new step. Times are UTC milliseconds
(`_ms`), amounts SI. Each table has one writing process, named above it; a request is asked by
the page and answered by the daemon in the same row.
"""

# The order of these lines is the order of the steps.
from hangroom.store.migrations import calendar as _calendar
from hangroom.store.migrations import first as _first
from hangroom.store.migrations import forecasts as _forecasts
from hangroom.store.migrations import memory as _memory
from hangroom.store.migrations import notices as _notices
from hangroom.store.migrations import plans as _plans
from hangroom.store.migrations import proofs as _proofs
from hangroom.store.migrations import record as _record
from hangroom.store.migrations import reminders as _reminders
from hangroom.store.migrations import replay as _replay
from hangroom.store.migrations import rollups as _rollups
from hangroom.store.migrations import tokens as _tokens
from hangroom.store.migrations import told as _told
from hangroom.store.migrations import wishes as _wishes
from hangroom.store.migrations.steps import MIGRATIONS

__all__ = [
    "MIGRATIONS",
    "_calendar",
    "_first",
    "_forecasts",
    "_memory",
    "_notices",
    "_plans",
    "_proofs",
    "_record",
    "_reminders",
    "_replay",
    "_rollups",
    "_tokens",
    "_told",
    "_wishes",
]
