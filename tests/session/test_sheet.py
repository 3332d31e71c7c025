"""Sheets that load, and what is said of each mistake: file, key, reason."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetside.cues.lettering import width
from wetside.cues.panels import ROOM
from wetside.development.spec import Development, FactorTable
from wetside.errors import SheetError
from wetside.outlook import Wall
from wetside.session import sheet as sheets
from wetside.session import sheet_edit
from wetside.session.agitation import Agitation
from wetside.session.sheet import Sheet, StepKind

SHIPPED = sheets.available([sheets.shipped_folder()])
DOCUMENT = Path(__file__).parents[2] / "docs" / "sheets.md"


def problems(text: str) -> list[str]:
    """What is said of a sheet, without the name of the file."""
    with pytest.raises(SheetError) as caught:
        sheets.parse(text, "my.toml")
    lines = caught.value.lines()
    assert all(line.startswith("my.toml: ") for line in lines)
    return [line.removeprefix("my.toml: ") for line in lines]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("format = 1", "format = 2",
         "format: 2 is of a newer wetside than this one, which reads 1"),
        ("format = 1", 'format = "one"', "format: must be a whole number, not 'one'"),
        ("format = 1", "", "format: is missing"),
        ('name = "Small"', 'name = ""',
         ("name: must be 1 to 16 letters A to Z, digits, spaces, dots or hyphens, "
          "a letter or digit first, not ''")),
        ('name = "Small"', 'name = "much too long a name"', "name: "),
        ('name = "Small"', "name = true", "name: must be a text in quotes, not true"),
        ('name = "Small"', "name = 7", "name: must be a text in quotes, not 7"),
        ("format = 1", "format = 1\nnaem = 1", "naem: this key is not known here; is it misspelt?"),
        ('format = 1', 'format = 1\n"a b" = 1',
         '"a b": this key is not known here; is it misspelt?'),
        ("format = 1", "format = 1\nreels = 0",
         "reels: must be greater than or equal to 1, not 0"),
        ("format = 1", "format = 1\nreels = true", "reels: must be a whole number, not true"),
        ("celsius = 20.0", "celsius = true", "step[1].celsius: must be a number, not true"),
        ("seconds = 180", "seconds = true", "step[2].seconds: must be a number, not true"),
        ("format = 1", "format = 1\nreels = 1.5", "reels: must be a whole number, not 1.5"),
        ("format = 1", 'format = 1\nvessel = "wood"',
         "vessel: must be 'plastic', 'glass' or 'steel', not 'wood'"),
        ("format = 1", 'format = 1\ncautions = "mind"',
         "cautions: must be a list, written in [brackets], not 'mind'"),
        ("celsius = 20.0", "celsius = 68.0",
         "step[1].celsius: must be less than or equal to 50, not 68.0"),
        ("celsius = 20.0", 'celsius = "warm"', "step[1].celsius: must be a number, not 'warm'"),
        ("celsius = 20.0", "celsius = nan",
         "step[1].celsius: must be less than or equal to 50, not nan"),
        ("tolerance_celsius = 0.3\n", "",
         "step[1]: a temper step needs celsius and tolerance_celsius"),
        ("celsius = 20.0\n", "", "step[1]: tolerance_celsius needs celsius beside it"),
        ("seconds = 180", "seconds = 0",
         "step[2].seconds: must be greater than or equal to 5, not 0"),
        ("seconds = 180", "seconds = 20",
         "step[2]: filling (10 s) and draining (10 s) leave nothing of 20 s"),
        ("seconds = 180\n", "", "step[2]: a develop step needs seconds"),
        ("seconds = 180", "secnods = 180",
         "step[2].secnods: this key is not known here; is it misspelt?"),
        ('solution = "stop bath"\n', "", "step[3]: a stop step needs a solution"),
        ('solution = "stop bath"', 'solution = "a solution of twenty two"',
         "step[3].solution: must have at most 21 characters, not 'a solution of twenty two'"),
        ('afterwards = "discard"', 'afterwards = "drink"',
         "step[2].afterwards: must be 'discard', 'return' or 'collect', not 'drink'"),
        ('prepare = "stop bath"\n', "",
         "step[2]: prepare_seconds needs prepare beside it: what is to be prepared?"),
        ('kind = "fix"', 'kind = "fixx"',
         ("step[4].kind: must be 'temper', 'develop', 'stop', 'fix', 'rinse', 'clear', "
          "'wash', 'wet' or 'hang', not 'fixx'")),
        ('kind = "fix"', 'kind = "rinse"',
         "a sheet without a fix step leaves film that light destroys"),
        ('kind = "hang"', 'kind = "wet"', "step[6]: a wet step needs seconds"),
        ('\n[[step]]\nkind = "hang"\n', "", "step[5].kind: the last step is hang"),
        ("can_wait = true", "can_wait = 3", "step[5].can_wait: must be true or false, not 3"),
        ("for_seconds = 5, every_seconds = 60", "for_seconds = 60, every_seconds = 60",
         ("step[2].agitation: for_seconds (60) must be shorter than every_seconds (60); "
          "say continuous if it never rests")),
        (", every_seconds = 60", "",
         "step[2].agitation: intermittent agitation needs for_seconds and every_seconds"),
        ("first_seconds = 30", "first_seconds = 0.5",
         "step[2].agitation: first_seconds is 0 or at least 1, not 0.5"),
        ('{ pattern = "none" }', '{ pattern = "none", first_seconds = 9 }',
         "step[4].agitation: none agitation takes no first_seconds, for_seconds or every_seconds"),
        ('{ pattern = "none" }', '{ pattern = "shake" }',
         "step[4].agitation.pattern: must be 'intermittent', 'continuous' or 'none', not 'shake'"),
        ('{ pattern = "none" }', "{ }", "step[4].agitation.pattern: is missing"),
        ('{ pattern = "none" }', '"none"', "step[4].agitation: must be a table, not 'none'"),
        ("seconds = 120", "seconds = 120\ncan_wait = true",
         "step[4]: can_wait is for rinse and wash: film cannot wait in fix"),
    ],
)  # fmt: skip
def test_one_mistake_is_told_with_key_and_reason(
    small_sheet_text: str, old: str, new: str, said: str
) -> None:
    """Exactly one line, which begins with the key as people see it in their file."""
    assert old in small_sheet_text
    lines = problems(small_sheet_text.replace(old, new, 1))
    assert 1 == len(lines)
    if said.endswith(": "):
        assert lines[0].startswith(said)
    else:
        assert [said] == lines


def test_no_message_speaks_the_checkers_words(small_sheet_text: str) -> None:
    """Whatever stands in place of a value, the reason is plain: no class, no type, no "should"."""
    odd = ("true", "-1", "1e9", "nan", '""', '"x"', "[]", "{}", "[7]", "2031-09-01", "10:50:00")
    told: set[str] = set()
    for match in re.finditer(r"(?m)^(\w+ = ).*$", small_sheet_text):
        for value in odd:
            spoilt = match[1] + value
            text = small_sheet_text[: match.start()] + spoilt + small_sheet_text[match.end() :]
            told.update(line for _, line in sheet_edit.check(text, "my.toml").problems)
    assert 50 < len(told)
    library = re.compile(r"[Ee]rror|should|[Ii]nput|validation|datetime|pattern '|True|Tuple")
    assert [] == sorted(line for line in told if library.search(line))


def test_all_mistakes_are_told_at_once(small_sheet_text: str) -> None:
    """Three wrong keys give three lines, so that a file is mended in one go."""
    text = small_sheet_text.replace("format = 1", "format = 3")
    text = text.replace('solution = "fixer"', 'solution = ""').replace(
        "can_wait = true", "can_weight = true"
    )
    keys = [line.split(":")[0] for line in problems(text)]
    assert ["format", "step[4].solution", "step[5].can_weight"] == keys


@pytest.mark.parametrize(
    ("kinds", "said"),
    [
        (["develop", "temper", "fix", "hang"], "step[1].kind: the first step is temper"),
        (["temper", "fix", "develop", "hang"], "step[2].kind: develop follows temper"),
        (["temper", "develop", "fix", "stop", "hang"], "fix stands before stop"),
        (["temper", "develop", "clear", "fix", "hang"], "clear stands before fix"),
        (["temper", "develop", "wash", "fix", "hang"], "wash stands before fix"),
        (["temper", "develop", "fix", "wet", "wash", "hang"], "wet stands before wash"),
        (["temper", "develop", "temper", "fix", "hang"],
         "a sheet has exactly one temper step, this one 2"),
        (["temper", "fix", "wash", "hang"], "a sheet has exactly one develop step, this one 0"),
        (["temper", "develop"], "step[2].kind: the last step is hang"),
    ],
)  # fmt: skip
def test_steps_in_a_wrong_order_are_told(kinds: list[str], said: str) -> None:
    """Film in the wrong bath at the wrong time is lost; the sheet is refused."""
    keys = {
        "temper": "celsius = 20\ntolerance_celsius = 0.3",
        "hang": "",
    }
    text = 'format = 1\nname = "x"\ntitle = "x"\n' + "".join(
        f'[[step]]\nkind = "{kind}"\n{keys.get(kind, "seconds = 60" + chr(10) + "solution = " + chr(34) + "x" + chr(34))}\n'  # noqa: E501  # one step of text
        for kind in kinds
    )
    lines = problems(text)
    if len(kinds) < 3:
        assert 1 == len(lines)
        assert lines[0].startswith("step: ")
    else:
        assert [said] == lines


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "format: is missing"),
        (b"step = 3\n", "step: must be a list, written in [brackets], not 3"),
        (b"[[step]]\n[step]\n", "not valid TOML: "),
        (b"format = \n", "not valid TOML: "),
        (b"format = 1\nformat = 1\n", "not valid TOML: "),
        (b"x = " + b"[" * 5000 + b"]" * 5000, "not valid TOML: "),
        (b"x = " + b"1" * 5000, "not valid TOML: "),
        (b"\xff\xfe", "is not UTF-8 text: "),
        (b"x = 2026-02-30", "not valid TOML: "),
    ],
)
def test_files_that_are_no_sheets_at_all(tmp_path: Path, content: bytes, said: str) -> None:
    """Broken TOML, wrong encoding, numbers without end, deep nesting: told, never a traceback."""
    path = tmp_path / "my.toml"
    path.write_bytes(content)
    with pytest.raises(SheetError) as caught:
        sheets.load(path)
    assert [] != [line for line in caught.value.lines() if line.startswith(f"{path}: {said}")]


def test_steps_that_are_wrong_are_not_said_to_be_missing(small_sheet_text: str) -> None:
    """Where one key of each step is wrong, these are told and no number of steps."""
    wrong = small_sheet_text.replace("[[step]]\n", "[[step]]\ncolour = 1\n")
    keys = [line.split(":")[0] for line in problems(wrong)]
    assert [f"step[{number}].colour" for number in range(1, 7)] == keys


def test_a_sheet_that_was_saved_by_a_windows_editor_is_read(
    tmp_path: Path, small_sheet_text: str
) -> None:
    """The byte order mark that such an editor puts in front is none of the sheet's letters."""
    path = tmp_path / "my.toml"
    path.write_text(small_sheet_text, encoding="utf-8-sig", newline="\r\n")
    assert sheets.parse(small_sheet_text, "my.toml") == sheets.load(path)


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    """The system's own words for why it cannot be read."""
    for path, said in (
        (tmp_path / "no.toml", "No such file or directory"),
        (tmp_path, "Is a directory"),
    ):
        with pytest.raises(SheetError, match=re.escape(f"{path}: cannot be read: {said}")):
            sheets.load(path)


