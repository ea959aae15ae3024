"""How an interface speaks: where each channel stands in what it sends, kept as a small TOML file."""

from __future__ import annotations

import contextlib
import os
import re
from math import isfinite
from pathlib import Path
from typing import Literal

import msgspec
import tomli_w

from benchtemp.errors import BadInput, StorageError
from benchtemp.places import resources_dir
from benchtemp.toml_text import parse_toml

LARGEST_FILE_BYTES = 64 * 1024
MOST_CHANNELS = 8

ChannelUnit = Literal["degC", "degF", "K", "mV"]
TemperatureUnit = Literal["degC", "degF", "K"]
WeightUnit = Literal["g", "kg", "oz", "lb"]
LineEnd = Literal["LF", "CR", "CRLF", "none"]
LINE_END_BYTES: dict[LineEnd, bytes] = {"LF": b"\n", "CR": b"\r", "CRLF": b"\r\n", "none": b""}


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A part of a layout: unchangeable, and a misspelt entry in its file is refused."""


class Wire(Part, frozen=True, kw_only=True):
    """How characters travel on the serial line."""

    baud: int = 9600
    data_bits: Literal[5, 6, 7, 8] = 8
    parity: Literal["none", "even", "odd", "mark", "space"] = "none"
    stop_bits: Literal[1, 2] = 1

    def __post_init__(self) -> None:
        """Refuse a rate no interface has.

        Raises:
            BadInput: The baud rate is outside 50 to 4 000 000.
        """
        if not 50 <= self.baud <= 4_000_000:
            raise BadInput(f"No interface sends at {self.baud} baud; give a rate of 50 to 4000000.")

    @property
    def character_s(self) -> float:
        """Return how long one character takes, start and stop bits included, s."""
        return (1 + self.data_bits + (self.parity != "none") + self.stop_bits) / self.baud


class Place(Part, frozen=True, kw_only=True):
    """Where a value stands in a line; exactly one of the three.

    Attributes:
        field: Number of the field after splitting at the layout's separator; the first is 1.
        label: Text before the value, as `T1` in `T1=93.2`.
        key: Key of a JSON object, with dots to reach into objects and lists inside (`probe.0.temp`).
    """

    field: int | None = None
    label: str | None = None
    key: str | None = None

    def __post_init__(self) -> None:
        """Refuse places nothing can stand at.

        Raises:
            BadInput: A field below 1, an empty label or an empty key.
        """
        if self.field is not None and not 1 <= self.field <= 1000:
            raise BadInput(f"A layout names field {self.field}; fields are counted from 1.")
        if self.label is not None and not self.label.strip():
            raise BadInput("A layout has an empty label; write the text that stands before the value.")
        if self.key is not None and not self.key:
            raise BadInput("A layout has an empty key; write the key of the JSON object.")

    @property
    def form(self) -> str:
        """Return which of the three is given, or an empty text where it is none or several."""
        given = [name for name in ("field", "label", "key") if getattr(self, name) is not None]
        return given[0] if len(given) == 1 else ""


class Register(Part, frozen=True, kw_only=True):
    """Where a value stands in a Modbus instrument.

    Attributes:
        address: First register, counted from 0 (documents that count 40001 mean 0).
        function: 3 reads holding registers, 4 input registers.
        number: How the value is kept.
        order: Order of the four bytes A (highest) to D of a two-register number as they are sent; for
            one register only whether A comes first (`ABCD`, `CDAB`) or B (`BADC`, `DCBA`).
        scale: What the number is multiplied by, 0.1 for tenths.
        offset: What is added after that, in the channel's unit.
        unit_address: The instrument's address on the bus where it differs from the layout's.
        none_values: Whole numbers that mean "no reading", before scaling; without them the usual ones (the
            largest and the smallest whole number of that kind).
    """

    address: int
    function: Literal[3, 4] = 3
    number: Literal["int16", "uint16", "int32", "float32"] = "float32"
    order: Literal["ABCD", "CDAB", "BADC", "DCBA"] = "ABCD"
    scale: float = 1.0
    offset: float = 0.0
    unit_address: int | None = None
    none_values: tuple[int, ...] | None = None

    def __post_init__(self) -> None:
        """Refuse what the protocol does not know.

        Raises:
            BadInput: An address outside 0 to 65535, or a scale that is not a number.
        """
        if not 0 <= self.address <= 0xFFFF:
            raise BadInput(f"Register {self.address} does not exist; addresses run from 0 to 65535.")
        if self.unit_address is not None:
            _check_unit_address(self.unit_address)
        if not (isfinite(self.scale) and self.scale and isfinite(self.offset)):
            raise BadInput(f"Register {self.address} has a scale or an offset that makes no temperature.")

    @property
    def count(self) -> int:
        """Return how many registers the number takes."""
        return 2 if self.number in ("int32", "float32") else 1


class Channel(Place, frozen=True, kw_only=True):
    """One temperature: where it stands and in which unit it is sent (unless a unit follows the value)."""

    unit: ChannelUnit = "degC"
    register: Register | None = None


class Weight(Place, frozen=True, kw_only=True):
    """A weight: where it stands and in which unit it is sent (unless a unit follows the value)."""

    unit: WeightUnit = "g"


class Junction(Place, frozen=True, kw_only=True):
    """The reference junction's temperature, which a voltage in mV needs."""

    unit: TemperatureUnit = "degC"


