"""A batch's record put together entry by entry, without a database. All of it invented."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from hangroom.product.temperatures import celsius
from hangroom.store.batches import Batch, Group
from hangroom.store.hanging import Hang
from hangroom.store.record.recipe import LineKind, RecipeLine
from hangroom.store.record.series import Origin, Series, SeriesKind, TemperaturePoint
from hangroom.store.record.steps import Step, StepKind
from hangroom.store.record.whole import BatchRecord
from hangroom_web.batch_view.evidence import AirOf

STARTED = datetime(2026, 11, 1, 8, tzinfo=UTC)
NOW = STARTED + timedelta(days=5)
NOBODY = {"entered_at": NOW, "entered_by": ""}


def after(hours: float) -> datetime:
    return STARTED + timedelta(hours=hours)


def group(letter: str) -> Group:
    return Group(
        number=ord(letter),
        letter=letter,
        finish="supple",
        target_yield_pct=75.0,
        sticks=10,
        room=None,
        hung_at=None,
        tagged=(),
    )


EMPTY = BatchRecord(
    batch=Batch(
        number=1,
        name="invented",
        started_at=STARTED,
        note="",
        sample=True,
        groups=(group("A"), group("B")),
    ),
    recipe=(),
    sums=(),
    steps=(),
    series=(),
    stays=(),
    measurements=(),
    looks=(),
    photos=(),
    profiles=(),
    edits=(),
)


def air(temperature_c: float, every_s: int = 60) -> AirOf:
    """A room that is always the same."""

    def read(_room: str, since: datetime, until: datetime) -> Sequence[tuple[float, float]]:
        return [
            (float(at_s), temperature_c)
            for at_s in range(0, int((until - since).total_seconds()), every_s)
        ]

    return read


def no_air(_room: str, _since: datetime, _until: datetime) -> Sequence[tuple[float, float]]:
    return []


def stay(letter: str, from_h: float, to_h: float | None, room: str = "closet") -> Hang:
    return Hang(
        key=f"{letter} {from_h}",
        group=letter,
        room=room,
        from_at=after(from_h),
        to_at=None if to_h is None else after(to_h),
        **NOBODY,  # type: ignore[arg-type]  # when and by whom, of no matter here
    )


def step(kind: StepKind, from_h: float, to_h: float | None, **more: object) -> Step:
    return Step(
        key=f"{kind} {from_h}",
        kind=kind,
        from_at=after(from_h),
        to_at=None if to_h is None else after(to_h),
        **NOBODY,  # type: ignore[arg-type]
        **more,  # type: ignore[arg-type]
    )


def series(
    kind: SeriesKind, from_h: float, *readings_f: float, letter: str | None = None
) -> Series:
    """Readings a minute apart."""
    return Series(
        key=f"{kind} {from_h} {letter} {readings_f[0]}",
        kind=kind,
        probe="middle",
        origin=Origin.TYPED,
        group=letter,
        points=tuple(
            TemperaturePoint(
                at=after(from_h) + timedelta(minutes=minute), temperature_c=celsius(now_f)
            )
            for minute, now_f in enumerate(readings_f)
        ),
        **NOBODY,  # type: ignore[arg-type]
    )


def meat() -> RecipeLine:
    return RecipeLine(
        key="meat",
        place=0,
        kind=LineKind.MEAT,
        name="pork",
        weight_g=1000.0,
        ndb="10219",
        **NOBODY,  # type: ignore[arg-type]
    )