def test_long_wrong_values_are_quoted_shortly(small_sheet_text: str) -> None:
    """A message stays one line that can be read."""
    (line,) = problems(small_sheet_text.replace('"fixer"', '"' + "fixer " * 500 + '"'))
    assert len(line) < 160


VALUES = st.recursive(
    st.none().map(lambda _: "[]")
    | st.booleans().map(lambda b: str(b).lower())
    | st.integers(-(10**20), 10**20).map(str)
    | st.floats(allow_nan=False, allow_infinity=False).map(repr)
    | st.sampled_from(["nan", "-inf", "2026-01-01", "07:30:00", '""', '"x"', '"temper"', '"20 C"'])
    | st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=30).map(
        lambda text: "'''" + text.replace("'", "") + "'''"
    ),
    lambda inner: (
        st.lists(inner, max_size=3).map(lambda parts: "[" + ", ".join(parts) + "]")
        | st.dictionaries(
            st.sampled_from(["pattern", "kind", "seconds", "x"]), inner, max_size=2
        ).map(
            lambda table: "{" + ", ".join(f"{key} = {value}" for key, value in table.items()) + "}"
        )
    ),
    max_leaves=5,
)


@settings(max_examples=300, deadline=None)
@given(data=st.data())
def test_any_value_at_any_key_is_accepted_or_told(data: st.DataObject) -> None:
    """Whatever stands behind a key, the answer is a sheet or lines of file, key, reason."""
    text = SHIPPED[0].read_text(encoding="utf-8")
    lines = text.splitlines()
    keyed = [
        index
        for index, line in enumerate(lines)
        if re.match(r"^\w+ = ", line) and not line.endswith("[")
    ]
    for index in data.draw(st.lists(st.sampled_from(keyed), min_size=1, max_size=4, unique=True)):
        lines[index] = lines[index].split(" = ")[0] + " = " + data.draw(VALUES)
    expect_told("\n".join(lines))


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_any_damage_to_a_file_is_accepted_or_told(data: st.DataObject) -> None:
    """Lines lost, doubled, swapped or cut: never a traceback."""
    lines = SHIPPED[0].read_text(encoding="utf-8").splitlines()
    for _ in range(data.draw(st.integers(1, 5))):
        at = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.sampled_from(["lose", "double", "swap", "cut"])):
            case "lose":
                del lines[at]
            case "double":
                lines.insert(at, lines[at])
            case "swap":
                other = data.draw(st.integers(0, len(lines) - 1))
                lines[at], lines[other] = lines[other], lines[at]
            case _:
                lines[at] = lines[at][: data.draw(st.integers(0, len(lines[at])))]
    expect_told("\n".join(lines))


