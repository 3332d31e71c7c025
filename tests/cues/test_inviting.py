"""Screens that lead to the desk: when they stand, and that a reader reads their codes."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
import segno
import zxingcpp
from PIL import Image, ImageChops

from wetside.cues import burnin, codes, gallery, gallery_desk
from wetside.cues.desknotes import Address, Claim, DeskNotes, LabelPage
from wetside.cues.inviting import spoken
from wetside.cues.panels import HEIGHT, WIDTH, picture
from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.session import sheet as sheets
from wetside.session.run import State
from wetside.session.signals import Cue, CueName

SHEET = sheets.load(sheets.available([sheets.shipped_folder()])[0])
SCENES = {scene.name: scene.snapshot for scene in gallery.scenes(SHEET)}
ALL = DeskNotes(gallery_desk.CLAIM, gallery_desk.LABEL, gallery_desk.ADDRESS)
LONGEST_HOST = "https://192.168.100.200:8470"


def modules(text: str) -> tuple[str, ...]:
    """A QR code by segno, level L, as the desk makes them."""
    code = segno.make_qr(text, error="l", boost_error=False)
    return tuple("".join(str(int(module)) for module in row) for row in code.matrix)


def read(image: Image.Image) -> list[str]:
    """What zxing-cpp reads on a picture, three dots for each pixel, as a camera sees it."""
    large = image.convert("L").resize((WIDTH * 3, HEIGHT * 3), Image.Resampling.NEAREST)
    return [found.text for found in zxingcpp.read_barcodes(large)]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("label", gallery_desk.LABEL.url),
        ("first-start-code", gallery_desk.CLAIM.address.upper()),
        ("address", gallery_desk.ADDRESS.address.upper()),
    ],
)
def test_an_independent_reader_reads_each_code_at_every_place_of_the_orbit(
    name: str, text: str
) -> None:
    """zxing-cpp finds the one code on the picture, however the picture is moved."""
    drawn = picture(view(SCENES[name]))
    for step in range(len(burnin.ORBIT)):
        assert [text] == read(burnin.shift(drawn, step))


@pytest.mark.parametrize(
    ("text", "version"),
    [
        ("HTTP://192.168.1.20:8470", 1),
        (f"{LONGEST_HOST}/FIRST-START".upper(), 2),
        (f"{LONGEST_HOST}/L/7K2M9QXA4D3F".upper(), 2),
        ("HTTPS://DARKROOM-SINK-1.LOCAL:8470/L/7K2M9QXA4D3F", 3),
        ("HTTPS://" + "A" * 69, 3),
    ],
)
def test_codes_up_to_version_3_fit_with_modules_of_two_pixels(text: str, version: int) -> None:
    """Version 3 holds 77 capitals, the most that fits (ISO/IEC 18004 table 7); all are read."""
    rows = modules(text)
    assert 17 + 4 * version == len(rows)
    label = LabelPage("gallery", text, rows)
    drawn = picture(view(replace(SCENES["label"], desk=DeskNotes(label=label))))
    assert [text] == read(drawn)
    above = (62 - 2 * len(rows)) // 2
    assert (5 - 2 * (version - 1)) * 2 == above
    lit = drawn.crop((1, 1, 1 + codes.field_width(rows), 1 + above))
    assert (0, 0, *lit.size) == ImageChops.invert(ImageChops.invert(lit)).getbbox()


def test_an_address_too_long_for_a_code_is_written_out() -> None:
    """Without a code the label's address stands there in words, whole."""
    url = "HTTPS://A-VERY-LONG-NAME-FOR-A-SINK.DARKROOM.SCHOOL.EXAMPLE.ORG:8470/L/7K2M9QXA4D3F"
    label = LabelPage("gallery", url, modules(url))
    notice = view(replace(SCENES["label"], desk=DeskNotes(label=label)))
    assert () == notice.code
    assert url.lower() == "".join(notice.lines).lower()
    assert "/L/7K2M9QXA4D3F" in "".join(notice.lines)


def at(snapshot: Snapshot, **changes: float) -> str:
    """Name of the screen with these changes."""
    return view(replace(snapshot, **changes)).name  # type: ignore[arg-type]  # seconds only