class Layout(Part, frozen=True, kw_only=True):
    """How an interface speaks.

    Attributes:
        name: What a person picks it by.
        description: A sentence or two about what it fits.
        kind: `lines` (one line per reading), `modbus` (asked by Modbus RTU) or `scale` (weights alone).
        separator: What stands between fields; empty for any run of spaces or tabs.
        decimal: The sign before decimals. With a comma, the separator must be something else.
        fields: How many fields a line has; a line with another number is no reading. 0 for any.
        channels: One to eight temperatures, T1 first; none for a scale.
        weight: A weight in the same line.
        junction: The reference junction in the same line, for channels in mV.
        junction_degc: The reference junction's temperature where it is not sent, °C.
        request: What is sent to ask for one reading; empty where the interface speaks by itself.
        line_end: What is sent after the request. Received lines may end in any way.
        period_s: Time from one question to the next, s; 0 to ask again as soon as the answer is there.
        reply_s: How long an answer may take, s.
        unit_address: The instrument's address on a Modbus line.
        tare: What is sent to set a scale to zero; empty where it knows no such command.
        wire: Baud rate and the like.
    """

    name: str
    description: str = ""
    kind: Literal["lines", "modbus", "scale"] = "lines"
    separator: str = ","
    decimal: Literal[".", ","] = "."
    fields: int = 0
    channels: tuple[Channel, ...] = ()
    weight: Weight | None = None
    junction: Junction | None = None
    junction_degc: float = 0.0
    request: str = ""
    line_end: LineEnd = "LF"
    period_s: float = 0.0
    reply_s: float = 0.5
    unit_address: int = 1
    tare: str = ""
    wire: Wire = Wire()

    def __post_init__(self) -> None:
        """Refuse what contradicts itself.

        Raises:
            BadInput: With the contradiction.
        """
        problem = self._problem()
        if problem:
            raise BadInput(f"The layout “{self.name}” cannot be used: {problem}.")

    def _problem(self) -> str:
        if not self.name.strip() or len(self.name) > 200:
            return "it needs a name of at most 200 characters"
        if not (isfinite(self.period_s) and 0 <= self.period_s <= 3600):
            return f"a period of {self.period_s} s is not between 0 and 3600 s"
        if not (isfinite(self.reply_s) and 0.01 <= self.reply_s <= 60):
            return f"a reply time of {self.reply_s} s is not between 0.01 and 60 s"
        if not (isfinite(self.junction_degc) and -270 <= self.junction_degc <= 1372):
            return f"a reference junction at {self.junction_degc} °C is outside -270 to 1372 °C"
        if self.kind == "scale":
            return self._scale_problem()
        if not 1 <= len(self.channels) <= MOST_CHANNELS:
            return f"it has {len(self.channels)} channels where 1 to {MOST_CHANNELS} are possible"
        return self._modbus_problem() if self.kind == "modbus" else self._lines_problem()

    def _scale_problem(self) -> str:
        if self.channels or self.junction:
            return "a scale has no temperature channels (kind = “lines” takes temperatures and a weight)"
        if self.weight and self.weight.form not in ("", "field"):
            return "a scale's weight stands at a field or, without one, anywhere in its line"
        return self._separator_problem()

    def _modbus_problem(self) -> str:
        if any(channel.register is None or any(place_of(channel)) for channel in self.channels):
            return "every channel of a Modbus layout needs a register, and neither field, label nor key"
        if any(channel.unit == "mV" for channel in self.channels):
            return "a voltage cannot be read by Modbus; read the instrument's temperature register"
        if self.weight or self.junction:
            return "a Modbus layout has temperature channels only"
        if self.request:
            return "a Modbus layout has registers instead of a request"
        return _unit_address_problem(self.unit_address)

    def _lines_problem(self) -> str:
        places = self.places()
        if any(channel.register is not None for channel in self.channels):
            return "only a Modbus layout (kind = “modbus”) has registers"
        if any(not place.form for place in places):
            return "every value needs exactly one of field, label or key"
        if len({place.form for place in places}) > 1:
            return "all its values must be found the same way: by field, by label or by key"
        if len(set(map(place_of, places))) < len(places):
            return "two of its values stand at the same place"
        if self.fields and max(place.field or 0 for place in places) > self.fields:
            return f"it names a field beyond the {self.fields} a line has"
        return self._separator_problem()

    def _separator_problem(self) -> str:
        if not 0 <= self.fields <= 1000:
            return f"a line cannot have {self.fields} fields"
        if len(self.separator) > 8 or re.search(r"[0-9.+\r\n]", self.separator):
            return "the separator must be at most 8 characters, without digits, dots, plus signs or line ends"
        if not self.separator.isascii():
            return "the separator must be a plain ASCII sign"
        if self.decimal == "," and "," in self.separator:
            return "a comma cannot stand both before decimals and between fields"
        return ""

    def places(self) -> tuple[Place, ...]:
        """Return where everything stands: the channels, then weight and reference junction if given."""
        return (*self.channels, *(place for place in (self.weight, self.junction) if place is not None))

    @property
    def channel_names(self) -> tuple[str, ...]:
        """Return the columns its channels go to: T1, T2 and so on."""
        return tuple(f"T{number}" for number in range(1, len(self.channels) + 1))

    @property
    def request_bytes(self) -> bytes:
        """Return the bytes that ask for one reading; empty where none are needed."""
        return self._command(self.request)

    @property
    def tare_bytes(self) -> bytes:
        """Return the bytes that set a scale to zero; empty where it knows no such command."""
        return self._command(self.tare)

    def _command(self, text: str) -> bytes:
        return text.encode() + LINE_END_BYTES[self.line_end] if text else b""