def expect_told(text: str) -> None:
    try:
        sheets.parse(text, "my.toml")
    except SheetError as problem:
        said = problem.lines()
        assert said
        assert all(re.match(r"^my\.toml: \S", line) for line in said)
        assert all("\n" not in line for line in said if "not valid TOML" not in line)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: str(path.name))
def test_shipped_sheets_load_and_say_what_matters(path: Path) -> None:
    """Each step names its solution, what is done with it and what is prepared next."""
    sheet = sheets.load(path)
    for step in sheet.step[1:-1]:
        assert step.solution
        assert step.afterwards is not None
        assert step.kind is StepKind.WASH or step.prepare
    assert sheet.cautions
    assert any("fixer" in caution.lower() for step in sheet.step for caution in step.cautions)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: str(path.name))
def test_cautions_and_texts_of_shipped_sheets_fit_one_line(path: Path) -> None:
    """A caution that is parted over two screens can be misread."""
    sheet = sheets.load(path)
    texts = [*sheet.cautions, *(caution for step in sheet.step for caution in step.cautions)]
    texts += [step.prepare or "" for step in sheet.step]
    assert [] == [text for text in texts if width(text) > ROOM]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: str(path.name))
def test_every_figure_of_a_shipped_develop_step_names_its_source(path: Path) -> None:
    """A figure stands beside a publication or the words common practice."""
    sources = ("NAVEDTRA", "SS0509", "F-32", "Anchell", "MD0954", "common practice", "PNEAC")
    text = path.read_text(encoding="utf-8")
    develop = text.split("[[step]]")[2]
    for key in ("seconds", "fill_seconds", "drain_seconds", "first_seconds", "for_seconds"):
        found = re.search(rf"((?:^#.*\n)*)^{key} = [^\n]*", develop, re.MULTILINE)
        assert found is not None, key
        assert any(source in found[0] for source in sources), key


