"""``wetside screens``: every screen as a picture, for people to look at."""

import html
from pathlib import Path
from typing import Annotated

import typer
from PIL import Image, ImageDraw

from wetside.cues import gallery, lettering
from wetside.cues.panels import HEIGHT, WIDTH, picture
from wetside.cues.view import view
from wetside.errors import SheetError
from wetside.session import sheet as sheets

_COLUMNS = 4
_FRAME = 12
_CAPTION = 18


def screens(
    outdir: Annotated[
        Path, typer.Argument(readable=False, help="Folder for the pictures; made if missing.")
    ],
    scale: Annotated[int, typer.Option(min=1, max=16, help="Pixels for each pixel.")] = 4,
    sheet: Annotated[
        Path | None,
        typer.Option(readable=False, help="Sheet to show; by default the first that ships."),
    ] = None,
    fahrenheit: Annotated[bool, typer.Option("--fahrenheit", help="Show degrees F.")] = False,
) -> None:
    """Write every screen as PNG, with one sheet of contacts and a page to look at.

    Example: wetside screens pictures --scale 6
    """
    path = sheet or sheets.available([sheets.shipped_folder()])[0]
    try:
        loaded = sheets.load(path)
    except SheetError as problem:
        typer.echo(str(problem), err=True)
        raise typer.Exit(2) from None
    scenes = gallery.scenes(loaded, fahrenheit=fahrenheit)
    pictures = [(scene, picture(view(scene.snapshot))) for scene in scenes]
    try:
        outdir.mkdir(parents=True, exist_ok=True)
        for scene, image in pictures:
            _large(image, scale).save(outdir / f"{scene.name}.png", optimize=True)
        contacts(pictures, max(2, scale // 2)).save(outdir / "contacts.png", optimize=True)
        (outdir / "index.html").write_text(_page(pictures, scale), encoding="utf-8")
    except OSError as problem:
        typer.echo(f"{outdir}: cannot be written: {problem.strerror}", err=True)
        raise typer.Exit(2) from None
    typer.echo(f"{len(pictures)} screens in {outdir}; look at {outdir / 'index.html'}")


def _large(image: Image.Image, scale: int) -> Image.Image:
    return image.resize((WIDTH * scale, HEIGHT * scale), Image.Resampling.NEAREST)


def contacts(pictures: list[tuple[gallery.Scene, Image.Image]], scale: int) -> Image.Image:
    """All pictures on one, each in a frame with its name below."""
    wide, high = WIDTH * scale + 2 * _FRAME, HEIGHT * scale + _FRAME + _CAPTION
    rows = -(-len(pictures) // _COLUMNS)
    whole = Image.new("L", (_COLUMNS * wide, rows * high + _FRAME), 70)
    draw = ImageDraw.Draw(whole)
    for index, (scene, image) in enumerate(pictures):
        row, column = divmod(index, _COLUMNS)
        left, top = column * wide + _FRAME, row * high + _FRAME
        whole.paste(_large(image, scale).convert("L"), (left, top))
        draw.text((left, top + HEIGHT * scale + 2), scene.name, font=lettering.font(12), fill=220)
    return whole


def _page(pictures: list[tuple[gallery.Scene, Image.Image]], scale: int) -> str:
    figures = "\n".join(
        f'<figure><img src="{html.escape(scene.name)}.png" width="{WIDTH * scale}" '
        f'height="{HEIGHT * scale}" alt="{html.escape(_words(scene))}">'
        f"<figcaption><b>{html.escape(scene.name)}</b> {html.escape(scene.caption)}</figcaption>"
        "</figure>"
        for scene, _ in pictures
    )
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width"><title>Screens of wetside</title>\n'
        "<style>body{font:16px/1.4 system-ui,sans-serif;background:#222;color:#ddd;margin:2rem}"
        "main{display:flex;flex-wrap:wrap;gap:1.5rem}figure{margin:0}"
        "img{display:block;max-width:100%;height:auto;image-rendering:pixelated;"
        "border:1px solid #555}figcaption{padding-top:.3rem}</style></head>\n"
        f"<body><h1>Screens</h1>\n<main>\n{figures}\n</main></body></html>\n"
    )


def _words(scene: gallery.Scene) -> str:
    return view(scene.snapshot).text() or "nothing"
