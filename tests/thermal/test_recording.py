"""Recordings: every malformed thing is named with file, line and reason."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.errors import RecordingError
from wetside.readings import Condition, Place, Reading
from wetside.thermal.recording import read_recording

HEADER = "seconds,probe,place,celsius\n"


def write(folder: Path, text: str) -> Path:
    """File with that text."""
    file = folder / "evening.csv"
    file.write_text(text, encoding="utf-8")
    return file


def test_rows_become_readings_in_their_order(tmp_path: Path) -> None:
    """Places, empty places and failed reads are taken as they stand."""
    text = HEADER + "0,p,developer,25.5\n1.0,p,,\n2,q,bath,-0.0625\n"
    expected = (
        Reading(0.0, "p", 25.5, Place.DEVELOPER),
        Reading(1.0, "p", None, Place.UNKNOWN, Condition.FAILED),
        Reading(2.0, "q", -0.0625, Place.BATH),
    )
    assert expected == read_recording(write(tmp_path, text))


def test_file_without_places_takes_them_from_telling_names(tmp_path: Path) -> None:
    """``liquid`` and ``ambient`` say what they are in, ``probe`` does not."""
    text = "seconds,probe,celsius\n0,liquid,25\n0,ambient,20\n0,probe,21\n"
    places = [reading.place for reading in read_recording(write(tmp_path, text))]
    assert [Place.DEVELOPER, Place.BATH, Place.UNKNOWN] == places


@pytest.mark.parametrize(
    ("text", "place", "reason"),
    [
        ("", "line 1", "header must be seconds,probe,place,celsius"),
        ("time,probe,place,celsius\n0,p,,20\n", "line 1", "header must be"),
        (HEADER, "line 2", "no reading follows"),
        (HEADER + "0,p,,20\n1,p,20\n", "line 3", "3 columns instead of 4"),
        (HEADER + "zero,p,,20\n", "line 2", "seconds is 'zero', which is not a number"),
        (HEADER + "0,p,,warm\n", "line 2", "celsius is 'warm', which is not a number"),
        (HEADER + "0,p,,nan\n", "line 2", "not a finite number"),
        (HEADER + "inf,p,,20\n", "line 2", "not a finite number"),
        (HEADER + "0,,bath,20\n", "line 2", "probe is empty"),
        (HEADER + "0,p,sink,20\n", "line 2", "place is 'sink'"),
        (HEADER + '0,"p,,20\n', "line 2", "is not CSV"),
        (HEADER + "0,p,,1e308\n", "line 2", "celsius is '1e308', which is no temperature"),
        (HEADER + "0,p,,20\n1,p,,-273.2\n", "line 3", "which is no temperature"),
        (HEADER + "0,p,,20\n1e9,p,,20\n", "line 3", "more than a day after"),
        (HEADER + "0,p,,20\n-9,p,,20\n90000,p,,20\n", "line 4", "more than a day after"),
    ],
)
def test_malformed_files_are_named(tmp_path: Path, text: str, place: str, reason: str) -> None:
    """One problem with its line and a reason that says what would be right."""
    file = write(tmp_path, text)
    with pytest.raises(RecordingError) as caught:
        read_recording(file)
    ((where, why),) = caught.value.problems
    assert place == where
    assert reason in why
    assert str(file) == caught.value.file


def test_what_a_sensor_says_in_error_and_a_night_without_a_row_are_taken(tmp_path: Path) -> None:
    """The power-on value, both ends of the sensor's range, a loose thermocouple, half a day."""
    said = (85.0, 0.0, -55.0, 125.0, -127.0, 999.9)
    text = HEADER + "".join(f"{43200 * i},p,,{celsius}\n" for i, celsius in enumerate(said))
    assert said == tuple(one.celsius for one in read_recording(write(tmp_path, text)))


@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_a_letter_that_is_no_utf_8_is_named_by_its_line(
    tmp_path: Path, start: bytes, end: bytes
) -> None:
    """Whatever the ends of the lines, and with the mark that some programs put first."""
    rows = [HEADER.strip().encode(), b"0,p,,20", b"\xfc,p,,20", b"2,p,,20"]
    file = tmp_path / "latin1.csv"
    file.write_bytes(start + end.join(rows))
    with pytest.raises(RecordingError) as caught:
        read_recording(file)
    assert (("line 3", "is not UTF-8 text"),) == caught.value.problems


def test_missing_file_and_wrong_bytes_are_named(tmp_path: Path) -> None:
    """A path that is not there, a folder, and bytes that are not text."""
    binary = tmp_path / "binary.csv"
    binary.write_bytes(HEADER.encode() + b"\xff\xfe\x00")
    for file in (tmp_path / "none.csv", tmp_path, binary):
        with pytest.raises(RecordingError):
            read_recording(file)