#: Minutes of SS0509 p. 15 and 18 and of NAVEDTRA p. 10-8, as named beside the figures.
PUBLISHED = [
    ("one-reel-20.toml", {"fix": 5, "rinse": 0.5, "clear": 2, "wash": 5, "wet": 1}),
    ("two-reels-20.toml", {"fix": 5, "clear": 2, "wet": 1}),
    ("warm-room-24.toml", {"fix": 5, "wash": 20, "wet": 1}),
]


@pytest.mark.parametrize(("file", "minutes"), PUBLISHED, ids=lambda value: str(value)[:8])
def test_pouring_in_comes_to_every_published_time_of_a_shipped_sheet(
    file: str, minutes: dict[str, float]
) -> None:
    """Washing and wetting too: a step's clock begins at the pour, a source's at the full tank."""
    steps = {str(step.kind): step for step in sheets.load(sheets.shipped_folder() / file).step}
    for kind, published in minutes.items():
        assert (kind, published * 60 + steps[kind].fill_seconds) == (kind, steps[kind].seconds)


def test_three_sheets_ship_a_usual_one_a_warm_one_and_one_for_two_reels() -> None:
    """20 C, 24 C, and two reels in steel."""
    loaded = {path.stem: sheets.load(path) for path in SHIPPED}
    assert {"one-reel-20", "warm-room-24", "two-reels-20"} == set(loaded)
    assert 24.0 == loaded["warm-room-24"].setup().target_celsius
    assert (2, Wall.STEEL) == (loaded["two-reels-20"].reels, loaded["two-reels-20"].vessel)


