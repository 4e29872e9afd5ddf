"""A whole batch in words, for its page and for its printed record alike. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hangroom.product.checks import Information
from hangroom.product.findings import Finding, Source
from hangroom.store.batches import Batch
from hangroom.store.record.finish import FinishProfile
from hangroom.store.record.photos import Photo
from hangroom.store.record.tables import Row
from hangroom.store.record.whole import BatchRecord
from hangroom.units import say_temperature, say_weight
from hangroom_web.batch_view.corrections import Correction, corrections
from hangroom_web.batch_view.evidence import recorded_recipe
from hangroom_web.batch_view.groups import GroupView, group_view
from hangroom_web.batch_view.judged import PARTS, Figure, Judged, say_counts
from hangroom_web.batch_view.makeup import LIMITS
from hangroom_web.batch_view.making import (
    Exposure,
    SumsView,
    exposures,
    lines_view,
    sums_views,
)
from hangroom_web.batch_view.series import SeriesView, series_view
from hangroom_web.batch_view.way import WayStep, say_casing, way
from hangroom_web.batch_view.wording import Wording, say_groups
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.words import _, sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoView:
    """One photo: the name of its file, and what it shows."""

    file_name: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TastingView:
    """How a group was when it was tasted."""

    group: str
    said: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckView:
    """One published figure, the part of the making it belongs to, and the groups it speaks of."""

    figure: Figure
    part: str
    groups: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What guidance makes of rooms that were warm while cold was asked, once for all groups.

    `heads` are what differs, `shared` is what holds for each of them.
    """

    heads: Sequence[str]
    shared: str
    would_settle: str
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchView:
    """Everything that is known of a batch, in words and pictures; `compared` names its groups."""

    started: str
    green: str
    casing: str
    judged: Judged
    checks: Sequence[CheckView]
    information: Sequence[tuple[Information, str]]
    counts: str
    compared: Sequence[str]
    statements: Sequence[Statement]
    groups: Sequence[GroupView]
    way: Sequence[WayStep]
    lines: Sequence[Mapping[str, str]]
    sums: Sequence[SumsView]
    exposures: Sequence[Exposure]
    series: Sequence[SeriesView]
    photos: Sequence[PhotoView]
    tastings: Sequence[TastingView]
    corrections: Sequence[Correction]
    limits: str = LIMITS


def batch_view(
    record: BatchRecord,
    judged: Judged,
    *,
    corrected: Mapping[str, Row],
    likes: Mapping[str, str],
    foretold: Mapping[int, Foretold],
    wording: Wording,
    wanted: str = "",
) -> BatchView:
    """Put a record, and what is found of it, into words.

    `likes` says by letter whom a group shall be as dry as, `foretold` by number what holds of each
    that hangs; `wanted` is a ratio somebody asked for.
    """
    recipe = recorded_recipe(record).recipe
    return BatchView(
        started=wording.moment(record.batch.started_at),
        green=say_weight(record.batch.green_weight_g, wording.units)
        if record.batch.green_weight_g is not None
        else "",
        casing=say_casing(record.batch, wording.units),
        judged=judged,
        checks=[
            CheckView(
                figure=figure,
                part=PARTS[figure.part],
                groups=_groups(figure.groups, record.batch),
            )
            for figure in judged.figures
        ],
        information=[
            (one, _groups(letters, record.batch)) for one, letters in judged.information.items()
        ],
        counts=say_counts(judged.counts),
        compared=[f"{record.batch.number}-{group.letter}" for group in record.batch.groups],
        statements=_statements(judged),
        groups=[
            group_view(
                record,
                group,
                recipe=recipe,
                kept=judged.kept.get(group.letter),
                like=likes.get(group.letter, ""),
                foretold=foretold.get(group.number),
                wanted=wanted,
                wording=wording,
            )
            for group in record.batch.groups
        ],
        way=way(record, wording),
        lines=lines_view(record.recipe, wording.units),
        sums=sums_views(record.sums, wording),
        exposures=exposures(record),
        series=[series_view(one, wording) for one in record.series],
        photos=[_photo(one, wording) for one in record.photos],
        tastings=[_tasting(one, wording) for one in record.profiles],
        corrections=corrections(
            record.edits,
            corrected,
            tags={stick.key: stick.tag for group in record.batch.groups for stick in group.tagged},
            wording=wording,
        ),
    )


def _groups(letters: Sequence[str], batch: Batch) -> str:
    """Return for example 'group A', or '' where it is all of them."""
    return "" if len(letters) >= len(batch.groups) else say_groups(letters)


def _statements(judged: Judged) -> list[Statement]:
    """Return what is found of warm rooms; what several findings end alike in stands once."""
    found: dict[Finding, list[str]] = {}
    for letter, kept in judged.kept.items():
        if kept.warm_room is not None:
            found.setdefault(kept.warm_room, []).append(letter)
    alike: dict[tuple[str, Source], list[Finding]] = {}
    for finding in found:
        alike.setdefault((finding.would_settle, finding.source), []).append(finding)
    return [
        Statement(
            heads=[
                _("{groups}, {what}: {answer}. {because}")
                .format(
                    groups=sentence(say_groups(found[finding])),
                    what=finding.what,
                    answer=finding.answer,
                    because=finding.because.removesuffix(shared),
                )
                .rstrip()
                for finding in findings
            ],
            shared=shared,
            would_settle=would_settle,
            source=source,
        )
        for (would_settle, source), findings in alike.items()
        for shared in [_alike_at_the_end([finding.because for finding in findings])]
    ]


def _alike_at_the_end(texts: Sequence[str]) -> str:
    """Return the whole sentences that all texts end in."""
    said = [text.split(". ") for text in texts]
    shared = 0
    while shared < min(map(len, said)) and len({tuple(s[-shared - 1 :]) for s in said}) == 1:
        shared += 1
    return ". ".join(said[0][len(said[0]) - shared :])


def _photo(photo: Photo, wording: Wording) -> PhotoView:
    said = [photo.caption] if photo.caption else []
    if photo.group is not None:
        said.append(_("group {}").format(photo.group))
    said.append(wording.moment(photo.taken_at))
    return PhotoView(file_name=photo.file_name, said=", ".join(said))


def _tasting(profile: FinishProfile, wording: Wording) -> TastingView:
    return TastingView(
        group=profile.group,
        said=", ".join([wording.moment(profile.tasted_at), *say_finish(profile, wording)]),
        words=profile.words,
    )


def say_finish(profile: FinishProfile, wording: Wording) -> list[str]:
    """Return yield, days, squeeze, air and rating of a tasted group, each where it is known."""
    said = []
    if profile.yield_pct is not None:
        said.append(_("{pct:.1f} % of green weight").format(pct=profile.yield_pct))
    if profile.hung_h is not None:
        said.append(_("hung {days:.1f} days").format(days=profile.hung_h / 24.0))
    if profile.squeeze is not None:
        said.append(_("squeeze {} of 5").format(profile.squeeze))
    if profile.air_temperature_c is not None and profile.air_humidity_pct is not None:
        said.append(
            _("mean air {temperature}, {humidity:.0f} %").format(
                temperature=say_temperature(profile.air_temperature_c, wording.units),
                humidity=profile.air_humidity_pct,
            )
        )
    if profile.rating is not None:
        said.append(_("rated {} of 5").format(profile.rating))
    return said
