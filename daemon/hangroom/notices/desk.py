"""The notices' desk: look, keep, send at most one message, and say when to look again.

It waits for one receiver at a time and for none longer than a child may take, in a process of its
own: what a receiver does costs control nothing.
"""

import logging
import secrets
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import time
from pathlib import Path
from typing import Protocol

from sqlite_utils import Database

from hangroom.errors import SettingsError
from hangroom.notices.channels import NONE, Addresses, Secret, read_channels
from hangroom.notices.gathering import Gathering
from hangroom.notices.sending import Sent
from hangroom.notices.turns import MOST_OPEN, MOST_TRIES, Line, Rules, Turn, by_urgency, next_turn
from hangroom.notices.unkept import Unkept, letter_unkept, unkept_alarms, urgency_of
from hangroom.notices.watching import is_fresh
from hangroom.notices.wording import House, Letter, letter_for_a_test, letter_of
from hangroom.product.notice import Channel, Stamp, Urgency
from hangroom.store import deliveries
from hangroom.store.deliveries import Message, State
from hangroom.store.live import LiveBoard, read_board
from hangroom.store.notice_asks import answer_ask, open_asks
from hangroom.store.notices import CHANNELS_FAULT, PINGED, keep_channels, keep_mark

LOG = logging.getLogger(__name__)

# How often is looked: at alarms and asked tests, at the rest of the record, at the forecasts.
LOOK_EVERY_S, DAY_EVERY_S, FORECASTS_EVERY_S = 2.0, 30.0, 300.0

TOO_LATE = "Nothing was sent: what sends did not run when it was asked for. Ask again."


class Carries(Protocol):
    """What sends: `hangroom.notices.sending.Carrier`."""

    def send(self, secret: Secret, letter: Letter, *, urgency: Urgency, token: str) -> Sent:
        """Send a message and return what came of it."""

    def ping(self, secret: Secret) -> Sent:
        """Ask for a web address."""

    def check(self, secret: Secret) -> Sent:
        """Say whether an address could be sent to."""