def test_a_sheet_survives_the_journal(small_sheet: Sheet) -> None:
    """A run keeps its sheet as JSON; read back it is the same."""
    for sheet in (small_sheet, *map(sheets.load, SHIPPED)):
        assert sheet == Sheet.model_validate(sheet.model_dump(mode="json"))


def test_the_example_of_the_documentation_loads() -> None:
    """docs/sheets.md shows one whole sheet; it is the one that is checked here."""
    blocks = re.findall(r"```toml\n(.*?)```", DOCUMENT.read_text(encoding="utf-8"), re.DOTALL)
    whole = [block for block in blocks if block.startswith("format = 1")]
    assert 1 == len(whole)
    assert "docs example" == sheets.parse(whole[0], "docs/sheets.md").name


def test_further_examples_of_the_documentation_load_in_their_place() -> None:
    """Each shorter example is an agitation or a law of development that a sheet accepts."""
    text = DOCUMENT.read_text(encoding="utf-8")
    examples = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)[1:]
    assert 2 <= len(examples)
    base = SHIPPED[0].read_text(encoding="utf-8")
    tables = {
        "[step.agitation]": base.index("[step.agitation]"),
        "[step.development]": base.index("[step.development]"),
    }
    assert set(tables) == {example.splitlines()[0] for example in examples}
    for example in examples:
        first = tables[example.splitlines()[0]]
        end = base.find("\n\n", first)
        sheets.parse(base[:first] + example + base[end:], "docs/sheets.md")


def test_mistakes_shown_in_the_documentation_are_what_is_said() -> None:
    """The three lines at the end of docs/sheets.md come from such a sheet."""
    text = DOCUMENT.read_text(encoding="utf-8")
    whole = re.findall(r"```toml\n(format = 1.*?)```", text, re.DOTALL)[0]
    spoilt = whole.replace("seconds = 430", "seconds = 1").replace(
        'solution = "stop bath"', 'soluton = "stop bath"'
    )
    spoilt = spoilt.replace("seconds = 310", "seconds = 310\ncan_wait = true")
    said = [f"my-sheet.toml: {line}" for line in problems(spoilt)]
    shown = re.findall(r"```text\n(.*?)```", text, re.DOTALL)[0].splitlines()
    assert shown == said


def test_every_key_is_explained_in_the_documentation() -> None:
    """docs/sheets.md has a row for each key of sheet, step, agitation and development."""
    text = DOCUMENT.read_text(encoding="utf-8")
    rows = [line.split("|")[1] for line in text.splitlines() if line.startswith("| `")]
    explained = {key for row in rows for key in re.findall(r"`(\w+)`", row)}
    for model in (Sheet, sheets.Step, Agitation, Development):
        assert set(model.model_fields) - explained == set()
    assert set(FactorTable.model_fields) <= set(re.findall(r"`(\w+)`", text))
