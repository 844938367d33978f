"""What a node says it has, and how the kit gets at its power, its lamps and its contacts: one small file.

TOML or JSON, flat; every key may be left out, and cases that need what is left out are NOT DECLARED.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from string import Formatter
from typing import Any, Literal

import msgspec
from msgspec import Struct

from signals.errors import BadInput, Finding

PLACES = ("host", "port", "user", "password", "data")
"""What `{…}` in a command may name: where the node finds its broker, as whom, and the data folder."""
COMMANDS = ("start", "stop", "restart", "fail_lamp", "mend_lamp", "press", "release", "short")


class Declared(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A node's declaration. Commands are run without a shell, `{host}` `{port}` `{user}` filled in.

    Without `start` the node runs already, or is switched on by hand. `restart` takes its power away
    and gives it back; a node that was started here is killed and started again instead.
    """

    title: str = ""
    start: str = ""
    stop: str = ""
    restart: str = ""
    fail_lamp: str = ""
    mend_lamp: str = ""
    press: str = ""
    release: str = ""
    short: str = ""
    inject: bool = False
    """It takes faults on `inject/<node>`, as our simulated nodes do."""
    witness: Literal["", "stdout"] = ""
    """Where the bench says what is really driven, apart from MQTT: lines `lamps h1 red` or `cap 7 12.5`."""
    test_lamps: bool = False
    ramp: bool = False


def read(path: Path) -> Declared:
    """Read a declaration.

    Raises:
        BadInput: no such file, not TOML or JSON, an unknown key, a wrong type, an unknown place.

    """
    try:
        text = path.read_text(encoding="utf-8")
        raw = json.loads(text) if path.suffix == ".json" else tomllib.loads(text)
    except (OSError, UnicodeError, ValueError) as wrong:
        raise BadInput([Finding(str(path), 0, "declaration", "", f"{wrong}; give TOML or JSON")]) from None
    if not isinstance(raw, dict):
        raise BadInput([Finding(str(path), 0, "declaration", "", "must be one table of keys")])
    if findings := [*_mistakes(path, raw)]:
        raise BadInput(findings)
    return msgspec.convert(raw, Declared)


def checked(declared: Declared, origin: str) -> Declared:
    """Give a declaration back if its commands name only what can be filled in. Raises BadInput."""
    if findings := [*_unfillable(origin, msgspec.to_builtins(declared))]:
        raise BadInput(findings)
    return declared


def _mistakes(path: Path, raw: dict[str, Any]) -> list[Finding]:
    known = {field.name: field for field in msgspec.structs.fields(Declared)}
    findings = []
    for key, value in raw.items():
        if key not in known:
            findings.append(Finding(str(path), 0, key, "", f"no such key; there are {', '.join(known)}"))
            continue
        try:
            msgspec.convert(value, known[key].type)
        except msgspec.ValidationError as wrong:
            findings.append(Finding(str(path), 0, key, repr(value), str(wrong)))
    return findings or _unfillable(str(path), raw)


def _unfillable(origin: str, raw: dict[str, Any]) -> list[Finding]:
    findings = []
    for key in COMMANDS:
        try:
            named = {name for _, name, _, _ in Formatter().parse(raw.get(key, "")) if name is not None}
        except ValueError as wrong:
            findings.append(Finding(origin, 0, key, repr(raw[key]), f"{wrong}; double a brace that is meant"))
            continue
        right = f"only {', '.join(f'{{{place}}}' for place in PLACES)} are filled in"
        findings += [Finding(origin, 0, key, f"{{{name}}}", right) for name in sorted(named - set(PLACES))]
    return findings
