"""Saved profiles: kept as they were said, completed by what is said now, refused when they make no sense."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.errors import SettingsError
from pacewright.readers import ReadOptions, profiles, read

NAMES = st.text(
    alphabet=st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), min_size=1, max_size=12
)


@settings(max_examples=60, deadline=None)
@given(
    columns=st.dictionaries(st.sampled_from(["time_ms", "head_x_mm", "gyro_x_deg_s"]), NAMES, max_size=3),
    rate_hz=st.one_of(st.none(), st.floats(1, 5000)),
    marker=st.one_of(st.none(), NAMES),
    left_handed=st.booleans(),
)
def test_a_profile_is_kept_as_it_was_said(
    tmp_path_factory: pytest.TempPathFactory,
    columns: dict[str, str],
    rate_hz: float | None,
    marker: str | None,
    left_handed: bool,
) -> None:
    folder = tmp_path_factory.mktemp("profiles")
    options = ReadOptions(
        columns=columns, rate_hz=rate_hz, marker=marker, left_handed=left_handed, decimal=","
    )
    path = profiles.save_profile("lab", options, folder)
    assert path == folder / "lab.toml"
    assert profiles.load_profile("lab", folder) == options
    assert profiles.list_profiles(folder) == ["lab"]
    assert list(folder.iterdir()) == [path]


def test_what_is_said_now_goes_before_the_profile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(profiles, "profile_folder", lambda: tmp_path)
    profiles.save_profile(
        "my sensor", ReadOptions(columns={"time_ms": "T", "head_x_mm": "P"}, left_handed=True)
    )
    text = "T,P,Q\n" + "".join(f"{k * 5},{k % 7 * 10},{k % 7}\n" for k in range(50))
    recording = read(io.StringIO(text), ReadOptions(profile="my sensor"))
    assert recording.mirrored
    assert recording.rate_hz == pytest.approx(200)
    assert recording.traces["head"].values[3, 0] == pytest.approx(0.03)
    own = read(io.StringIO(text), ReadOptions(profile="my sensor", columns={"head_x_mm": "Q"}))
    assert own.traces["head"].values[3, 0] == pytest.approx(0.003)
    assert own.provenance.settings["profile"] == "my sensor"


def test_a_profile_that_is_not_there_or_makes_no_sense(tmp_path: Path) -> None:
    profiles.save_profile("one", ReadOptions(), tmp_path)
    with pytest.raises(SettingsError, match=r"no profile 'two'; kept are: one\."):
        profiles.load_profile("two", tmp_path)
    for text, why in {
        "columns = 3 =": "not a profile",
        "colour = 'red'": "'colour' is no option of a profile",
        "rate_hz = 'fast'": "wrong type",
        "columns = 'x'": "wrong type",
        "rate_hz = -4": "makes no sense",
    }.items():
        (tmp_path / "bad.toml").write_text(text)
        with pytest.raises(SettingsError, match=why):
            profiles.load_profile("bad", tmp_path)
    with pytest.raises(SettingsError, match="is not a name of a column"):
        profiles.save_profile("x", ReadOptions(columns={"nothing": "x"}), tmp_path)


@pytest.mark.parametrize("name", ["", "../up", "a/b", ".hidden", "x" * 99])
def test_a_name_that_is_no_file_name_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="is no name for a profile"):
        profiles.save_profile(name, ReadOptions(), tmp_path)
