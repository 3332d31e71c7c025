// A splash-resistant box for a wetside station, hung upright beside the sink.
// x to the right, y up the wall, z towards the user; the inside begins at (0, 0, 0).
// All lengths in millimetres. Driven by hardware/enclosure.py, which passes the board's figures
// from wiring.toml; the defaults below are those of a full-size board.
//
// show: "base", "lid", "frame", "assembly", "open", or a check: "base_fit", "lid_fit", "clash".
// The checks must come out empty: what is left is where two bodies want the same place.

show = "assembly";

// ---- board (Raspberry Pi mechanical drawings, from memory; see wiring.toml)
board_width = 85;
board_depth = 56;
hole_pitch_x = 58;
hole_pitch_y = 49;
hole_inset = 3.5;
board_tall = 17.5;   // highest part above the circuit board
overhang = 3;        // sockets beyond the right edge
power_x = 11.2;      // middle of the power socket
board_thick = 1.5;

// ---- display module: 1.3 inch as sold most; other sizes by -D (typical modules, from memory)
module_width = 35.6;
module_height = 34;
view_width = 29.5;
view_height = 14.8;
view_above = 2;      // middle of the view above the middle of the module
module_thick = 4.5;  // glass and board, without pins

// ---- box
inside = [108, 106, 44];
wall = 3;
front = 3;
tape = 1;            // foam tape on the rim, pressed
gap = 0.5;           // between wall and skirt
skirt = 2.4;
skirt_deep = 10;
corner = 5;
post = 5;            // under the board
board_at = [8, 42];  // lower left corner of the board
boss_at = 4.5;       // screw bosses from the inside corners
boss = 8;

// ---- what is bought
button_hole = 16.2;  // 16 mm thread
button_body = 20;    // nut and collar
button_deep = 28;    // behind the front
button_y = 20;
button_x = [22, 54, 86];
probe_x = [20, 41];
probe_hole = 12.8;   // PG7 gland, cable 3 to 6.5 mm
probe_nut = 19;
supply_x = 83;
supply_hole = 20.5;  // M20 gland with a split seal: the plug goes through, the seal round the cable
supply_nut = 27;
nut_thick = 6;
gland_z = 23;
sounder_x = 61;
sounder_body = 14;
sounder_tall = 9;
display_at = [54, 72];
pane = [44, 24, 2];  // clear sheet, with a red filter under it where that is wanted
plug = [13, 30, 9];  // power plug with its bend, below the board

// ---- screws and ties; hardware/fixings.py lists them, a test holds the two together
lid_screw = 3.4;          // M3 passes
lid_screw_thread = 2.6;   // M3 bites
lid_screw_deep = 16;
frame_screw = 2.8;        // M2.5 passes
frame_screw_thread = 2.2; // M2.5 bites
board_screw_thread = 2.1; // M2.5 bites, in posts as deep as they are high
ear_hole = 4.6;           // wall screws of 4 mm
tie_wide = 2.6;           // slot under a bridge

fine = 40;            // sides of a circle; the checks take fewer
$fn = fine;
eps = 0.01;

module rounded(x, y, w, h, z0, z1, r) {
    translate([0, 0, z0]) linear_extrude(z1 - z0) translate([x + r, y + r])
        offset(r) square([w - 2 * r, h - 2 * r]);
}

function corners() = [for (x = [boss_at, inside.x - boss_at], y = [boss_at, inside.y - boss_at]) [x, y]];
function holes() = [for (x = [0, hole_pitch_x], y = [0, hole_pitch_y])
    [board_at.x + hole_inset + x, board_at.y + hole_inset + y]];

module base() {
    difference() {
        union() {
            difference() {
                rounded(-wall, -wall, inside.x + 2 * wall, inside.y + 2 * wall, -wall, inside.z, corner);
                rounded(0, 0, inside.x, inside.y, 0, inside.z + 1, corner - 2);
            }
            for (p = corners()) intersection() {
                translate([p.x, p.y, -eps]) cylinder(d = boss + 4, h = inside.z);
                union() {  // a round boss, joined to its corner
                    translate([p.x, p.y, -eps]) cylinder(d = boss, h = inside.z);
                    translate([p.x > 50 ? p.x : -wall / 2, p.y > 50 ? p.y : -wall / 2, -eps])
                        cube([boss_at + wall / 2, boss_at + wall / 2, inside.z]);
                }
            }
            for (p = holes()) translate([p.x, p.y, -eps]) cylinder(d = 6, h = post);
            ears();
            tie_bridges();
        }
        for (p = corners()) translate([p.x, p.y, inside.z - lid_screw_deep]) cylinder(d = lid_screw_thread, h = lid_screw_deep + 4);
        for (p = holes()) translate([p.x, p.y, -eps]) cylinder(d = board_screw_thread, h = post + 1);
        for (x = probe_x) bottom_hole(x, probe_hole);
        bottom_hole(supply_x, supply_hole);
        sounder_holes();
        // a drain at the lowest point: what gets in gets out
        for (x = [31, 71]) translate([x, 1, 3]) rotate([90, 0, 0]) cylinder(d = 3, h = wall + 2);
    }
}

