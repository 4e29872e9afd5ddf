"""Which fields of each kind of entry can be corrected, and how each is typed. Owns no logic."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum, auto
from typing import Any

from hangroom.product.recipe import Erythorbate
from hangroom.store.record.edits import Kept
from hangroom_web.batch.series_view import KIND_NAMES
from hangroom_web.batch.starting import CASING_NAMES
from hangroom_web.batch.step_form import STEP_NAMES
from hangroom_web.words import _


class Sort(Enum):
    """How a field is typed."""

    TEXT = auto()
    WEIGHT = auto()
    LENGTH = auto()
    TEMPERATURE = auto()
    NUMBER = auto()
    WHOLE = auto()
    MOMENT = auto()
    CHOICE = auto()
    SURFACE = auto()
    ROOM = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of an entry: its name there, its label, how it is typed, what it can be."""

    name: str
    label: str
    sort: Sort
    choices: Mapping[Any, str] | None = None
    needed: bool = False


def _text(name: str, label: str, *, needed: bool = False) -> Field:
    return Field(name=name, label=label, sort=Sort.TEXT, needed=needed)


def _of(sort: Sort, **labels: str) -> tuple[Field, ...]:
    return tuple(Field(name=name, label=label, sort=sort) for name, label in labels.items())


def _moment(name: str, label: str, *, needed: bool = True) -> Field:
    return Field(name=name, label=label, sort=Sort.MOMENT, needed=needed)


def _choice(name: str, label: str, choices: Mapping[Any, str], *, needed: bool = False) -> Field:
    return Field(name=name, label=label, sort=Sort.CHOICE, choices=choices, needed=needed)


_NOTE = _text("note", _("Note"))
_SURFACE = Field(name="surface", label=_("On the surface"), sort=Sort.SURFACE)
_ROOM = Field(name="room", label=_("Room"), sort=Sort.ROOM)
_LOOKED = (
    *_of(Sort.WHOLE, squeeze=_("Squeeze")),
    Field(name="wrinkle_mm", label=_("Wrinkle, mm"), sort=Sort.NUMBER),
)
_SHARES = _of(
    Sort.NUMBER, water_pct=_("Water, %"), protein_pct=_("Protein, %"), fat_pct=_("Fat, %")
)

FIELDS: Mapping[Kept, tuple[Field, ...]] = {
    Kept.BATCH: (
        _text("name", _("Name"), needed=True),
        *_of(
            Sort.WEIGHT,
            green_weight_g=_("Green weight of it all"),
            fat_drip_g=_("Fat that dripped"),
        ),
        _choice("casing", _("Casing"), CASING_NAMES),
        *_of(Sort.LENGTH, casing_diameter_mm=_("Casing's diameter")),
        _moment("started_at", _("Started")),
        _NOTE,
    ),
    Kept.GROUP: (
        _text("finish", _("Finish"), needed=True),
        Field(
            name="target_yield_pct",
            label=_("Target, % of green weight"),
            sort=Sort.NUMBER,
            needed=True,
        ),
        Field(name="sticks", label=_("Sticks in all"), sort=Sort.WHOLE, needed=True),
    ),
    Kept.STICK: (
        _text("tag", _("Tag"), needed=True),
        Field(name="green_weight_g", label=_("Green"), sort=Sort.WEIGHT, needed=True),
        *_of(Sort.WEIGHT, cooked_weight_g=_("Cooked"), hang_weight_g=_("Hung")),
        *_of(Sort.LENGTH, hang_diameter_mm=_("Across"), length_mm=_("Long")),
    ),
    Kept.STAY: (
        _ROOM,
        _moment("from_at", _("From")),
        _moment("to_at", _("Until"), needed=False),
    ),
    Kept.WEIGH_IN: (
        Field(name="weight_g", label=_("Weight"), sort=Sort.WEIGHT, needed=True),
        *_LOOKED,
        *_of(Sort.LENGTH, diameter_mm=_("Diameter")),
        _SURFACE,
        _moment("taken_at", _("Weighed")),
        _NOTE,
    ),
    Kept.RECIPE_LINE: (
        _text("name", _("Name"), needed=True),
        Field(name="weight_g", label=_("Weight"), sort=Sort.WEIGHT, needed=True),
        *_of(
            Sort.NUMBER,
            nitrite_pct=_("Nitrite on its label, %"),
            nitrate_pct=_("Nitrate on its label, %"),
        ),
        *_SHARES,
        _choice("erythorbate", _("Which form of it"), {one: str(one) for one in Erythorbate}),
    ),
    Kept.SUMS: (),
    Kept.STEP: (
        _choice("kind", _("Step"), STEP_NAMES, needed=True),
        *_of(Sort.TEMPERATURE, set_temperature_c=_("Set to"), wet_bulb_c=_("Wet bulb")),
        *_of(Sort.NUMBER, humidity_pct=_("Humidity, %")),
        _ROOM,
        _moment("from_at", _("Began")),
        _moment("to_at", _("Ended"), needed=False),
        _NOTE,
    ),
    Kept.SERIES: (
        _choice("kind", _("It is of the"), KIND_NAMES, needed=True),
        _text("probe", _("The probe sat in"), needed=True),
        _NOTE,
    ),
    Kept.MEASUREMENT: (
        *_of(Sort.NUMBER, aw=_("Water activity"), ph=_("pH")),
        _text("instrument", _("Measured with"), needed=True),
        _moment("taken_at", _("Measured")),
        _NOTE,
    ),
    Kept.LOOK: (_SURFACE, *_LOOKED, _moment("taken_at", _("Looked at")), _NOTE),
    Kept.PHOTO: (_text("caption", _("What it shows")), _moment("taken_at", _("Taken"))),
    Kept.FINISH_PROFILE: (
        *_of(Sort.WHOLE, rating=_("How good"), squeeze=_("Squeeze")),
        _text("words", _("In words")),
        _moment("tasted_at", _("Tasted")),
    ),
}
