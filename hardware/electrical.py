"""Rules about volts, amperes and paths; each yields one sentence for every thing that is wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from hardware.graph import Circuit
from hardware.wiring import HEADER, Wiring


# ------------------------------------------------------------------------------ supply
def rails_are_themselves(wiring: Wiring) -> Iterator[str]:
    """A supply pin of the header is on the rail of its own voltage, and a rail has a source."""
    pins = wiring.pins()
    for net in wiring.nets:
        sources = [pins[key] for key in net.pins if pins[key].part == HEADER]
        for pin in sources:
            if pin.type in ("power_out", "ground") and pin.max_volts != net.volts:
                yield f"{pin.key} gives {pin.max_volts} V but sits on {net.name}"
            if pin.type == "gpio" and net.volts is not None:
                yield f"{pin.key} (GPIO{pin.gpio}) is tied to the rail {net.name}"
        if net.volts is not None and not sources:
            yield f"rail {net.name} has no source on the header"


def supplies_fit(wiring: Wiring) -> Iterator[str]:
    """A supply pin of a part gets a voltage that it allows, and a ground pin gets ground."""
    circuit = Circuit(wiring)
    for key, pin in wiring.pins().items():
        if pin.part == HEADER:
            continue
        volts = circuit.rail_of(key)
        if pin.type == "ground" and volts != 0.0:
            yield f"{key} is a ground wire but is not on GND"
        if pin.type == "power_in":
            low, high = pin.min_volts or 0.0, pin.max_volts or 0.0
            if volts is None or not low <= volts <= high:
                yield f"{key} needs {low} to {high} V and gets {volts}"


def nothing_sees_too_many_volts(wiring: Wiring) -> Iterator[str]:
    """No pin can be lifted above what it stands, through any resistor or closed button."""
    circuit = Circuit(wiring)
    for key, pin in wiring.pins().items():
        net = wiring.net_of(key)
        if net is None or pin.max_volts is None or pin.type in ("power_out", "ground"):
            continue
        reach = circuit.highest_volts(net.name)
        if reach > pin.max_volts:
            yield f"{key} on {net.name} can see {reach} V, its limit is {pin.max_volts} V"


def one_supply_for_a_signal(wiring: Wiring) -> Iterator[str]:
    """A 3.3 V part that shares a signal with a GPIO is fed from 3.3 V, not from 5 V."""
    circuit = Circuit(wiring)
    for part in wiring.parts:
        feeds = [pin for pin in part.pins if pin.type == "power_in"]
        if any(circuit.rail_of(pin.key) == 5.0 for pin in feeds):
            yield f"{part.ref} is fed from 5 V and would pull its signal wires up to 5 V"


# ------------------------------------------------------------------------------ signals
def every_signal_has_one_gpio(wiring: Wiring) -> Iterator[str]:
    """Two GPIOs are never joined, and a signal wire of a part reaches a GPIO."""
    pins = wiring.pins()
    for net in wiring.nets:
        gpios = [key for key in net.pins if pins[key].type == "gpio"]
        if len(gpios) > 1:
            yield f"net {net.name} joins {' and '.join(gpios)}"
        if not gpios and any(pins[key].type == "open_drain" for key in net.pins):
            yield f"net {net.name} has a signal wire and no GPIO"


def roles_reach_their_parts(wiring: Wiring) -> Iterator[str]:
    """Each GPIO with a role reaches the part of that role, directly or through one resistor."""
    circuit = Circuit(wiring)
    for role in wiring.roles:
        start = wiring.net_of(f"{HEADER}.{wiring.header.pin_of(role.gpio)}")
        if start is None:
            yield f"GPIO{role.gpio} ({role.name}) is not connected"
            continue
        target = f"{role.part}.{role.pin}"
        ends = {start.name} if role.link == "direct" else circuit.through_one_resistor(start.name)
        home = wiring.net_of(target)
        twins = circuit.twins_of(target)
        homes = {net.name for pin in twins if (net := wiring.net_of(pin)) is not None}
        if home is None or not homes & ends:
            yield f"GPIO{role.gpio} ({role.name}) does not reach {target} by {role.link} link"


def bus_wires_keep_their_names(wiring: Wiring) -> Iterator[str]:
    """Every DQ, SDA and SCL is on the line of the GPIO of that bus."""
    circuit = Circuit(wiring)
    for name, role in (("DQ", "one_wire"), ("SDA", "i2c_data"), ("SCL", "i2c_clock")):
        gpio = wiring.header.pin_of(wiring.role(role).gpio)
        line = wiring.net_of(f"{HEADER}.{gpio}")
        for part in wiring.parts:
            for pin in part.pins:
                if pin.name == name and (line is None or circuit.home(pin.key) != line.name):
                    yield f"{pin.key} is not on the line of GPIO{wiring.role(role).gpio}"


def buttons_close_to_ground(wiring: Wiring) -> Iterator[str]:
    """A button joins its own line to GND and nothing else."""
    circuit = Circuit(wiring)
    for part in wiring.parts:
        if part.kind == "button":
            rails = sorted(str(circuit.rail_of(pin.key)) for pin in part.pins)
            if rails != ["0.0", "None"]:
                yield f"{part.ref} must join its line to GND; its sides are at {rails}"


def open_drains_are_pulled_up(wiring: Wiring) -> Iterator[str]:
    """A line that parts only pull down has one pull-up to 3.3 V: a resistor, or the board's own."""
    circuit, pins = Circuit(wiring), wiring.pins()
    for net in wiring.nets:
        if not any(pins[key].type == "open_drain" for key in net.pins):
            continue
        board = any(pins[key].gpio in wiring.header.board_pull_up for key in net.pins)
        ohms = circuit.resistors_to_rail(net.name, 3.3)
        if len(ohms) + board != 1:
            yield f"net {net.name} needs one pull-up to 3.3 V and has {len(ohms) + board}"
        elif ohms and not 1000.0 <= ohms[0] <= 10_000.0:
            yield f"the pull-up of {net.name} is {ohms[0]:.0f} ohm; use 1 to 10 kilohm"


