"""Every text measured with the real font; pictures of the right size that lose nothing."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import product

import pytest
from PIL import Image, ImageChops

from wetside.cues import burnin, catalogue, codes, gallery, lettering, panels
from wetside.cues.lettering import fit, letters, plain, width, wrap
from wetside.cues.notice import Notice
from wetside.cues.panels import HEIGHT, ROOM, WIDTH, picture
from wetside.cues.snapshot import Snapshot
from wetside.cues.view import view
from wetside.outlook import Outlook, Quantiles, Temperature
from wetside.readings import Place
from wetside.session import sheet as sheets
from wetside.session.sheet import Sheet, StepKind
from wetside.session.signals import Cue, CueName
from wetside.units import clock_text

SHEETS = [sheets.load(path) for path in sheets.available([sheets.shipped_folder()])]
ALL_SCENES = [
    pytest.param(scene, id=f"{sheet.name}-{'F' if fahrenheit else 'C'}-{scene.name}")
    for sheet, fahrenheit in product(SHEETS, (False, True))
    for scene in gallery.scenes(sheet, fahrenheit=fahrenheit)
]


def assert_fits(notice: Notice) -> None:
    """No line is cut off, and the margin around the picture is untouched."""
    if notice.code:
        assert_fits_beside(notice)
        return
    for index, line in enumerate(notice.lines):
        if index == 0 and notice.band:
            size = lettering.BAND_SIZE
            if width(line, size, bold=True) > ROOM - 4:
                size = lettering.LINE_SIZE
            assert line == fit(line, ROOM - 4, size, bold=True)
        else:
            assert line == fit(line, ROOM), f"{width(line)} pixels"
    assert width(notice.head) + width(notice.corner) + 4 <= ROOM or not notice.corner
    assert width(notice.head) <= ROOM
    column = max(
        width(notice.beside),
        width(notice.aside_label) + 3 + width(notice.aside, lettering.ASIDE_SIZE, bold=True),
    )
    assert width(notice.big, lettering.BIG_SIZES[-1]) + column <= ROOM
    assert_margin(picture(notice), lit=notice.inverted)


def assert_fits_beside(notice: Notice) -> None:
    """No word beside a QR code is cut off."""
    room = codes.room_beside(notice.code)
    for text in (notice.head, notice.big, *notice.lines):
        assert text == fit(text, room), f"{width(text)} of {room} pixels"
    assert_margin(picture(notice), lit=False)


def assert_margin(image: Image.Image, *, lit: bool) -> None:
    assert (WIDTH, HEIGHT) == image.size
    assert image.mode == "1"
    inside = image.copy()
    inside.paste(255 if lit else 0, (1, 1, WIDTH - 1, HEIGHT - 1))
    expected = Image.new("1", image.size, 255 if lit else 0)
    assert ImageChops.difference(inside, expected).getbbox() is None


@pytest.mark.parametrize("scene", ALL_SCENES)
def test_every_screen_of_every_shipped_sheet_fits_at_every_turn_of_its_pages(
    scene: gallery.Scene,
) -> None:
    """Each screen, in both units, at forty moments four seconds apart."""
    for turn in range(40):
        snapshot = replace(scene.snapshot, now=scene.snapshot.now + 4 * turn)
        if snapshot.lights_out:
            assert picture(view(snapshot)).getbbox() is None
        else:
            assert_fits(view(snapshot))


LONGEST = "wetting agent 1 + 200"
WIDEST_USUAL = "Wetting Agent 1 + 200"


def stretched(solution: str) -> Sheet:
    """A sheet whose steps last two hours and whose solutions have the longest names."""
    base = SHEETS[0].model_dump()
    base["step"][1]["development"] = None  # its times would contradict two hours
    for step in base["step"]:
        step["solution"] = solution
        if step["prepare"] is not None:
            step["prepare"] = solution
        if step["seconds"] is not None:
            step["seconds"] = 7200.0
    return Sheet.model_validate(base)


@pytest.mark.parametrize("solution", [LONGEST, WIDEST_USUAL, "M" * 21, "clearing bath 2 of 20"])
def test_longest_names_and_times_stay_on_the_picture(solution: str) -> None:
    """Names of 21 characters and steps of two hours: nothing is drawn outside."""
    assert len(solution) == sheets.LINE_CHARACTERS
    for scene in gallery.scenes(stretched(solution)):
        if not scene.snapshot.lights_out:
            notice = view(scene.snapshot)
            assert_margin(picture(notice), lit=notice.inverted)


@pytest.mark.parametrize("solution", [LONGEST, "clearing bath 2 of 20"])
def test_longest_names_that_people_write_are_shown_whole(solution: str) -> None:
    """A name of 21 usual letters is not cut off on a line or as the big word."""
    assert solution == fit(solution, ROOM)
    size = panels.big_size(solution, ROOM)
    assert solution == fit(solution, ROOM, size, bold=size >= 14)


def digit_height(size: int) -> int:
    """Height of the digits in pixels at a font size."""
    first, last = panels._digit_rows(size)
    return last - first


@pytest.mark.parametrize("seconds", [0, 7, 59, 60, 430, 599, 3599, 3600, 7199])
def test_a_countdown_is_at_least_24_pixels_high(seconds: int) -> None:
    """Readable at arm's length, up to 1:59:59."""
    text = clock_text(seconds)
    assert digit_height(panels.big_size(text, ROOM, 24)) >= 24
    assert width(text, panels.big_size(text, ROOM, 24), bold=True) <= ROOM


