"""The trade's figures that wetside uses, as a table of Markdown in docs/chemistry.md.

python docs/tables/trade_figures.py
"""

from __future__ import annotations

from pathlib import Path

from wetside.development.figures import all_figures

PAGE = Path(__file__).parents[2] / "docs" / "chemistry.md"
BEGIN = "<!-- figures: written by docs/tables/trade_figures.py -->\n"
END = "<!-- figures: end -->\n"


def replaced(page: str) -> str:
    """The page with a fresh table."""
    head, rest = page.split(BEGIN, 1)
    tail = rest.split(END, 1)[1]
    rows = "".join(
        f"| {one.what} | {one.value:g} {one.unit} | {one.publication} | {one.basis} |\n"
        for one in all_figures()
    )
    table = f"\n| figure | value | publication | basis |\n|---|---|---|---|\n{rows}\n"
    return f"{head}{BEGIN}{table}{END}{tail}"


if __name__ == "__main__":
    PAGE.write_text(replaced(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
