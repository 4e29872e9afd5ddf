"""What Setup says of being told: each channel, how it does, what came of an asked test. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from hangroom.product.notice import Channel, Urgency
from hangroom.settings import Settings
from hangroom.store.deliveries import Carried, Undelivered
from hangroom.store.notice_asks import EXPIRES_AFTER, NoticeAsk
from hangroom.units import say_duration
from hangroom_web.dates import say_moment
from hangroom_web.site import Site
from hangroom_web.words import _

WANTS = {
    Urgency.LOW: _("everything"),
    Urgency.MEDIUM: _("what somebody should act on today or now"),
    Urgency.HIGH: _("only what somebody must act on now"),
}

# How long what came of a test stays on the page.
SHOWN_FOR = timedelta(minutes=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelView:
    """A channel on Setup; `trouble`: what is wrong with it, '' for nothing known."""

    name: str
    scheme: str
    wants: str
    last: str
    waiting: str
    trouble: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticesView:
    """Being told, on Setup. `none`: why nobody is told, '' where there are channels."""

    none: str
    fault: str
    channels: Sequence[ChannelView]
    when: Sequence[str]
    told: Sequence[str]


def notices_view(
    channels: Sequence[Channel],
    carried: Mapping[str, Carried],
    *,
    fault: str,
    pinged: Mapping[str, object] | None,
    asked: NoticeAsk | None,
    site: Site,
) -> NoticesView:
    """Put what is known of the channels into words."""
    now = site.now()
    return NoticesView(
        none=_none(channels, site.settings),
        fault=fault,
        channels=[_channel(one, carried[one.name], site) for one in channels],
        when=[*_when(site.settings), *_ping(pinged, site)],
        told=_told(asked, now),
    )


def _none(channels: Sequence[Channel], settings: Settings) -> str:
    if channels:
        return ""
    if settings.notices.channels_file is None:
        return _(
            "Nobody is told but by this page: no channels are set up. README.md says how, for mail,"
            " push services and chats."
        )
    return _("Nobody is told but by this page: the channels' file has no channel in it.")


def _channel(channel: Channel, carried: Carried, site: Site) -> ChannelView:
    last = carried.last_delivered_at
    count = carried.waiting
    said = _("1 notice waits.") if count == 1 else _("{} notices wait.").format(count)
    troubles = [channel.fault, carried.why]
    if carried.given_up:
        troubles.append(
            _("{} given up after three days of trying.").format(
                _("1 notice was")
                if carried.given_up == 1
                else _("{} notices were").format(carried.given_up)
            )
        )
    return ChannelView(
        name=channel.name,
        scheme=channel.scheme,
        wants=WANTS[channel.least],
        last=_("Last delivered {}.").format(say_moment(last, site.zone, now=site.now()))
        if last
        else _("Nothing delivered yet."),
        waiting=said if count else "",
        trouble=" ".join(dict.fromkeys(one for one in troubles if one)),
    )


def _when(settings: Settings) -> list[str]:
    wanted = settings.notices
    said = [
        _("At most {} messages an hour, then one of all that waits.").format(wanted.most_per_hour)
    ]
    if wanted.quiet_from and wanted.quiet_until:
        said.append(
            _("Quiet from {} to {}; what came then arrives together.").format(
                wanted.quiet_from, wanted.quiet_until
            )
        )
    said.append(_("What somebody must act on now is told at once, at any hour."))
    if wanted.alive_weekday != "never":
        said.append(
            _("Each {day} at {clock} every channel gets word that all of this still runs.").format(
                day=wanted.alive_weekday.capitalize(), clock=wanted.alive_at
            )
        )
    return said


def _ping(pinged: Mapping[str, object] | None, site: Site) -> list[str]:
    if not pinged or not isinstance(pinged.get("ms"), int):
        return []
    ms = pinged["ms"]
    at = datetime.fromtimestamp(int(str(ms)) / 1000, tz=site.zone)
    moment = say_moment(at, site.zone, now=site.now())
    if pinged.get("why"):
        return [_("Ping to the watching box, {}: failed. {}").format(moment, pinged["why"])]
    return [_("Ping to the watching box: arrived {}.").format(moment)]


def _told(asked: NoticeAsk | None, now: datetime) -> list[str]:
    if asked is None or now - asked.asked_at > SHOWN_FOR:
        return []
    if asked.answer:
        return [_("Test: {}").format(line) for line in asked.answer.splitlines()]
    if not asked.expired(now):
        return [_("The test is on its way. Load the page again in a moment.")]
    return [
        _(
            "Nobody answered the test within {}: the service that tells does not run. Start it:"
            " sudo systemctl restart hangroom-notices."
        ).format(say_duration(EXPIRES_AFTER.total_seconds()))
    ]


def say_undelivered(found: Sequence[Undelivered]) -> str:
    """Return for example 'Not delivered to phone: ...', '' where everything arrived."""
    return " ".join(
        (
            _("Not delivered to {channel}, given up after {tries} tries: {why}")
            if one.given_up
            else _("Not delivered to {channel} so far, {tries} tries: {why}")
            if one.tries > 1
            else _("Not delivered to {channel} so far: {why}")
        ).format(channel=one.channel, tries=one.tries, why=one.why)
        for one in found
    )
