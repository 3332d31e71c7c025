"""Everything the display may speak of at one moment. Values only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from wetside.cues.desknotes import DeskNotes
from wetside.development.baths import Step as BathStep
from wetside.development.choose import Choice
from wetside.outlook import Outlook
from wetside.readings import Condition, Place
from wetside.session.run import Session
from wetside.session.sheet import Sheet
from wetside.session.signals import Cue


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The station at one moment.

    ``places`` says where each probe is believed to be, ``troubles`` which probes give no
    usable reading and why (the whole bus under the name ``bus``). ``message`` is a cue that
    stays on the screen for a few seconds over whatever else would stand there. ``offered``
    is the sheet that a press of ``now`` would begin. ``corrected`` says whether the probes
    were corrected against a reference: without, +-0.3 C cannot be promised.
    ``probe_sd_celsius`` is the standard deviation of their lasting error. ``fahrenheit``
    says in which unit temperatures are shown. ``choice`` compares waiting with pouring now,
    None where the sheet has no law of development or nothing can be said yet.
    ``only_a_dip_tells`` says that the developer may be ready or past it and nobody has looked.
    ``dip_asked`` says that nobody has told a dip yet. ``warnings`` are what is wrong with the parts
    and the log, in whole for the desk; ``signs`` are the same in words for the display.
    ``bell`` holds short lines about the bell. ``wide_steps`` are steps of temperature between the
    sheet's own baths that are larger than allowed, ``room_measured`` whether the air around a tank
    that develops is known. ``advice`` is what to do about the bath, in
    lines, empty where waiting is best. ``desk`` is what the desk wants shown, ``address_asked``
    when somebody asked for its address, ``touched`` when a button was pressed last.
    """

    now: float
    session: Session
    outlook: Outlook | None = None
    places: Mapping[str, Place] = field(default_factory=dict)
    troubles: Mapping[str, Condition] = field(default_factory=dict)
    message: Cue | None = None
    offered: Sheet | None = None
    lights_out: bool = False
    corrected: bool = False
    probe_sd_celsius: float = 0.0
    warnings: tuple[str, ...] = ()
    signs: tuple[str, ...] = ()
    fahrenheit: bool = False
    choice: Choice | None = None
    only_a_dip_tells: bool = False
    dip_asked: bool = False
    bell: tuple[str, ...] = ()
    wide_steps: tuple[BathStep, ...] = ()
    room_measured: bool = True
    advice: tuple[str, ...] = ()
    desk: DeskNotes = field(default_factory=DeskNotes)
    address_asked: float | None = None
    touched: float | None = None
