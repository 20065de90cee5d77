"""The registry: readers are chosen by content, and one can be added as docs/extend-readers.md shows."""

from __future__ import annotations

import io
from pathlib import Path
from typing import BinaryIO

import numpy as np
import pytest

from pacewright.core.errors import ReadError
from pacewright.core.recording import Recording, Trace
from pacewright.readers import ReadOptions, Source, read, register, registered, registry
from tests.readers import lab

PAGE = Path(__file__).parents[2] / "docs" / "extend-readers.md"


@pytest.fixture(autouse=True)
def _registry_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(registry, "_readers", list(registered()))


class TickReader:
    name = "ticks"

    def recognises(self, head: bytes, options: ReadOptions) -> float:
        return 1.0 if head.startswith(b"TICK") else 0.0

    def read(self, stream: BinaryIO, source: Source, options: ReadOptions) -> Recording:
        if source.size_bytes < 5:
            raise source.error("no ticks.")
        x = np.frombuffer(stream.read()[4:], dtype=np.int8) * 0.001
        head = Trace(np.arange(x.size) / 100, x[:, None], ("x",))
        return Recording("trajectory", {"head": head}, source.provenance(self.name, options))


def test_a_reader_that_is_registered_is_chosen_by_content() -> None:
    data = b"TICK" + bytes(range(50))
    with pytest.raises(ReadError):
        read(io.BytesIO(data))
    register(TickReader())
    recording = read(io.BytesIO(data), ReadOptions(left_handed=True), name="x.dat")
    assert recording.provenance.reader == "ticks"
    assert recording.provenance.settings == {"left_handed": "True"}
    with pytest.raises(ReadError, match=r"^x\.dat: no ticks\.$"):
        read(io.BytesIO(b"TICK"), name="x.dat")


def test_a_reader_of_the_same_name_is_replaced() -> None:
    before = len(registered())
    register(TickReader())
    register(TickReader())
    assert len(registered()) == before + 1


def test_readers_of_installed_packages_are_asked_when_no_other_knows_the_file(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Point:
        def load(self) -> TickReader:
            return TickReader()

    asked: list[str] = []

    def entry_points(*, group: str) -> list[Point]:
        asked.append(group)
        return [Point()]

    monkeypatch.setattr("importlib.metadata.entry_points", entry_points)
    read(io.StringIO("time_s,head_x_m\n" + "".join(f"{k / 100},{k % 9}\n" for k in range(50))))
    assert asked == []
    assert read(io.BytesIO(b"TICK" + bytes(50))).provenance.reader == "ticks"
    assert asked == ["pacewright.readers"]


def test_the_ending_of_a_file_does_not_matter(tmp_path: Path) -> None:
    path = tmp_path / "really-mocap.csv"
    lab.write_c3d(lab.putting(body=False, strokes=1), path)
    assert read(path).provenance.reader == "c3d"


def test_streams_that_cannot_seek_and_streams_in_the_middle_are_read() -> None:
    text = "time_s,head_x_m\n" + "".join(f"{k / 100},{k % 9}\n" for k in range(50))

    class Pipe(io.BytesIO):
        def seekable(self) -> bool:
            return False

        def seek(self, *_: object) -> int:
            raise OSError("a pipe cannot seek")

    assert read(Pipe(text.encode())).traces["head"].time_s.size == 50
    middle = io.BytesIO(b"something else\n" + text.encode())
    middle.readline()
    assert read(middle).traces["head"].time_s.size == 50


def test_the_example_of_the_page_reads_its_own_file() -> None:
    page = PAGE.read_text()
    code = page.split("```python\n")[1].split("```")[0]
    scope: dict[str, object] = {"__name__": "example"}
    exec(compile(code, str(PAGE), "exec"), scope)
    sample = page.split("```text\n")[1].split("```")[0]
    recording = read(io.StringIO(sample), name="sample.swg")
    assert recording.provenance.reader == "swg"
    assert recording.traces["head"].time_s.size == 5