module bottom_hole(x, d) {
    translate([x, 1, gland_z]) rotate([90, 0, 0]) cylinder(d = d, h = wall + 2);
}

module sounder_holes() {
    for (a = [0 : 60 : 300]) translate([sounder_x + 3.5 * cos(a), 1, gland_z + 3.5 * sin(a)])
        rotate([90, 0, 0]) cylinder(d = 2, h = wall + 2);
    translate([sounder_x, 1, gland_z]) rotate([90, 0, 0]) cylinder(d = 2, h = wall + 2);
}

module ears() {
    // two screws above, one below between the glands, where a screwdriver reaches it
    ear(inside.x / 2, inside.y + wall - 4, 36, [-10, 10], 14.5);
    ear((probe_x[1] + supply_x) / 2 - 2, -wall - 16, 18, [0], 6);
}

module ear(x, y, width, screws, up) {
    difference() {
        rounded(x - width / 2, y, width, 20, -wall, 1, 5);
        for (s = screws) translate([x + s, y + up, -wall - 1]) cylinder(d = ear_hole, h = 8);
        rounded(0, 0, inside.x, inside.y, -eps, 3, corner - 2);
    }
}

module tie_bridges() {
    // a cable tie goes under each bridge and holds the cable inside the gland
    for (x = [probe_x[0], probe_x[1], supply_x]) translate([x - 5, 4, -eps]) difference() {
        cube([10, 5, 5]);
        translate([-1, -1, 1.2]) cube([12, tie_wide + 1, 2.2]);
        translate([2, -1, 1.2]) cube([6, 7, 2.2]);
    }
}

module lid() {
    out = wall + gap + skirt;
    top = inside.z + tape + front;
    difference() {
        union() {
            difference() {
                rounded(-out, -out, inside.x + 2 * out, inside.y + 2 * out,
                    inside.z - skirt_deep, top, corner + gap + skirt);
                rounded(-wall - gap, -wall - gap, inside.x + 2 * (wall + gap), inside.y + 2 * (wall + gap),
                    inside.z - skirt_deep - 1, inside.z + tape, corner + gap);
            }
            // dots to feel: one for NOW, two for PROBE, three for WAIT
            for (i = [0 : 2], k = [0 : i])
                translate([button_x[i] + 5 * (k - i / 2), button_y + 15, top - 0.2]) cylinder(d1 = 3.4, d2 = 1.8, h = 1.4, $fn = 16);
            frame_bosses();
        }
        for (p = corners()) translate([p.x, p.y, inside.z]) {
            cylinder(d = lid_screw, h = 10);
            translate([0, 0, tape + front - 1.8]) cylinder(d1 = lid_screw, d2 = 2 * lid_screw, h = 1.81);
        }
        for (x = button_x) translate([x, button_y, inside.z]) cylinder(d = button_hole, h = 10);
        translate([display_at.x, display_at.y, 0]) {
            // view, bevelled, and a bed for the pane
            hull() for (grow = [0, 2])
                translate([-view_width / 2 - grow, -view_height / 2 - grow, inside.z + tape + grow])
                    cube([view_width + 2 * grow, view_height + 2 * grow, grow ? 4 : eps]);
            translate([-pane.x / 2, -pane.y / 2, inside.z + tape - eps])
                cube([pane.x, pane.y, 0.8]);
        }
    }
}

frame_x = 26;        // screws of the display frame from the middle
frame_thick = 2.4;
module frame_bosses() {
    deep = (pane.z - 0.8) + module_thick;
    for (s = [-1, 1]) translate([display_at.x + s * frame_x, display_at.y, inside.z + tape - deep])
        difference() {
            cylinder(d = 7, h = deep + eps);
            translate([0, 0, -eps]) cylinder(d = frame_screw_thread, h = deep - 0.6);
        }
}

module frame() {
    // presses the module against the pane; the pins come out through the opening
    z = inside.z + tape - (pane.z - 0.8) - module_thick - frame_thick;
    y = display_at.y - view_above;
    difference() {
        union() {
            rounded(display_at.x - module_width / 2 - 1.5, y - module_height / 2 - 1.5,
                module_width + 3, module_height + 3, z, z + frame_thick, 2);
            rounded(display_at.x - frame_x - 5, display_at.y - 5, 2 * frame_x + 10, 10, z, z + frame_thick, 3);
        }
        rounded(display_at.x - module_width / 2 + 3, y - module_height / 2 + 5,
            module_width - 6, module_height - 6, z - 1, z + frame_thick + 1, 1);
        for (s = [-1, 1]) translate([display_at.x + s * frame_x, display_at.y, z - 1]) cylinder(d = frame_screw, h = 6);
    }
}