class Desk:
    """Everything of one process; `look` is called again and again, from one thread."""

    def __init__(
        self,
        db: Database,
        gathering: Gathering,
        carrier: Carries,
        *,
        house: House,
        rules: Rules,
        live_folder: Path,
        channels_file: Path | None,
        alive: tuple[int, time] | None,
        ping_every_s: float,
    ) -> None:
        self._db, self._gathering, self._carrier = db, gathering, carrier
        self._house, self._rules = house, rules
        self._live_folder, self._channels_file = live_folder, channels_file
        self._alive, self._ping_every_s = alive, ping_every_s
        self._addresses: Addresses = NONE
        self._file_seen: object = None
        self._file_fault = ""
        self._checked: Sequence[Channel] | None = None
        self._unkept = Unkept()
        self._began_s: float | None = None
        self._due_s: dict[str, float] = {}

    def look(self, now: Stamp) -> None:
        """Read the channels, keep what is to be told, answer a test, ping, send one message."""
        if self._began_s is None:
            self._began_s = now.uptime_s
        board = read_board(self._live_folder)
        self._tell_unkept(board, now)
        self._read_channels()
        self._gather(board, now)
        if self._answer_a_test(now):
            return
        self._ping(board, now)
        turn = self._next_turn(now)
        if turn:
            self._take(turn, now)

    def _gather(self, board: LiveBoard | None, now: Stamp) -> None:
        watched_s = now.uptime_s - (self._began_s or 0.0)
        # Each time: where it could not be kept at the start, an old log would be told as news.
        self._gathering.begin(now)
        self._keep_checked()
        self._gathering.controller(board, now, watched_s=watched_s)
        self._gathering.alarms(now)
        if self._is_due("day", DAY_EVERY_S, now):
            self._gathering.day(now)
            if self._alive:
                weekday, at = self._alive
                self._gathering.alive(board, now, weekday=weekday, at=at)
        if self._is_due("forecasts", FORECASTS_EVERY_S, now):
            self._gathering.forecasts(now)

    def _is_due(self, what: str, every_s: float, now: Stamp) -> bool:
        if now.uptime_s < self._due_s.get(what, now.uptime_s):
            return False
        self._due_s[what] = now.uptime_s + every_s
        return True

    def _read_channels(self) -> None:
        """Read the file where it has changed; while it cannot be read, nothing is given up."""
        if self._channels_file is None:
            if self._file_seen is None:
                self._file_seen = "none"
                self._know(NONE)
            return
        seen: object = "missing"
        with suppress(OSError):
            found = self._channels_file.stat()
            seen = (found.st_mtime_ns, found.st_size, found.st_mode, found.st_uid, found.st_ino)
        if seen == self._file_seen:
            return
        self._file_seen = seen
        try:
            self._know(read_channels(self._channels_file))
        except SettingsError as fault:
            self._addresses = NONE
            self._file_fault = str(fault)
            for line in fault.faults:
                LOG.warning("%s", line)

    def _know(self, addresses: Addresses) -> None:
        self._addresses, self._file_fault = addresses, ""
        checked = [
            Channel(
                name=one.name,
                scheme=one.scheme,
                least=one.least,
                fault=self._carrier.check(addresses.secrets[one.name]).why,
            )
            for one in addresses.channels
        ]
        for one in checked:
            if one.fault:
                LOG.warning("channel %r: %s", one.name, one.fault)
        self._checked = self._gathering.channels = checked

    def _keep_checked(self) -> None:
        """Store what came of reading the channels; kept in mind until the store takes it."""
        if self._checked is not None:
            keep_channels(self._db, self._checked)
            self._checked = None
        keep_mark(self._db, CHANNELS_FAULT, self._file_fault)

    def _next_turn(self, now: Stamp) -> Turn | None:
        lines = [
            Line(
                channel=channel.name,
                waiting=deliveries.waiting_on(self._db, channel.name),
                open=deliveries.open_messages(self._db, channel.name),
                recent=deliveries.newest_messages(
                    self._db, channel.name, most=self._rules.most_per_hour + MOST_OPEN
                ),
            )
            for channel in self._gathering.channels
            if channel.name in self._addresses.secrets
        ]
        return next_turn(lines, self._rules, now=now, local=self._local(now))

    def _local(self, now: Stamp) -> time:
        return now.at.astimezone(self._house.zone).time()

    def _take(self, turn: Turn, now: Stamp) -> None:
        if turn.again:
            message = deliveries.begin_again(self._db, turn.again.number, stamp=now)
        else:
            message = deliveries.begin(
                self._db,
                turn.channel,
                [one.number for one in by_urgency(turn.new)],
                token=secrets.token_hex(16),
                high=turn.high,
                stamp=now,
            )
        notices = deliveries.notices_in(self._db, message.number)
        sent = self._carrier.send(
            self._addresses.secrets[message.channel],
            letter_of(notices, self._house),
            urgency=min(notices, key=lambda one: list(Urgency).index(one.urgency)).urgency,
            token=message.token,
        )
        self._end_try(message, sent, now)

    def _end_try(self, message: Message, sent: Sent, now: Stamp) -> None:
        state = State.DELIVERED if sent.delivered else State.WAITING
        if not sent.delivered and message.tries >= MOST_TRIES:
            state = State.GIVEN_UP
        deliveries.end_try(self._db, message.number, state, sent.why, stamp=now)
        if sent.why:
            LOG.warning("channel %r, try %d: %s", message.channel, message.tries, sent.why)

    def _tell_unkept(self, board: LiveBoard | None, now: Stamp) -> None:
        """Tell straight from the board where the disk takes nothing; see `unkept`."""
        found = unkept_alarms(board, fresh=is_fresh(board, now))
        if (
            found
            and urgency_of(found) is not Urgency.HIGH
            and self._rules.is_quiet(self._local(now))
        ):
            return
        for channel in self._addresses.channels:
            if self._unkept.next_for(channel, found, now.uptime_s):
                sent = self._carrier.send(
                    self._addresses.secrets[channel.name],
                    letter_unkept(found, site=self._gathering.site, house=self._house),
                    urgency=urgency_of(found),
                    token=secrets.token_hex(16),
                )
                self._unkept.tried(channel.name, found, delivered=sent.delivered, at_s=now.uptime_s)
                return  # one at a time: what else is to be told waits for one try at most

    def _answer_a_test(self, now: Stamp) -> bool:
        """Send a test where one is asked for; whether there was one."""
        asked = open_asks(self._db)
        if not asked:
            return False
        first = asked[0]
        if first.expired(now.at):
            answer_ask(self._db, first.number, TOO_LATE, now=now.at)
            return False
        said = send_tests(
            self._addresses,
            self._carrier,
            letter=letter_for_a_test(self._house, asked_by=first.asked_by, at=now.at),
        )
        told = "\n".join(f"{name}: {why or 'delivered'}" for name, why in said.items())
        answer = told or self._file_fault or "No channel is set up, so nothing was sent."
        answer_ask(self._db, first.number, answer, now=now.at)
        return True

    def _ping(self, board: LiveBoard | None, now: Stamp) -> None:
        if self._addresses.ping is None or not is_fresh(board, now):
            return  # the other box shall miss it when the controller is gone
        if self._is_due("ping", self._ping_every_s, now):
            sent = self._carrier.ping(self._addresses.ping)
            keep_mark(self._db, PINGED, {"ms": round(now.at.timestamp() * 1000), "why": sent.why})
            if sent.why:
                LOG.warning("ping: %s", sent.why)


def send_tests(
    addresses: Addresses, carrier: Carries, *, letter: Letter, only: Sequence[str] = ()
) -> Mapping[str, str]:
    """Send a test now on every channel, or on some; return why not by name, '' for delivered."""
    return {
        channel.name: carrier.send(
            addresses.secrets[channel.name],
            letter,
            urgency=Urgency.LOW,
            token=secrets.token_hex(16),
        ).why
        for channel in addresses.channels
        if not only or channel.name in only
    }