def test_the_longest_countdown_is_drawn_24_pixels_high() -> None:
    """Measured on the picture: the rows between rule and band that hold 1:59:59."""
    notice = Notice("running", "develop", "1 of 7", "1:59:59", lines=("AGITATE", "x"), band=True)
    rows = picture(notice).crop((0, panels._RULE + 1, WIDTH, 38)).getbbox()
    assert rows is not None
    assert 24 == rows[3] - rows[1]


def test_a_late_count_of_an_hour_fits() -> None:
    """+1:59:59 is smaller, but whole."""
    size = panels.big_size("+1:59:59", ROOM, 24)
    assert "+1:59:59" == fit("+1:59:59", ROOM, size, bold=True)


@pytest.mark.parametrize("celsius", [-12.3, -0.04, 0.0, 9.9, 20.0, 38.9, 85.0, 125.0])
@pytest.mark.parametrize("fahrenheit", [False, True])
@pytest.mark.parametrize("ready", [(0.0, 0.0, 0.0), (3540.0, 3599.0, None), (None, None, None)])
@pytest.mark.parametrize("sd", [0.01, 0.5, 20.0])
def test_tempering_fits_at_extremes(
    celsius: float, fahrenheit: bool, ready: tuple[float | None, ...], sd: float
) -> None:
    """Any temperature a probe can give, in both units, near and far, known well or badly."""
    scene = next(s for s in gallery.scenes(SHEETS[0]) if s.name == "tempering-bath")
    outlook = Outlook(
        0.0,
        Temperature(celsius, sd),
        Temperature(celsius, sd),
        Quantiles(ready[0], ready[1], ready[2]),
        Quantiles(None, None, None),
        0.9 if ready[0] is None else 0.0,
    )
    for place, turn in product(Place, range(6)):
        snapshot = replace(
            scene.snapshot,
            outlook=outlook,
            fahrenheit=fahrenheit,
            places={"p": place},
            now=scene.snapshot.now + 4 * turn,
        )
        assert_fits(view(snapshot))


@pytest.mark.parametrize("celsius", [0.0, 9.9, 20.0, 24.0, 38.9, 50.0])
@pytest.mark.parametrize(("wait", "height"), [("9:59", 24), ("59:59", 23)])
def test_the_developers_temperature_stays_big_beside_its_wait(
    celsius: float, wait: str, height: int
) -> None:
    """24 pixels beside a wait of minutes, 23 beside one of nearly an hour."""
    room = ROOM - (width("in") + 2 + width(wait, lettering.ASIDE_SIZE, bold=True)) - 3
    assert digit_height(panels.big_size(f"{celsius:.1f}", room, 24)) >= height


@pytest.mark.parametrize("name", list(CueName))
def test_every_message_fits_with_the_longest_values(name: CueName) -> None:
    """Each cue's words with names of 21 characters, the longest reason and a long gap."""
    values = {
        "step": max((str(kind) for kind in StepKind), key=len),
        "solution": LONGEST,
        "next": LONGEST,
        "prepare": LONGEST,
        "reason": "too early: hold now to pour anyway",
        "condition": "implausible value",
        "gap": "between 1:12:30 and 1:48:10",
    }
    running = next(s for s in gallery.scenes(SHEETS[0]) if s.name == "running")
    message = Cue(name, running.snapshot.now, values)
    notice = view(replace(running.snapshot, message=message))
    if catalogue.row(name).show_seconds > 0:
        assert_fits(notice)


def test_letters_that_the_font_lacks_become_their_base() -> None:
    """Accents fall off, dashes become hyphens, what is left becomes a question mark."""
    assert "bain d'arret" == plain("bain d\u2019arr\u00eat")
    assert "1-2 h > 20 °C ±1" == plain("1\u20132 h \u2192 20 °C ±1")
    assert "??" == plain("\u73fe\u50cf")


