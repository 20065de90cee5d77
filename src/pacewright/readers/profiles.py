"""Saved profiles: what a person said once about the files of one device, kept as TOML.

They lie in the user's configuration folder (``profiles/NAME.toml``), or in a folder that is given.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from pacewright.core.errors import SettingsError
from pacewright.readers.columns import mapped_target
from pacewright.readers.options import ReadOptions

_NAME = re.compile(r"[\w][\w .-]{0,60}")
_NOT_KEPT = frozenset({"profile", "progress", "drop_bad_rows"})


def profile_folder() -> Path:
    """Where profiles are kept."""
    from platformdirs import user_config_path

    return user_config_path("pacewright") / "profiles"


def save_profile(name: str, options: ReadOptions, folder: Path | None = None) -> Path:
    """Keep what ``options`` say beyond their defaults under ``name``; an older one is replaced."""
    path = _path(name, folder)
    for ours in options.columns:
        mapped_target(ours)
    lines = [
        f"{option} = {_toml(value)}"
        for option, value in _said(options).items()
        if option not in _NOT_KEPT and option != "columns"
    ]
    if options.columns:
        lines += [
            "",
            "[columns]",
            *(f"{_toml(ours)} = {_toml(theirs)}" for ours, theirs in options.columns.items()),
        ]
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".toml.new")
    unfinished.write_text("\n".join(lines) + "\n", encoding="utf-8")
    os.replace(unfinished, path)
    return path


def load_profile(name: str, folder: Path | None = None) -> ReadOptions:
    """The options kept under ``name``; SettingsError when there are none or they make no sense."""
    import tomllib

    path = _path(name, folder)
    if not path.is_file():
        kept = ", ".join(list_profiles(folder)) or "none"
        raise SettingsError(f"There is no profile '{name}'; kept are: {kept}.")
    try:
        kept_options: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path}: not a profile: {error}.") from error
    known = {option.name for option in fields(ReadOptions)} - _NOT_KEPT
    if strange := sorted(set(kept_options) - known):
        raise SettingsError(
            f"{path}: '{strange[0]}' is no option of a profile; use {', '.join(sorted(known))}."
        )
    for option, value in kept_options.items():
        if not _has_right_type(option, value):
            raise SettingsError(f"{path}: {option} = {value!r} has the wrong type.")
    return ReadOptions(**kept_options)


def list_profiles(folder: Path | None = None) -> list[str]:
    """Names of the profiles that are kept, in order."""
    return sorted(path.stem for path in (folder or profile_folder()).glob("*.toml"))


def with_profile(options: ReadOptions, folder: Path | None = None) -> ReadOptions:
    """The options, completed by the profile that they name; what they say themselves goes before."""
    if options.profile is None:
        return options
    profile = load_profile(options.profile, folder)
    columns = {**profile.columns, **options.columns}
    said = {name: value for name, value in _said(options).items() if name != "columns"}
    return replace(profile, **said, columns=columns, progress=options.progress)


def _said(options: ReadOptions) -> Mapping[str, Any]:
    default = ReadOptions()
    return {
        option.name: value
        for option in fields(options)
        if (value := getattr(options, option.name)) != getattr(default, option.name)
    }


def _has_right_type(option: str, value: object) -> bool:
    if option == "columns":
        return isinstance(value, dict) and all(isinstance(theirs, str) for theirs in value.values())
    if option == "left_handed":
        return isinstance(value, bool)
    number = option.endswith(("_hz", "_m", "_s"))
    return isinstance(value, int | float if number else str) and not isinstance(value, bool)


def _path(name: str, folder: Path | None) -> Path:
    if not _NAME.fullmatch(name):
        raise SettingsError(
            f"'{name}' is no name for a profile; use letters, digits, blanks, dots and dashes."
        )
    return (folder or profile_folder()) / f"{name}.toml"


def _toml(value: object) -> str:
    import json

    if isinstance(value, bool):
        return "true" if value else "false"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(value)
