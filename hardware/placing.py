"""The drawing of where the station hangs: sink, outlet, drip loops, distances."""

from __future__ import annotations

from collections.abc import Iterator

WIDTH, HEIGHT = 860, 560
INK, FAINT, WATER, WALL = "#23272d", "#6b727c", "#9cc4dc", "#f4f5f7"
CABLE, SUPPLY = "#b8930a", "#c4352b"
#: NEC 2017 210.8(A)(7) and (B)(5): receptacles within 6 ft of a sink bowl are GFCI protected
SINK_FEET, SINK_METRES = 6, 1.8


def placing_svg() -> str:
    """Draw wall, sink, station, probe cable and supply, each cable with its drip loop."""
    return "\n".join(_lines()) + "\n"


def _text(x: float, y: float, words: str, *, size: int = 14, anchor: str = "start") -> str:
    style = f'font-size="{size}" text-anchor="{anchor}" fill="{INK}"'
    return f'<text x="{x}" y="{y}" {style}>{words}</text>'


def _note(x: float, y: float, *rows: str, anchor: str = "start") -> Iterator[str]:
    for row, words in enumerate(rows):
        yield _text(x, y + 18 * row, words, anchor=anchor)


def _lines() -> Iterator[str]:
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}" font-family="sans-serif">'
    )
    yield f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{WALL}"/>'
    # sink, its bath and the vessel in it
    yield f'<path d="M40 360 h380 v110 h-380 z" fill="#dfe3e8" stroke="{FAINT}" stroke-width="2"/>'
    yield f'<path d="M120 372 h200 v90 h-200 z" fill="{WATER}" stroke="{FAINT}" stroke-width="2"/>'
    yield f'<path d="M180 352 h56 v96 h-56 z" fill="#f7efe0" stroke="{FAINT}" stroke-width="2"/>'
    yield '<path d="M181 384 h54 v63 h-54 z" fill="#d9b98a"/>'
    # tap
    yield f'<path d="M64 358 v-80 h44 v20" fill="none" stroke="{FAINT}" stroke-width="9"/>'
    # station
    yield f'<rect x="170" y="120" width="120" height="112" rx="8" fill="#aeb6c0" stroke="{FAINT}"/>'
    yield '<rect x="208" y="140" width="44" height="24" rx="2" fill="#20242a"/>'
    for x in (194, 230, 266):
        yield f'<circle cx="{x}" cy="202" r="9" fill="#8b2f2a"/>'
    # probe cable: down below the vessel's rim level, then up into the gland from below
    yield (
        f'<path d="M276 420 C276 345 262 316 232 320 C206 323 190 316 190 290 L190 236" '
        f'fill="none" stroke="{CABLE}" stroke-width="4"/>'
    )
    yield f'<path d="M276 410 v44" stroke="{FAINT}" stroke-width="8"/>'
    # supply: the loop hangs lower than gland and outlet
    yield (
        f'<path d="M266 236 C266 310 360 318 470 300 C600 278 716 270 716 190" '
        f'fill="none" stroke="{SUPPLY}" stroke-width="4"/>'
    )
    yield f'<rect x="690" y="96" width="52" height="52" rx="6" fill="#fff" stroke="{INK}"/>'
    for x in (708, 724):
        yield f'<circle cx="{x}" cy="122" r="4" fill="{INK}"/>'
    yield '<rect x="698" y="150" width="36" height="42" rx="4" fill="#30343a"/>'
    # splash zone
    yield (
        f'<path d="M20 60 H450 V520 H20 Z" fill="none" stroke="{FAINT}" stroke-width="2" '
        'stroke-dasharray="8 6"/>'
    )
    yield f'<path d="M420 495 H716" stroke="{INK}" stroke-width="1.5"/>'
    yield f'<path d="M420 487 v16 M716 487 v16" stroke="{INK}" stroke-width="1.5"/>'
    yield _text(555, 515, "the farther from the sink, the better", size=12, anchor="middle")
    yield _text(32, 82, "splash zone: low voltage only")
    yield from _note(302, 142, "station, above the", "rim, cables below")
    yield from _note(124, 300, "drip", "loop")
    yield from _note(
        470,
        340,
        "drip loop of the 5 V supply: its",
        "lowest point is below the box,",
        "and hangs free",
    )
    yield from _note(716, 46, "outlet on a GFCI (RCD);", "supply outside the zone", anchor="middle")
    yield _text(284, 446, "probe", size=11)
    yield _text(208, 418, "dev.", size=12, anchor="middle")
    yield _text(150, 452, "bath", size=12, anchor="middle")
    yield (
        f'<text x="{WIDTH / 2}" y="546" font-size="12" text-anchor="middle" fill="{FAINT}">'
        f"Within {SINK_FEET} ft ({SINK_METRES} m) of a sink the US code asks for a GFCI (NEC 2017 "
        "210.8). Your local code and the school's electrician have the last word.</text>"
    )
    yield "</svg>"