def place_of(place: Place) -> tuple[int | None, str | None, str | None]:
    """Return field, label and key of a place, to compare two of them."""
    return place.field, place.label, place.key


def _unit_address_problem(unit_address: int) -> str:
    if not 1 <= unit_address <= 247:
        return f"a unit address of {unit_address} is not between 1 and 247"
    return ""


def _check_unit_address(unit_address: int) -> None:
    problem = _unit_address_problem(unit_address)
    if problem:
        raise BadInput(f"A register cannot be read: {problem}.")


def load_layout(path: Path) -> Layout:
    """Read a layout file.

    Args:
        path: A TOML file of at most 64 kB.

    Raises:
        BadInput: It is missing, too large, not TOML, or not a layout; the sentence says which.
    """
    try:
        if path.exists() and not path.is_file():  # opening a pipe would wait for ever
            raise BadInput(
                f"The layout file {path} cannot be read: it is a folder or a device; choose another one."
            )
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except FileNotFoundError:
        raise BadInput(f"There is no layout file {path}; give the name of one that exists.") from None
    except (OSError, ValueError) as exc:
        raise BadInput(f"The layout file {path} cannot be read ({exc}); choose another one.") from exc
    if len(content) > LARGEST_FILE_BYTES:
        raise BadInput(f"The file {path} is too large for a layout; choose one of at most 64 kB.")
    return layout_from_toml(content, str(path))


def layout_from_toml(content: bytes, called: str) -> Layout:
    """Read a layout from the content of its file.

    Args:
        content: TOML in UTF-8.
        called: What an error's sentence calls the file.

    Raises:
        BadInput: It is not TOML or not a layout.
    """
    try:
        table = parse_toml(content)
    except UnicodeDecodeError:
        raise BadInput(f"The layout file {called} is not UTF-8 text; save it as UTF-8.") from None
    except ValueError as exc:
        raise BadInput(f"The layout file {called} is not valid TOML: {exc}; correct it there.") from exc
    try:
        return msgspec.convert(table, Layout)
    except (msgspec.ValidationError, OverflowError) as exc:
        problem = _in_words(str(exc))
        raise BadInput(f"The layout file {called} cannot be used: {problem}; correct it there.") from exc
    except BadInput as exc:
        raise BadInput(f"The layout file {called} cannot be used as it is: {exc}") from exc


def _in_words(problem: str) -> str:
    """Turn the checker's wording into the reader's: entries instead of objects, names instead of paths."""
    problem = problem.replace("Object contains unknown field", "there is no entry")
    problem = problem.replace("Object missing required field", "it lacks the entry")
    problem = re.sub(r"`\$\.?([^`]*)`", lambda found: f"“{found[1]}”" if found[1] else "the top", problem)
    return re.sub(r"`([^`]*)`", r"“\1”", problem)


def save_layout(layout: Layout, path: Path) -> None:
    """Write a layout file; it appears whole or not at all.

    Raises:
        StorageError: The disk does not take it.
    """
    content = tomli_w.dumps(msgspec.to_builtins(layout)).encode()
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with beside.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as exc:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        raise StorageError(f"The layout could not be saved as {path} ({exc}); choose another place.") from exc


def shipped_layouts() -> dict[str, Layout]:
    """Return the ready-made layouts that come with the program by their short names, in that order."""
    return {path.stem: load_layout(path) for path in sorted((resources_dir() / "layouts").glob("*.toml"))}


def shipped_layout(name: str) -> Layout:
    """Return a ready-made layout by its short name (`scale`) or by its full one.

    Raises:
        BadInput: There is none of that name; the sentence lists those there are.
    """
    layouts = shipped_layouts()
    for short, layout in layouts.items():
        if name in (short, layout.name):
            return layout
    raise BadInput(f"There is no layout “{name}”; name a layout file or one of {', '.join(layouts)}.")
