"""QR codes by segno: for the 128x64 display as rows, for paper and screens as SVG."""

from __future__ import annotations

import io

import segno


def rows(text: str) -> list[str]:
    """The modules of a QR code, one text a row, 1 for dark, without a quiet zone.

    Capital letters, digits and ``:/.-`` alone give the smallest code.
    """
    code = segno.make_qr(text, error="l", boost_error=False)
    return ["".join("1" if module else "0" for module in row) for row in code.matrix]


def svg(text: str, title: str) -> str:
    """A QR code as an SVG element for a page, with its quiet zone of four modules."""
    out = io.BytesIO()
    segno.make_qr(text, error="m").save(
        out,
        kind="svg",
        xmldecl=False,
        svgns=True,
        title=title,
        border=4,
        omitsize=True,
        svgclass="qr",
        lineclass=None,
        dark="#000",
        light="#fff",
    )
    return out.getvalue().decode()
