"""What keeps hands, eyes, floor and wiring from harm in each kind of step. Values only.

docs/safety.md says why, and quotes these words. What a sheet adds comes behind them.
"""

from __future__ import annotations

from collections.abc import Mapping

from wetside.session.sheet import StepKind

_GLOVES = "gloves on, no splashes"
_WARM = "as warm as the baths"
_DRY = "plugs: dry hands only"

#: While a solution is poured in.
AT_THE_POUR: Mapping[StepKind, tuple[str, ...]] = {
    StepKind.DEVELOP: (_GLOVES,),
    StepKind.STOP: ("pour slowly, lid on", "away from the face"),
    StepKind.FIX: (_GLOVES,),
    StepKind.RINSE: (_WARM,),
    StepKind.CLEAR: (_GLOVES,),
    StepKind.WASH: (_WARM,),
    StepKind.WET: (_GLOVES,),
}

#: While it works.
IN_THE_STEP: Mapping[StepKind, tuple[str, ...]] = {
    StepKind.DEVELOP: ("wipe the tank dry",),
    StepKind.STOP: ("away from the face",),
    StepKind.FIX: ("lid on, fan on",),
    StepKind.WASH: (_DRY,),
    StepKind.WET: (_DRY,),
}

#: When the film hangs.
AT_THE_END = ("a tray below, dry floor", "rinse tank, wash hands", "clean without bleach")
