"""From a file to settings, or to the list of everything that is wrong with it."""

import tomllib
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_origin

from pydantic import BaseModel, ValidationError

from hangroom.errors import SettingsError
from hangroom.pins import PINS, check_pin, wired_pins
from hangroom.settings.sensors import address_faults
from hangroom.settings.tables import Settings

TIMES_OF_DAY = frozenset({"at", "summary_at", "quiet_from", "quiet_until", "alive_at"})


def read_settings(path: Path) -> Settings:
    """Return the settings in a TOML file; SettingsError lists every fault with its remedy."""
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors begin a file with a mark
    except FileNotFoundError:
        raise SettingsError(
            [f"{path}: there is no such file. Write one (the README has an example to start from)."]
        ) from None
    except (OSError, UnicodeDecodeError) as fault:
        raise SettingsError([f"{path}: cannot be read ({fault}). Check the file."]) from None
    try:
        tables = tomllib.loads(text)
    except ValueError as fault:  # mostly TOMLDecodeError; a number of 5000 digits is a plain one
        raise SettingsError([f"{path}: is not TOML ({fault}). Mend that line first."]) from None
    return check_settings(tables, source=str(path))


def check_settings(tables: Mapping[str, Any], *, source: str) -> Settings:
    """Return the settings in parsed tables; `source` names them in every fault."""
    faults = [*_pin_faults(tables), *address_faults(tables)]
    try:
        settings = Settings.model_validate(tables)
    except ValidationError as refused:
        faults = [fault for error in refused.errors() for fault in _sentences(error)] + faults
    else:
        if not faults:
            return settings
    raise SettingsError([f"{source}: {fault.rstrip('.')}." for fault in faults])


def _sentences(error: Mapping[str, Any]) -> Iterator[str]:
    *table, key = (str(part) for part in error["loc"]) if error["loc"] else ("",)
    if table[-1:] == ["at"]:
        table, key = table[:-1], "at"  # one of several times
    where = ".".join([*table, key]).removesuffix(".[key]")
    match error["type"]:
        case "extra_forbidden":
            known = _known_keys(table)
            near = get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]!r}?" if near else "remove it."
            yield (
                f"{'.'.join(table) or 'the file'} has no setting {key!r}; {hint} "
                f"Known: {', '.join(known)}"
            )
        case "missing":
            yield f"{where} is missing; add it."
        case "value_error":
            message = str(error["msg"]).removeprefix("Value error, ")
            for line in message.splitlines():
                yield f"{where} {line}" if line.startswith("has ") else f"{where}: {line}"
        case "string_pattern_mismatch" if key in TIMES_OF_DAY:
            yield f"{where} ({error['input']!r}) is no time of day; write it like '08:00'."
        case "string_pattern_mismatch":
            yield (
                f"{where} is no name; use small letters, digits, - and _, starting with a letter."
            )
        case _:
            yield f"{where} ({error['input']!r}): {_said(str(error['msg']))}"


def _said(message: str) -> str:
    return message.replace("Input should be", "must be") + "."


def _known_keys(table: list[str]) -> list[str]:
    """Return the keys of the table at this place of the file, for the fault's sentence."""
    model: type[BaseModel] = Settings
    parts = iter(table)
    for part in parts:
        annotation = model.model_fields[part].annotation
        model = next(_models_in(annotation))
        if get_origin(annotation) is dict:
            next(parts, None)  # a name the keeper chose
    return sorted(model.model_fields)


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:  # noqa: ANN401 - a type expression
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from _models_in(inner)


def _pin_faults(tables: Mapping[str, Any]) -> Iterator[str]:
    """Check the pins of all rooms together.

    Done on the bare tables, so that a fault elsewhere in the file does not hide these.
    """
    users: dict[int, str] = {}
    for where, pin, active_high in wired_pins(tables):
        table, _dot, part = where.rpartition(".")
        what = part if table == "bell" else "sensor" if active_high is None else "relay"
        if active_high is not None:
            fault = check_pin(pin, active_high=active_high, what=what)
        else:
            fault = _read_pin_fault(pin, what)
        if fault:
            yield f"{where}.pin: {fault}"
        if pin in users:
            yield f"{where}.pin: pin {pin} is already used by {users[pin]}; give each its own."
        else:
            users[pin] = where


def _read_pin_fault(pin: int, what: str) -> str | None:
    if pin not in PINS:
        return f"GPIO {pin} does not exist; the header has GPIO 0 to 27."
    never = PINS[pin].never
    return f"GPIO {pin} cannot carry a {what}: {never}; use another." if never else None
