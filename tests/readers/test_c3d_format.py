"""The C3D format: every processor and both kinds of figures, and the same as a library of long standing."""

from __future__ import annotations

from pathlib import Path

import ezc3d
import numpy as np
import pytest

import pacewright
from pacewright.readers.c3d_format import parse_c3d
from tests.readers import lab

SERVE = Path(pacewright.__file__).parent / "app" / "data" / "real" / "serve" / "serve.c3d"


@pytest.mark.parametrize("analog_words", [0, 6])
@pytest.mark.parametrize("floats", [True, False], ids=["floats", "integers"])
@pytest.mark.parametrize("processor", [84, 85, 86], ids=["Intel", "DEC", "MIPS"])
def test_every_processor_and_kind_of_figure(processor: int, floats: bool, analog_words: int) -> None:
    rng = np.random.default_rng(7)
    places = rng.normal(0, 800, (40, 3, 3))
    places[5:9, 1] = np.nan
    labels = ["toe", "a long name", "ball"]
    points = parse_c3d(
        lab.c3d_bytes(places, labels, processor=processor, floats=floats, analog_words=analog_words)
    )
    assert points.labels == tuple(labels)
    assert (points.rate_hz, points.unit) == (120.0, "mm")
    np.testing.assert_allclose(points.places, places, atol=1e-4 if floats else 0.0501)
    assert np.isnan(points.places[5:9, 1]).all()
    assert np.isfinite(points.places[:, [0, 2]]).all()


def test_a_real_file_is_read_as_the_library_reads_it() -> None:
    points, file = parse_c3d(SERVE.read_bytes()), ezc3d.c3d(str(SERVE))
    np.testing.assert_array_equal(points.places, file["data"]["points"][:3].transpose(2, 1, 0))
    assert list(points.labels) == file["parameters"]["POINT"]["LABELS"]["value"]
    assert points.rate_hz == file["header"]["points"]["frame_rate"]


def test_more_labels_than_one_parameter_holds(tmp_path: Path) -> None:
    path = tmp_path / "long.c3d"
    names = [f"M{k}" for k in range(300)]
    file = ezc3d.c3d()
    file["parameters"]["POINT"]["RATE"]["value"] = [100.0]
    file["parameters"]["POINT"]["LABELS"]["value"] = names[:255]
    file.add_parameter("POINT", "LABELS2", names[255:])
    file["data"]["points"] = np.ones((4, 300, 20)) * np.arange(300)[:, None]
    file.write(str(path))
    points = parse_c3d(path.read_bytes())
    assert points.labels == tuple(names)
    np.testing.assert_array_equal(points.places[:, 299, 0], 299.0)


def test_more_frames_than_16_bits_hold() -> None:
    frames = 65_700
    places = np.arange(frames, dtype=float)[:, None, None] * np.ones((1, 1, 3))
    np.testing.assert_array_equal(parse_c3d(lab.c3d_bytes(places, ["only"])).places, places)


def test_markers_without_a_name_get_a_number() -> None:
    points = parse_c3d(lab.c3d_bytes(np.ones((30, 2, 3)), ["", "b"]))
    assert points.labels == ("marker 1", "b")
