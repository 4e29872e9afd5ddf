"""Invented channels of the household: mail that arrives, a phone that does not, one that cannot."""

from contextlib import closing
from datetime import timedelta

from web.scenario import Scene

from hangroom.product.notice import Channel, Kind, Notice, Stamp, Urgency
from hangroom.store import deliveries
from hangroom.store.database import connect
from hangroom.store.deliveries import State
from hangroom.store.notices import PINGED, keep_channels, keep_mark, keep_notices

CHANNELS = [
    Channel(name="mail", scheme="mailtos", least=Urgency.LOW),
    Channel(name="phone", scheme="ntfys", least=Urgency.HIGH),
    Channel(
        name="old-pager",
        scheme="pagers",
        least=Urgency.MEDIUM,
        fault="No service goes by pagers://. Look it up among the addresses that apprise knows.",
    ),
]


def tell(scene: Scene, about: str) -> None:
    """Let an alarm have been told, on two channels with different luck."""
    clock = scene.clock
    stamp = Stamp(boot_id="this-boot", uptime_s=clock.uptime_s(), at=clock.now())
    notice = Notice(
        key=about,
        kind=Kind.ALARM,
        urgency=Urgency.HIGH,
        reaches=Urgency.HIGH,
        title="Closet: far too warm",
        text="Act now.",
        made_at=clock.now() - timedelta(seconds=30),
        about=about,
    )
    with closing(connect(scene.path)) as db:
        keep_channels(db, CHANNELS)
        keep_notices(db, [notice], CHANNELS, stamp=stamp)
        for channel, why in (
            ("mail", ""),
            ("phone", "The receiver's name could not be found. Is the network there?"),
        ):
            waits = deliveries.waiting_on(db, channel)
            message = deliveries.begin(
                db, channel, [one.number for one in waits], token=channel, high=True, stamp=stamp
            )
            state = State.WAITING if why else State.DELIVERED
            deliveries.end_try(db, message.number, state, why, stamp=stamp)
        keep_mark(db, PINGED, {"ms": round(clock.now().timestamp() * 1000), "why": ""})
