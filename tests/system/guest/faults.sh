#!/bin/bash
# Inside the machine under test: hurt the running service and say what became of it, a line for each hurt.
# FAULT name ok|bad what was seen
python=/opt/wetside/current/venv/bin/python
pid() { systemctl show -p MainPID --value "wetside-$1"; }
now() { cut -d ' ' -f 1 /proc/uptime; }
since() { awk -v a="$1" -v b="$(now)" 'BEGIN { printf "%.1f", b - a }'; }
tell() { printf 'FAULT %s %s %s\n' "$@"; }

# true when the live file was written in the last three seconds
fresh() { [ -f /run/wetside/live.json ] && [ $(($(date +%s) - $(stat -c %Y /run/wetside/live.json))) -le 3 ]; }
live() { $python -c "import json; print(json.load(open('/run/wetside/live.json')).get('$1'))" 2>/dev/null; }

await() { # await SECONDS COMMAND...: gives 1 when it never comes true
    local end
    end=$(awk -v a="$(now)" -v b="$1" 'BEGIN { print a + b }')
    shift
    until "$@"; do
        awk -v a="$(now)" -v b="$end" 'BEGIN { exit !(a > b) }' && return 1
        sleep 0.1
    done
}
run_open() { [ "$(live run)" != None ] && [ -n "$(live run)" ]; }
other_pid() { [ "$(pid "$1")" != "$2" ] && [ "$(pid "$1")" != 0 ]; }
ready_again() { other_pid station "$1" && systemctl -q is-active wetside-station && fresh; }
events() {
    $python - "$1" <<'PY'
import sqlite3, sys
c = sqlite3.connect("file:/var/lib/wetside/journal.sqlite?mode=ro", uri=True)
one = lambda q: c.execute(q).fetchone()[0]
print({"count": lambda: one("SELECT count(*) FROM event"),
       "taken": lambda: one("SELECT count(*) FROM event WHERE kind = 'run-taken-up'"),
       "whole": lambda: one("PRAGMA integrity_check")}[sys.argv[1]]())
PY
}

await 120 run_open || tell start bad "no run began"

run=$(live run) old=$(pid station) at=$(now) taken=$(events taken)
kill -9 "$old"
if await 60 ready_again "$old" && [ "$(live run)" = "$run" ]; then
    tell killed ok "station back after $(since "$at") s, same run, taken up $(($(events taken) - taken)) time"
else
    tell killed bad "after $(since "$at") s: run $(live run)"
fi

await 120 run_open
run=$(live run) old=$(pid station) at=$(now)
kill -STOP "$old"
if await 90 ready_again "$old" && [ "$(live run)" = "$run" ]; then
    tell hung ok "watchdog restarted the station, back after $(since "$at") s, same run"
else
    tell hung bad "after $(since "$at") s: run $(live run)"
fi

old=$(pid station) desk=$(pid desk)
kill -9 "$desk"
if await 60 other_pid desk "$desk" && [ "$(pid station)" = "$old" ] && fresh; then
    tell desk-killed ok "desk back, station untouched"
else
    tell desk-killed bad "desk $(pid desk), station $(pid station)"
fi

# a desk that eats memory and processor: the station goes on, the desk's limits hold
before=$(pid station)
systemd-run -q --unit=hog -p CPUWeight=20 -p Nice=10 -p MemoryMax=200M -p MemorySwapMax=0 \
    $python -c 'import threading
while True: sum(range(10**6))'
systemd-run -q --unit=hog2 -p CPUWeight=20 -p Nice=10 -p MemoryMax=200M -p MemorySwapMax=0 \
    $python -c 'x = []
while True: x.append(bytearray(10**6))'
sleep 15
state=$(systemctl show -p Result --value hog2)
if [ "$(pid station)" = "$before" ] && fresh; then
    tell hog ok "two hogs in the desk's limits for 15 s: station untouched, memory hog ended by '$state'"
else
    tell hog bad "station $(pid station), fresh: $(fresh && echo yes)"
fi
systemctl stop hog hog2 2>/dev/null

# the disk full: a small file system in the place of the data
systemctl stop wetside-station wetside-desk
mount -t tmpfs -o size=8M,mode=0750 tmpfs /var/lib/wetside
chown wetside:wetside /var/lib/wetside
systemctl start wetside-station wetside-desk
await 120 run_open || tell disk-full bad "no run began on the small disk"
run=$(live run) old=$(pid station)
dd if=/dev/zero of=/var/lib/wetside/filler bs=4k 2>/dev/null
sleep 20
during="cues go on: $(fresh && [ "$(pid station)" = "$old" ] && echo yes || echo no), warnings $(live warnings)"
rm /var/lib/wetside/filler
n=$(events count)
sleep 20
m=$(events count)
if [ "$(pid station)" = "$old" ] && [ "$m" -gt "$n" ] && [ "$(events whole)" = ok ]; then
    tell disk-full ok "20 s full: $during; with room again events $n -> $m, journal whole"
else
    tell disk-full bad "$during; events $n -> $m, journal $(events whole), station $old -> $(pid station)"
fi

# the clock jumps by five hours, as when the network answers (not in a container)
if date -s "+5 hours" >/dev/null 2>&1; then
    old=$(pid station) n=$(events count)
    sleep 15
    m=$(events count)
    if [ "$(pid station)" = "$old" ] && [ "$m" -ge "$n" ] && fresh; then
        tell clock-forward ok "five hours on: same process, run $(live run), events $n -> $m"
    else
        tell clock-forward bad "station $old -> $(pid station)"
    fi
    date -s "-10 hours" >/dev/null 2>&1
    sleep 15
    if [ "$(pid station)" = "$old" ] && fresh; then
        tell clock-back ok "ten hours back: same process, run $(live run), events $(events count)"
    else
        tell clock-back bad "station $old -> $(pid station)"
    fi
else
    tell clock skipped "this machine may not set its clock"
fi
