"""What is kept of the household's batch 1 besides its weights: invented, some of it missing.

Recipe, sums, steps and temperatures are the demo's; here come a look, a measurement, a photo, a
tasting and corrections.
"""

import struct
import zlib
from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import partial

from sqlite_utils import Database
from web.scenario import HUNG_AT, Scene

from hangroom.sample.record import ANN, BEN, JUNIPER, enter_record
from hangroom.store.batch_facts import CasingKind, GroupName, SurfaceFinding
from hangroom.store.batches import batch
from hangroom.store.database import connect
from hangroom.store.hanging import pull_group
from hangroom.store.record.edits import Kept, correct, strike_out
from hangroom.store.record.entries import add_entry
from hangroom.store.record.finish import finish_profile
from hangroom.store.record.looks import Look, Measurement
from hangroom.store.record.photos import add_photo


def recorded(scene: Scene) -> None:
    """Enter all of it; group A is pulled and tasted, group B hangs on."""
    now = scene.clock.now()
    db = connect(scene.path)
    by_ben = partial(_by_ben, db, now)
    enter_record(db, 1, JUNIPER, hung_at=HUNG_AT)
    found = batch(db, 1)
    assert found is not None
    group = found.groups[0]
    facts = {
        "green_weight_g": 2446.0,
        "casing": CasingKind.COLLAGEN,
        "casing_diameter_mm": 20.0,
    }
    by_ben(Kept.BATCH, found.key, facts, why="read off the slip")
    by_ben(Kept.BATCH, found.key, {"green_weight_g": 2464.0}, why="read again")
    for stick in (stick for group in found.groups for stick in group.tagged):
        cooked = {"cooked_weight_g": round(0.9 * stick.green_weight_g, 1)}
        by_ben(Kept.STICK, stick.key, cooked, why=f"weighed {stick.tag}")
    strike_out(db, Kept.WEIGH_IN, "wednesdayA3", key="struck", by=BEN, now=now, why="that was A2")
    add_entry(
        db,
        1,
        Look(
            key="look",
            entered_at=now,
            entered_by=ANN,
            group="B",
            taken_at=HUNG_AT + timedelta(hours=30),
            surface=frozenset({SurfaceFinding.MOULD}),
            note="a white speck, wiped off",
        ),
    )
    add_entry(
        db,
        1,
        Measurement(
            key="ph",
            entered_at=now,
            entered_by=ANN,
            group="B",
            taken_at=HUNG_AT + timedelta(hours=28),
            ph=5.9,
            instrument="pen meter, checked in pH 7 and 4",
        ),
    )
    add_photo(
        *(db, scene.folder, 1, striped_png()),
        key="photo",
        taken_at=HUNG_AT,
        by=ANN,
        now=now,
        caption="as hung",
    )
    pull_group(db, group.number, now=now, at=now - timedelta(hours=3), by=ANN)
    tasting = finish_profile(
        *(db, GroupName(batch=1, letter="A")),
        key="tasted",
        tasted_at=now - timedelta(hours=2),
        by=ANN,
        now=now,
        rating=4,
        words="holds itself up, moist",
    )
    add_entry(db, 1, tasting)
    db.close()


def _by_ben(
    db: Database, now: datetime, kept: Kept, key: str, changes: Mapping[str, object], *, why: str
) -> None:
    correct(db, kept, key, changes, key=why, by=BEN, now=now, why=why)


def striped_png() -> bytes:
    """Three invented sticks on paper, as the smallest PNG that a browser draws."""
    width, height = 48, 36
    paper, rind = b"\xf6\xf4\xee", b"\x8c\x3b\x2e"
    row = b"\0" + b"".join(rind if 5 < x % 16 < 11 else paper for x in range(width))
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        for name, data in ((b"IHDR", head), (b"IDAT", zlib.compress(row * height)), (b"IEND", b""))
    )