def test_the_label_shares_the_screen_with_the_words_of_the_end() -> None:
    """After 8 s of words the code stands for 24 s, and so on; every word has its turn."""
    done = replace(SCENES["finished"], desk=ALL)
    ended = done.now
    ended = done.session.steps[-1].ended or 0.0
    shown = Counter(at(done, now=ended + second) for second in range(320))
    assert {"finished": 80, "label": 240} == shown

    def words(snapshot: Snapshot, seconds: int) -> set[str]:
        turns = (view(replace(snapshot, now=ended + second)) for second in range(seconds))
        return {line for notice in turns if notice.name == "finished" for line in notice.lines}

    assert words(replace(done, desk=DeskNotes()), 120) == words(done, 480)


def test_a_label_of_another_run_is_not_shown() -> None:
    """The code is for exactly the run that has just finished."""
    label = replace(gallery_desk.LABEL, run="another")
    other = replace(SCENES["label"], desk=DeskNotes(label=label))
    assert "finished" == view(other).name


def test_first_start_stands_by_turns_while_nothing_runs() -> None:
    """Code in words, code to scan, next roll, 8 s each; a press leaves 20 s for the sheets."""
    idle = SCENES["first-start"]
    names = [at(idle, now=turn * 8.0) for turn in range(6)]
    assert ["first-start", "first-start-code", "idle"] * 2 == names
    assert ["idle"] * 3 == [at(idle, now=turn * 8.0, touched=turn * 8.0 - 19) for turn in (3, 4, 5)]
    assert "first-start" == at(idle, now=24.0, touched=4.0)
    words = view(idle).text()
    assert gallery_desk.CLAIM.code in words
    assert "192.168.1.20:8470" in words


def test_the_address_is_shown_for_forty_seconds_after_the_press() -> None:
    """Code, words and fingerprint by turns of 8 s, then the screen of the state again."""
    asked = SCENES["address"]
    names = [at(asked, now=turn * 8.0) for turn in range(6)]
    assert ["address", "address-words", "certificate", "address", "address-words", "idle"] == names
    shown = "".join(view(replace(asked, now=16.0)).lines).replace(" ", "")
    assert gallery_desk.ADDRESS.fingerprint == shown


@pytest.mark.parametrize("host", ["192.168.100.200", "[fd00::2]", "a-long-name-of-a-sink.local"])
@pytest.mark.parametrize("scheme", ["http", "https"])
def test_any_usual_address_is_shown_whole(host: str, scheme: str) -> None:
    """Numbers and names, with and without encryption: no sign of the address is lost."""
    address = f"{scheme}://{host}:8470"
    made = Address(address, "", "", modules(address.upper()))
    asked = replace(SCENES["address"], desk=DeskNotes(address=made))
    assert spoken(address) in "".join(view(replace(asked, now=8.0)).lines)
    claim = Claim("7K2M-9QXA", f"{address}/first-start", modules(f"{address}/FIRST-START".upper()))
    first = replace(SCENES["first-start"], desk=DeskNotes(claim=claim))
    assert spoken(address) in "".join(view(first).lines)


def test_an_open_run_shows_nothing_of_the_desk() -> None:
    """In no state of an open run does a note of the desk change the screen."""
    states = set()
    for snapshot in SCENES.values():
        if snapshot.session.state in {State.IDLE, State.FINISHED}:
            continue
        states.add(snapshot.session.state)
        plain = replace(snapshot, desk=DeskNotes())
        assert view(plain) == view(replace(snapshot, desk=ALL))
    assert len(State) - 2 == len(states)


@pytest.mark.parametrize("name", ["first-start", "first-start-code", "label", "address"])
def test_lights_out_stays_dark_with_every_note(name: str) -> None:
    """Film may be open between two rolls too: no code and no address lights the display."""
    snapshot = replace(SCENES[name], lights_out=True, desk=ALL)
    for second in range(40):
        assert picture(view(replace(snapshot, now=snapshot.now + second))).getbbox() is None


@pytest.mark.parametrize("name", ["first-start", "label"])
def test_a_message_comes_before_the_desk(name: str) -> None:
    """A probe that is lost is told over a code."""
    snapshot = SCENES[name]
    message = Cue(CueName.PROBE_LOST, snapshot.now, {"condition": "vanished"})
    assert "message-probe-lost" == view(replace(snapshot, message=message)).name


@pytest.mark.parametrize("name", ["first-start", "first-start-code", "label"])
def test_what_others_see_of_a_secret_screen_has_no_secret(name: str) -> None:
    """The code and the label's address are for who stands at the sink, not for the board."""
    notice = view(SCENES[name])
    told = notice.public()
    assert notice.name == told.name
    assert () == told.code
    for secret in ("7K2M", "9QXA", "192.168"):
        assert secret not in told.text()
    assert [] == read(picture(told))
    assert view(SCENES["address"]) == view(SCENES["address"]).public()
