"""The channels' file: addresses, which are secrets, read by the notices' own user and nobody else.

What is wrong with it is said by a channel's name and the kind of its service. No part of an address
gets into a sentence, a log or the store: it may hold a password or a token.
"""

import os
import re
import stat
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hangroom.errors import SettingsError
from hangroom.product.notice import Channel, Urgency

NAME = re.compile(r"[a-z][a-z0-9_-]{0,30}")
SCHEME = re.compile(r"([a-z][a-z0-9]{0,29})://", re.IGNORECASE)
LEAST = {str(urgency) for urgency in Urgency}
KEYS = {"name", "address", "least"}

# Read by group or others, or written by them: then it is no secret any more.
NOBODY_ELSE = stat.S_IRWXG | stat.S_IRWXO

MOST_BYTES = 100_000


@dataclass(frozen=True, slots=True)
class Secret:
    """An address. Shows itself to nobody: not in a log, an error or a trace."""

    address: str

    def __repr__(self) -> str:
        return "Secret(...)"

    __str__ = __repr__


@dataclass(frozen=True, slots=True, kw_only=True)
class Addresses:
    """What the file holds: channels, the address of each by name, and where to ping, or None."""

    channels: Sequence[Channel]
    secrets: Mapping[str, Secret]
    ping: Secret | None


NONE = Addresses(channels=(), secrets={}, ping=None)


def read_channels(file: Path) -> Addresses:
    """Return what stands in the channels' file; SettingsError names every fault, and no secret."""
    try:
        text = _read_private(file)
        tables = tomllib.loads(text.decode("utf-8-sig"))
    except FileNotFoundError:
        raise _fault(
            file,
            "there is no such file. Write it (the README shows one), or take"
            " notices.channels_file out of the settings; no notice is sent until then.",
        ) from None
    except PermissionError:
        raise _fault(
            file,
            "may not be read by this user, so its channels are not checked and nothing is sent by"
            " it. It should be the notices' user's alone, who is asked like this: sudo chown"
            f" hangroom-notices {file} && sudo -u hangroom-notices hangroom check --settings FILE.",
        ) from None
    except OSError as fault:
        raise _fault(file, f"cannot be read ({fault.strerror}).") from None
    except UnicodeDecodeError:
        raise _fault(file, "is no UTF-8 text. Save it as UTF-8.") from None
    except tomllib.TOMLDecodeError as fault:
        # Of what the reader says only the place: the line itself may hold a secret.
        place = re.search(r"at (?:line \d+, column \d+|end of document)", str(fault))
        where = f" ({place[0]})" if place else ""
        raise _fault(file, f"is not TOML{where}. Mend that line first.") from None
    faults = [f"{file}: {fault}" for fault in _faults(tables)]
    if faults:
        raise SettingsError(faults)
    return _addresses(tables)


def _fault(file: Path, said: str) -> SettingsError:
    return SettingsError([f"{file}: {said}"])


def _read_private(file: Path) -> bytes:
    number = os.open(file, os.O_RDONLY | os.O_CLOEXEC)
    with os.fdopen(number, "rb") as opened:
        mode = stat.S_IMODE(os.fstat(number).st_mode)
        if mode & NOBODY_ELSE:
            raise _fault(
                file,
                f"others than its owner may read or write it (mode {mode:04o}), and it holds"
                " passwords. Give it to the notices' user alone: sudo chown hangroom-notices"
                f" {file} && sudo chmod 600 {file}. Nothing is sent until then.",
            )
        text = opened.read(MOST_BYTES + 1)
    if len(text) > MOST_BYTES:
        raise _fault(file, "is longer than any list of channels. Is it the right file?")
    return text


def _faults(tables: Mapping[str, Any]) -> Iterator[str]:
    unknown = len(tables.keys() - {"channel", "ping_url"})
    if unknown:
        yield (
            f"{unknown} of its entries are neither [[channel]] nor ping_url; remove or mend them."
        )
    ping = tables.get("ping_url")
    if ping is not None and not _is_web(ping):
        yield "ping_url is no web address; it must begin with http:// or https://."
    found = tables.get("channel", [])
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        yield "channels are written as [[channel]], each with name, address and least."
        return
    names: set[str] = set()
    for number, one in enumerate(found, 1):
        name = one.get("name")
        if not isinstance(name, str) or not NAME.fullmatch(name):
            yield (
                f"channel {number} has no usable name; use small letters, digits, - and _,"
                " beginning with a letter."
            )
            where = f"channel {number}"
        else:
            where = f"channel {name!r}"
            if name in names:
                yield f"{where} stands there twice; give each its own name."
            names.add(name)
        if one.keys() - KEYS:
            yield f"{where} has entries that are none of name, address and least; remove them."
        if one.get("least", "low") not in LEAST:
            yield f"{where}: least must be low, medium or high."
        address = one.get("address")
        if not isinstance(address, str) or not SCHEME.match(address):
            yield (
                f"{where} has no usable address; it begins with a kind of service, as"
                " mailtos://, ntfys:// or json://."
            )


def _addresses(tables: Mapping[str, Any]) -> Addresses:
    found = tables.get("channel", [])
    return Addresses(
        channels=[
            Channel(
                name=one["name"],
                scheme=_scheme(one["address"]),
                least=Urgency(one.get("least", "low")),
            )
            for one in found
        ],
        secrets={one["name"]: Secret(one["address"]) for one in found},
        ping=Secret(tables["ping_url"]) if tables.get("ping_url") else None,
    )


def _scheme(address: str) -> str:
    found = SCHEME.match(address)
    return found[1].lower() if found else ""


def _is_web(value: object) -> bool:
    return isinstance(value, str) and re.fullmatch(r"https?://[^\s/]\S*", value) is not None