@pytest.mark.parametrize("letter", [*map(chr, range(33, 127)), *"±°…·"])
def test_the_font_has_every_letter_that_is_let_through(letter: str) -> None:
    """None of them is drawn as the box for missing letters."""
    face = lettering.font(lettering.LINE_SIZE)
    missing = bytes(face.getmask("\uffff", mode="1"))
    assert bytes(face.getmask(letter, mode="1")) != missing


def test_a_running_countdown_stands_still() -> None:
    """All digits take the same room, so that 1:11 and 2:38 begin at the same column."""
    assert 1 == len({width(f"{n}:{n}{n}", 34, bold=True) for n in range(10)})


def test_words_are_parted_by_three_dark_columns_at_least() -> None:
    """In one bit the font's own space shrinks until words run together."""
    drawn = letters("i i", lettering.LINE_SIZE)
    columns = [
        drawn.crop((x, 0, x + 1, drawn.height)).getbbox() is None for x in range(drawn.width)
    ]
    longest = max(len(run) for run in "".join(" x"[not dark] for dark in columns).split("x"))
    assert longest >= 3


def test_wrapping_keeps_every_word_and_breaks_what_is_too_long() -> None:
    """Nothing is lost between the lines, and each of them fits."""
    text = "the gap lies between 1:12:30 and 1:48:10 " + "M" * 40
    lines = wrap(text, ROOM)
    assert text.replace(" ", "") == "".join(lines).replace(" ", "")
    assert all(width(line) <= ROOM for line in lines)


def test_a_text_without_letters_is_no_text() -> None:
    """Empty texts are drawn without complaint."""
    assert picture(Notice("empty")).getbbox() is None
    assert 0 == width("")


def test_progress_grows_from_left_to_right() -> None:
    """Nothing done leaves dots, all done a full rule; beyond both ends it stays inside."""

    def lit(progress: float) -> int:
        row = picture(Notice("x", "head", progress=progress)).crop(
            (0, panels._RULE, WIDTH, panels._RULE + 1)
        )
        return row.histogram()[255]

    counts = [lit(share) for share in (-1.0, 0.0, 0.25, 0.5, 1.0, 2.0)]
    assert counts[0] == counts[1] == 42
    assert counts[1] < counts[2] < counts[3] < counts[4] == counts[5] == ROOM


def test_an_inverted_picture_is_the_other_one() -> None:
    """Every pixel changes; the picture holds nothing but 0 and 255."""
    notice = view(next(s for s in gallery.scenes(SHEETS[0]) if s.name == "handover").snapshot)
    dark, light = picture(replace(notice, inverted=False)), picture(notice)
    assert ImageChops.invert(dark).tobytes() == light.tobytes()
    assert sum(light.convert("L").histogram()[1:255]) == 0


@pytest.mark.parametrize("step", range(len(burnin.ORBIT)))
@pytest.mark.parametrize("name", ["running", "handover"])
def test_the_shift_against_burn_in_loses_no_pixel(step: int, name: str) -> None:
    """A shifted picture has as many lit pixels, moved by at most one."""
    notice = view(next(s for s in gallery.scenes(SHEETS[0]) if s.name == name).snapshot)
    image = picture(notice)
    moved = burnin.shift(image, step)
    across, down = burnin.ORBIT[step]
    assert image.histogram() == moved.histogram()
    inner = (1, 1, WIDTH - 1, HEIGHT - 1)
    back = moved.crop((1 + across, 1 + down, WIDTH - 1 + across, HEIGHT - 1 + down))
    assert image.crop(inner).tobytes() == back.tobytes()


def test_the_orbit_visits_nine_places_and_comes_back() -> None:
    """Step numbers may grow without end."""
    assert 9 == len(set(burnin.ORBIT))
    image = Image.new("1", (WIDTH, HEIGHT))
    image.putpixel((64, 32), 255)
    assert burnin.shift(image, 0).tobytes() == image.tobytes()
    assert burnin.shift(image, 9).tobytes() == burnin.shift(image, 0).tobytes()
    assert image.getpixel((64, 32)) == 255


def test_a_picture_is_the_callers_own() -> None:
    """Drawing into one picture does not change the next."""
    notice = Notice("x", "head", big="1:00")
    first = picture(notice)
    before = first.tobytes()
    first.paste(255, (0, 0, WIDTH, HEIGHT))
    assert before == picture(notice).tobytes()


def test_a_running_countdown_is_drawn_in_under_two_milliseconds() -> None:
    """Median over a minute of countdown, on whatever machine the tests run."""
    scene = next(s for s in gallery.scenes(SHEETS[0]) if s.name == "running")
    times = []
    for second in range(60):
        snapshot: Snapshot = replace(scene.snapshot, now=scene.snapshot.now + 0.5 * second)
        notice = view(snapshot)
        began = time.perf_counter()
        picture(notice)
        times.append(time.perf_counter() - began)
    assert sorted(times)[30] < 0.002
