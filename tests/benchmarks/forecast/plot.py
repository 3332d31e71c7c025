"""Picture of the scores: error by share of the wait, and coverage against width."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")
from forecast.score import Line
from matplotlib import pyplot as plt
from matplotlib.lines import Line2D


def draw(scores: Sequence[Line], labels: Sequence[str], file: Path, title: str) -> None:
    """Write a PNG with one row for each arrangement."""
    arrangements = list(dict.fromkeys(s.arrangement for s in scores))
    methods = list(dict.fromkeys(s.method for s in scores))
    colours = {method: f"C{number}" for number, method in enumerate(methods)}
    figure, axes = plt.subplots(
        len(arrangements), 2, figsize=(11, 3.2 * len(arrangements)), squeeze=False
    )
    for row, arrangement in zip(axes, arrangements, strict=True):
        for s in (s for s in scores if s.arrangement == arrangement):
            style = {"color": colours[s.method], "label": s.method}
            heavy = 2.8 if s.method == "wetside" else 1.2
            values = [s.errors.get(label, float("nan")) for label in labels]
            row[0].plot(range(len(labels)), values, marker="o", linewidth=heavy, **style)
            row[1].plot([s.width], [100 * s.coverage], marker="o", linestyle="", **style)
        row[0].set_yscale("log")
        row[0].set_xticks(range(len(labels)), labels)
        row[0].set_title(f"{arrangement}: relative error of the median, capped at 3")
        row[1].axhspan(88, 92, color="0.9")
        row[1].set_xlabel("mean width of the 5-95 % interval / remaining")
        row[1].set_title("coverage of the 5-95 % interval, %")
        row[0].grid(alpha=0.3)
        row[1].grid(alpha=0.3)
    marks = [Line2D([], [], color=colours[method], marker="o", label=method) for method in methods]
    figure.legend(handles=marks, loc="lower center", ncols=len(methods), fontsize=8)
    figure.suptitle(title)
    figure.tight_layout(rect=(0.0, 0.9 / figure.get_figheight() / 2, 1.0, 1.0))
    figure.savefig(file, dpi=110)
    plt.close(figure)
