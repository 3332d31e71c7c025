"""The pages about chemistry and bells against the program."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest

from wetside.development import bells, bottles, figures, problems
from wetside.development.bottles import Holds
from wetside.development.care import care
from wetside.development.deadline import may_leave
from wetside.development.figures import Basis, all_figures
from wetside.development.spec import Development
from wetside.errors import SheetError

DOCS = Path(__file__).parents[2] / "docs"


def examples(page: str) -> list[str]:
    """The TOML blocks of a page."""
    text = (DOCS / page).read_text(encoding="utf-8")
    return re.findall(r"```toml\n(.*?)```", text, re.DOTALL)


def figures_script() -> ModuleType:
    path = DOCS / "tables" / "trade_figures.py"
    spec = importlib.util.spec_from_file_location("trade_figures", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_shelf_example_loads() -> None:
    """docs/chemistry.md shows a shelf file that is accepted."""
    (text,) = examples("chemistry.md")
    assert len(bottles.parse(text, "docs/chemistry.md").bottle) == 2


def test_the_bell_example_loads() -> None:
    """docs/bells.md shows a bell table that is accepted."""
    (text,) = examples("bells.md")
    assert bells.parse(text, "docs/bells.md").period[0].students == 12


def test_the_sheet_examples_load() -> None:
    """docs/development.md shows two laws that are accepted."""
    found = [
        problems.parse(text, Development, "docs/development.md", SheetError)
        for text in examples("development.md")
    ]
    assert [spec.table is None for spec in found] == [False, True]


def test_the_page_lists_every_figure() -> None:
    """docs/chemistry.md carries the figures as the program has them."""
    script = figures_script()
    page = script.PAGE.read_text(encoding="utf-8")
    assert page == script.replaced(page)


def test_every_figure_is_used() -> None:
    """None stands in the list alone: some other part of the program names each."""
    root = DOCS.parent
    texts = [
        path.read_text(encoding="utf-8")
        for folder in ("firmware/wetside", "server/wetside_desk")
        for path in (root / folder).rglob("*.py")
        if path.name != "figures.py"
    ]
    names = [name for name, value in vars(figures).items() if isinstance(value, figures.Figure)]
    unused = [name for name in names if not any(re.search(rf"\b{name}\b", t) for t in texts)]
    assert unused == []


def test_every_figure_names_a_publication_and_its_trust() -> None:
    """No figure without a source; what is from memory says so in its text."""
    found = all_figures()
    assert len(found) >= 25
    assert all(figure.publication.strip() for figure in found)
    marked = [figure for figure in found if figure.basis is Basis.FROM_MEMORY]
    assert marked
    assert all("from memory" in figure.text for figure in marked)


@pytest.mark.parametrize("holds", list(Holds))
def test_every_solution_has_cautions_and_a_way_out(holds: Holds) -> None:
    """Each kind of bottle says what to mind and where it goes, by local rules."""
    found = care(holds)
    assert any("safety data sheet" in caution for caution in found.cautions)
    assert any("household bleach" in caution for caution in found.cautions)
    only = [caution for caution in found.cautions if "Only fixer into the fixer can" in caution]
    assert (holds is Holds.FIXER) == bool(only)
    assert "local" in found.disposal


def test_fixer_is_collected() -> None:
    """Silver-bearing fixer never goes into the sink."""
    assert care(Holds.FIXER).collect
    assert "Never into the sink" in care(Holds.FIXER).disposal
    assert not care(Holds.DEVELOPER).collect


def test_the_page_agrees_about_what_may_be_left() -> None:
    """The table of docs/bells.md says of each step what the program says."""
    rows = re.findall(
        r"^\| ([a-z, ]+) \| (yes|no) \|",
        (DOCS / "bells.md").read_text(encoding="utf-8"),
        re.MULTILINE,
    )
    told = {kind: answer == "yes" for kinds, answer in rows for kind in kinds.split(", ")}
    assert len(told) == 9
    assert told == {kind: may_leave(kind).safe for kind in told}