// ---------------------------------------------------------------- bodies that need their place
module board_body() {
    x = board_at.x; y = board_at.y; z = post;
    translate([x, y, z + 0.05]) cube([board_width, board_depth, board_thick]);
    translate([x, y + 1, z + board_thick]) cube([board_width + overhang, board_depth - 2, board_tall - board_thick]);
    if (board_width > 70) translate([x - 2.5, y + 20, z - 2]) cube([10, 16, 2]);  // memory card
}
module header_body() {  // jumper wires on the header, bent over
    translate([board_at.x + 7, board_at.y + hole_inset + hole_pitch_y - 3, post + board_thick + board_tall])
        cube([51, 6, max(0.1, 26 - board_tall)]);
}
module plug_body() {
    translate([board_at.x + power_x - plug.x / 2, board_at.y - plug.y - 0.1, post - 1]) cube(plug);
}
module button_body(i) {
    translate([button_x[i], button_y, inside.z + tape - button_deep - 0.1]) cylinder(d = button_body, h = button_deep);
}
module nut_body(x, d) {
    translate([x, nut_thick + 0.1, gland_z]) rotate([90, 0, 0]) cylinder(d = d, h = nut_thick);
}
module sounder() {
    translate([sounder_x, sounder_tall + 0.1, gland_z]) rotate([90, 0, 0]) cylinder(d = sounder_body, h = sounder_tall);
}
module display_body() {
    translate([display_at.x - pane.x / 2 + 0.2, display_at.y - pane.y / 2 + 0.2, inside.z + tape - pane.z + 0.75])
        cube([pane.x - 0.4, pane.y - 0.4, pane.z]);
    translate([display_at.x - module_width / 2, display_at.y - view_above - module_height / 2,
        inside.z + tape - pane.z + 0.85 - module_thick])
        cube([module_width, module_height, module_thick - 0.15]);
}
module pins_body() {  // the module's plug and the first bend of its wires
    translate([display_at.x - 6, display_at.y - view_above + module_height / 2 - 5,
        inside.z + tape - pane.z - module_thick - 13]) cube([12, 3, 12]);
}
count = 11;
module item(i) {
    if (i == 0) board_body();
    if (i == 1) header_body();
    if (i == 2) plug_body();
    if (i >= 3 && i <= 5) button_body(i - 3);
    if (i == 6) display_body();
    if (i == 7) pins_body();
    if (i == 8) sounder();
    if (i == 9) for (x = probe_x) nut_body(x, probe_nut);
    if (i == 10) nut_body(supply_x, supply_nut);
}

module all_items() { for (i = [0 : count - 1]) item(i); }

// ---------------------------------------------------------------- pictures
module dressed() {
    color("#4f9d69") translate([board_at.x, board_at.y, post]) cube([board_width, board_depth, board_thick]);
    color("#c9ced6") if (board_width > 70) {
        for (y = [1.5, 19.5]) translate([board_at.x + board_width + overhang - 17, board_at.y + y, post + board_thick])
            cube([17, 14, 16]);
        translate([board_at.x + board_width + overhang - 21, board_at.y + 38, post + board_thick]) cube([21, 16, 13.5]);
    }
    color("#30343a") translate([board_at.x + 7, board_at.y + hole_inset + hole_pitch_y - 2.5, post + board_thick]) cube([51, 5, 8.5]);
    color("#9aa2ad") plug_body();
    color("#3b4048") sounder();
}
module bought() {
    z = inside.z + tape + front;
    for (i = [0 : 2]) {
        color("#c9ced6") translate([button_x[i], button_y, z]) cylinder(d = 19, h = 2);
        color("#8b2f2a") translate([button_x[i], button_y, z]) cylinder(d = 12, h = 4);
    }
    color("#20242a") translate([display_at.x - view_width / 2, display_at.y - view_height / 2, z - 2])
        cube([view_width, view_height, 0.5]);
}
module glands() {
    color("#3b4048") {
        for (x = probe_x) translate([x, -wall, gland_z]) rotate([90, 0, 0]) { cylinder(d = 18, h = 6, $fn = 6); cylinder(d = 13, h = 16); }
        translate([supply_x, -wall, gland_z]) rotate([90, 0, 0]) { cylinder(d = 27, h = 7, $fn = 6); cylinder(d = 21, h = 20); }
    }
    color("#6b727c") for (x = concat(probe_x, supply_x)) translate([x, -wall - 12, gland_z]) rotate([90, 0, 0]) cylinder(d = 4, h = 26);
}

if (show == "base") base();
if (show == "lid") rotate([180, 0, 0]) lid();   // face down, as it is printed
if (show == "frame") rotate([180, 0, 0]) frame();
if (show == "assembly") { color("#d7dade") base(); color("#aeb6c0") lid(); bought(); glands(); }
if (show == "open") {
    color("#d7dade") base(); dressed(); glands();
    translate([0, 0, 75]) { color("#aeb6c0") lid(); bought(); color("#e3b04b") translate([0, 0, -22]) frame(); }
}
if (show == "base_fit") intersection() { base(); all_items(); }
if (show == "lid_fit") intersection() { union() { lid(); frame(); } union() { all_items(); base(); } }
if (show == "clash") for (i = [0 : count - 1]) for (j = [i + 1 : 1 : count - 1]) intersection() { item(i); item(j); }
