"""An invented school's shelf, bells and an own sheet, for the desk's tests and pictures."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

from wetside_desk.files import papers
from wetside_desk.settings import DeskSettings
from wetside_desk.store import class_plan, uses
from wetside_desk.store.database import Database

#: A Monday after the invented runs, and a moment in its third period.
TODAY = date(2025, 11, 17)
NOW = datetime(2025, 11, 17, 10, 6)  # noqa: DTZ001  # a bell table has no zone
#: Before the first of the invented runs ended.
BEFORE = 1_762_900_000.0

SHELF = """\
format = 1

[[bottle]]
label = "Dev stock"
holds = "developer"
strength = "1+1"               # poured away after use
millilitres = 3000
mixed_on = 2025-11-03
use = "once"
keeps_full_days = 180
keeps_opened_days = 30
source = "label of the bottle"

[[bottle]]
label = "Stop 1"
holds = "stop bath"
strength = "1+19"
millilitres = 1000
mixed_on = 2025-11-03
use = "reused"
rolls_per_litre = 12
  [[bottle.check]]
  on = 2025-11-10
  colour = "turning"

[[bottle]]
label = "Fixer 1"
holds = "fixer"
strength = "1+4"
millilitres = 1000
mixed_on = 2025-10-20
use = "reused"
rolls_per_litre = 20
rolls_before = 6
fresh_clearing_seconds = 40
check_every_rolls = 10
  [[bottle.check]]
  on = 2025-11-03
  clearing_seconds = 55
  rolls = 6

[[bottle]]
label = "Fixer 2"
holds = "fixer"
strength = "1+4"
millilitres = 2000
mixed_on = 2025-11-10
use = "reused"
rolls_per_litre = 20
fresh_clearing_seconds = 38

[[bottle]]
label = "Clearing"
holds = "clearing bath"
strength = "1+9"
millilitres = 1000
mixed_on = 2025-11-03
use = "reused"
rolls_per_litre = 40
keeps_full_days = 16
source = "teacher's own"

[[bottle]]
label = "Wetting"
holds = "wetting agent"
strength = "1+200"
millilitres = 50
mixed_on = 2025-09-01
use = "once"
"""

BELLS = """\
format = 1
clear_up_minutes = 5
closed = [2025-11-27, 2025-11-28]

[weeks]
names = ["A", "B"]
first_week_of = 2025-09-08

[[period]]
name = "1"
days = ["monday", "tuesday", "wednesday", "thursday", "friday"]
starts = 08:10:00
ends = 09:00:00

[[period]]
name = "2"
days = ["monday", "wednesday", "friday"]
starts = 09:05:00
ends = 09:55:00
group = "Photo 1"
students = 12

[[period]]
name = "3"
days = ["monday", "wednesday"]
weeks = ["A"]
starts = 10:00:00
ends = 10:50:00
group = "Photo 2"
students = 9

[[period]]
name = "3-4"
days = ["tuesday", "thursday"]
starts = 10:00:00
ends = 11:40:00
group = "Studio"
students = 16
"""


def put(settings: DeskSettings, *, seen_since: float = BEFORE) -> None:
    """Lay out the files; the bottles count runs that ended since."""
    folder = settings.files_folder
    (folder / "sheets").mkdir(parents=True, exist_ok=True)
    (folder / "shelf.toml").write_text(SHELF, encoding="utf-8")
    (folder / "bells.toml").write_text(BELLS, encoding="utf-8")
    database = Database(settings.data / "desk.sqlite3")
    with database.transaction() as connection:  # a desk that runs already has counted them
        connection.execute("DELETE FROM ended_run")
        connection.execute("DELETE FROM bottle_use")
    uses.note_fillings(database, papers.parse_shelf(SHELF, "shelf.toml"), seen_since)
    short = own("short wash")
    paper = papers.sheet(folder, "short-wash.toml")
    _, wash, after = short.partition('kind = "wash"')
    shorter = short.removesuffix(wash + after) + wash + after.replace("= 310 ", "= 240 ", 1)
    for text in (short, shorter):
        papers.write(database, paper, text, papers.read(paper).tag, "teacher")
    broken = shipped().replace("seconds = 45 ", "seconds = 2 ").replace("grace", "grase", 1)
    (folder / "sheets" / "broken.toml").write_text(broken, encoding="utf-8")
    class_plan.save(
        database,
        class_plan.ClassPlan(
            "one reel 20", stations=2, tanks_per_station=2, students_per_tank=1, ready_minutes=8
        ),
    )
    database.close()


#: Pages of shelf, bells and sheets, by a short name.
PAGES = {
    "shelf": "/shelf",
    "shelf-new": "/shelf/new",
    "bottle-fixer": "/shelf/bottles/Fixer%201",
    "bottle-stop": "/shelf/bottles/Stop%201",
    "shelf-runs": "/shelf/runs",
    "shelf-text": "/shelf/text",
    "mixing": "/shelf/mixing?holds=stop+bath&strength=1%2B19&total=1+L&water=12",
    "shelf-week": "/shelf/week",
    "bells": "/bells?begin=10:25",
    "period": "/bells/periods/2",
    "bells-text": "/bells/text",
    "sheets": "/sheets",
    "sheet": "/sheets/one-reel-20.toml",
    "sheet-text": "/sheets/one-reel-20.toml/text",
    "sheet-broken": "/sheets/broken.toml/text",
    "sheet-compare": "/sheets/short-wash.toml/compare?before=1",
}


def shipped(name: str = "one-reel-20.toml") -> str:
    """The text of a sheet that ships."""
    from wetside.session import sheet  # noqa: PLC0415  # used by one helper only

    return (sheet.shipped_folder() / name).read_text(encoding="utf-8")


def own(name: str) -> str:
    """The text of a sheet that ships, under a name of its own."""
    return shipped().replace('name = "one reel 20"', f'name = "{name}"')


def folder_of(settings: DeskSettings) -> Path:
    """Where the school's own sheets lie."""
    return settings.files_folder / "sheets"