def gpio_currents_are_safe(wiring: Wiring) -> Iterator[str]:
    """A GPIO driven the wrong way by mistake still carries less than its drive strength."""
    circuit, pins = Circuit(wiring), wiring.pins()
    limit = wiring.limits["gpio_pin_milliamps"]
    for net in wiring.nets:
        gpio = next((pins[key] for key in net.pins if pins[key].type == "gpio"), None)
        if gpio is None:
            continue
        milliamps = circuit.worst_milliamps(net.name, wiring.limits["gpio_volts"])
        if milliamps > limit:
            yield f"GPIO{gpio.gpio} on {net.name} could carry {milliamps:.1f} mA, over {limit} mA"


# ------------------------------------------------------------------------------ parts
def passives_are_not_shorted(wiring: Wiring) -> Iterator[str]:
    """The two ends of a resistor, capacitor, piezo or button are on different nets."""
    for part in wiring.parts:
        nets = {wiring.net_of(pin.key) for pin in part.pins}
        if len(part.pins) == 2 and len(nets) == 1:
            yield f"both ends of {part.ref} are on one net"


def capacitors_go_to_ground(wiring: Wiring) -> Iterator[str]:
    """A capacitor stands between GND and the 3.3 V rail or a button's line, never on a bus."""
    circuit = Circuit(wiring)
    buttons = {role.gpio for role in wiring.roles if role.part.startswith("S")}
    lines = {wiring.net_of(f"{HEADER}.{wiring.header.pin_of(gpio)}") for gpio in buttons}
    allowed = {net.name for net in lines if net is not None} | {circuit.rail_name(3.3)}
    for part in wiring.parts:
        if part.kind == "capacitor":
            nets = {net.name for pin in part.pins if (net := wiring.net_of(pin.key)) is not None}
            rest = nets - {circuit.rail_name(0.0)}
            if len(rest) != 1 or not rest <= allowed:
                yield f"{part.ref} joins {' and '.join(sorted(nets))}"


def button_lines_have_one_capacitor(wiring: Wiring) -> Iterator[str]:
    """A button's line has at most one capacitor, and the probe terminals have their buffer."""
    on = Counter(
        net.name
        for part in wiring.parts
        if part.kind == "capacitor"
        for pin in part.pins
        if (net := wiring.net_of(pin.key)) is not None and net.volts != 0.0
    )
    for name, count in on.items():
        if count > 1:
            yield f"{count} capacitors on {name}"
    if (
        any(part.kind == "probe" for part in wiring.parts)
        and not on[Circuit(wiring).rail_name(3.3)]
    ):
        yield "no capacitor between 3.3 V and GND at the probe terminals"


def sounder_is_driven(wiring: Wiring) -> Iterator[str]:
    """Emitter on GND, base held down, piezo from 5 V, discharged, its charging peak limited."""
    circuit = Circuit(wiring)
    for part in (part for part in wiring.parts if part.kind == "npn"):
        if circuit.rail_of(f"{part.ref}.E") != 0.0:
            yield f"{part.ref}: the emitter is not on GND"
        base, collector = (circuit.home(f"{part.ref}.{leg}") for leg in "BC")
        down = circuit.resistors_to_rail(base, 0.0)
        feed = [e.ohms for e in circuit.edges_at(base, {"resistor"}) if e.ohms not in down]
        if len(down) != 1 or len(feed) != 1 or down[0] < 2.0 * feed[0]:
            yield f"{part.ref}: the base needs its resistor and a larger one to GND"
        beyond = circuit.through_one_resistor(collector)
        piezos = [other for other in wiring.parts if other.kind == "piezo"]
        if not piezos:
            yield f"{part.ref} drives no piezo; a coil would need a diode across it"
        for piezo in piezos:
            ends = {circuit.home(pin.key) for pin in piezo.pins}
            rail = circuit.rail_name(5.0)
            if rail not in ends or not (ends - {rail}) & beyond:
                yield f"{piezo.ref} must join 5 V to the collector's resistor"
            across = circuit.resistor_between(*sorted(ends))
            if not across or not 470.0 <= across[0] <= 2200.0:
                yield f"{piezo.ref} needs one discharge resistor of about 1 kilohm across it"


RULES = (
    rails_are_themselves,
    supplies_fit,
    nothing_sees_too_many_volts,
    one_supply_for_a_signal,
    every_signal_has_one_gpio,
    roles_reach_their_parts,
    bus_wires_keep_their_names,
    buttons_close_to_ground,
    open_drains_are_pulled_up,
    gpio_currents_are_safe,
    passives_are_not_shorted,
    capacitors_go_to_ground,
    button_lines_have_one_capacitor,
    sounder_is_driven,
)
