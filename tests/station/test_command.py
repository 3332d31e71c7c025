"""The station's command by itself."""

from __future__ import annotations

import subprocess
import sys


def test_the_command_loads_nothing_of_the_simulated_sink() -> None:
    """What runs at a real sink brings no simulated one into memory."""
    words = "import sys, wetside.commands.station; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    loaded = done.stdout.split()
    assert "wetside.station.loop" in loaded
    assert [] == [name for name in loaded if name.startswith("wetside.sim")]
