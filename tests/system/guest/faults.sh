#!/bin/bash
# Inside the machine under test: hurt the running service and say what became of it, a line for each hurt.
# FAULT name ok|bad what was seen
# Where the host must do something (slow the disk down) a line begins with ASK.
pid() { systemctl show -p MainPID --value "wetside-$1"; }
now() { cut -d ' ' -f 1 /proc/uptime; }
since() { awk -v a="$1" -v b="$(now)" 'BEGIN { printf "%.1f", b - a }'; }
tell() { printf 'FAULT %s %s %s\n' "$@"; }
ask() { printf 'ASK %s\n' "$*"; sleep 2; }
plain=(/usr/bin/python3 -I -S)

# true when the live file was written in the last three seconds, by the clock that does not jump
fresh() { "${plain[@]}" -c 'import os, sys, time
try: age = time.time() - os.stat("/run/wetside/live.json").st_mtime
except OSError: age = 99
sys.exit(not 0 <= age <= 3)'; }
live() { "${plain[@]}" -c "import json, sys
v = json.load(open('/run/wetside/live.json'))
for key in sys.argv[1:]: v = v[key] if isinstance(v, dict) and key in v else None
print('; '.join(map(str, v)) if isinstance(v, list) else v)" "$@" 2>/dev/null; }
events() { "${plain[@]}" - "$1" "${2:-0}" <<'PY'
import sqlite3, sys
c = sqlite3.connect("file:/var/lib/wetside/journal.sqlite?mode=ro", uri=True, timeout=20)
print(c.execute({
    "count": "SELECT count(*) FROM event WHERE seq > ?",
    "last": "SELECT max(seq) FROM event WHERE seq > ?",
    "taken": "SELECT count(*) FROM event WHERE kind = 'run-taken-up' AND seq > ?",
    "cues": "SELECT count(*) FROM event WHERE seq > ? AND detail ->> 'cue' IS NOT NULL",
    "missed": "SELECT count(*) FROM event WHERE seq > ? AND detail ->> 'missed' = 1",
    "late": "SELECT max(detail ->> 'late_seconds') FROM event WHERE seq > ?",
    "began": "SELECT datetime(began_wall_ms / 1000, 'unixepoch') || ' trusted ' || began_trusted "
             "FROM run WHERE number > ? ORDER BY number DESC LIMIT 1",
    "whole": "SELECT (SELECT group_concat(integrity_check) FROM pragma_integrity_check) WHERE ? = 0",
}[sys.argv[1]], (int(sys.argv[2]),)).fetchone()[0])
PY
}

await() { # await SECONDS COMMAND...: gives 1 when it never comes true
    local end
    end=$(awk -v a="$(now)" -v b="$1" 'BEGIN { print a + b }')
    shift
    until "$@"; do
        awk -v a="$(now)" -v b="$end" 'BEGIN { exit !(a > b) }' && return 1
        sleep 0.3
    done
}
run_open() { local run; run=$(live run); [ -n "$run" ] && [ "$run" != None ]; }
running() { [ "$(live state)" = running ]; }
developing() { running && [ "$(live step kind)" = develop ]; } # its run does not end so soon
other_pid() { local new; new=$(pid "$1"); [ "$new" != "$2" ] && [ "$new" != 0 ]; }
ready_again() { other_pid station "$1" && systemctl -q is-active wetside-station && fresh; }
same_station() { [ "$(pid station)" = "$1" ] && fresh; }
oom_killed() { journalctl -b -q -u wetside-desk | grep -q 'OOM killer'; }

killed() {
    local run old at taken
    await 300 developing || tell killed bad "no run"
    run=$(live run) old=$(pid station) taken=$(events taken) at=$(now)
    kill -9 "$old"
    if await 60 ready_again "$old" && [ "$(live run)" = "$run" ]; then
        tell killed ok "station back after $(since "$at") s, same run, taken up $(($(events taken) - taken)) time"
    else
        tell killed bad "after $(since "$at") s: run $(live run), was $run"
    fi
}

hung() {
    local run old at
    await 300 developing || tell hung bad "no run"
    run=$(live run) old=$(pid station) at=$(now)
    kill -STOP "$old"
    if await 120 ready_again "$old" && [ "$(live run)" = "$run" ]; then
        tell hung ok "watchdog restarted the station, back after $(since "$at") s, same run"
    else
        tell hung bad "after $(since "$at") s: run $(live run), was $run"
    fi
}

desk_killed() {
    local old desk at
    old=$(pid station) desk=$(pid desk) at=$(now)
    kill -9 "$desk"
    if await 90 other_pid desk "$desk" && same_station "$old"; then
        tell desk-killed ok "desk back after $(since "$at") s, station untouched"
    else
        tell desk-killed bad "desk $(pid desk), station $(pid station), was $old"
    fi
}

desk_memory() { # something in the desk's own group eats until the limit
    local old desk at seq group high
    old=$(pid station) desk=$(pid desk) at=$(now) seq=$(events last)
    group=/sys/fs/cgroup$(systemctl show -p ControlGroup --value wetside-desk)
    high=$(cat "$group/memory.max")
    (echo $BASHPID >"$group/cgroup.procs" && exec "${plain[@]}" -c 'x = []
while True: x.append(bytearray(b"x") * 8_000_000)') &
    if await 300 oom_killed && await 60 other_pid desk "$desk" && same_station "$old"; then
        tell desk-memory ok "limit of $((high / 1048576)) MiB: the desk is ended (oom-kill) and back after $(since "$at") s; station untouched, $(events cues "$seq") cues meanwhile, missed $(events missed "$seq"), latest $(events late "$seq") s"
    else
        tell desk-memory bad "desk $(pid desk), was $desk, station $(pid station), was $old; in the group $(cat "$group/memory.current")"
    fi
    kill %1 2>/dev/null
}

disk_full() { # the whole disk, as far as others than root may write
    local old seq during screen at full
    await 300 running || tell disk-full bad "no run"
    old=$(pid station) seq=$(events last) at=$(now)
    fallocate -l "$(df --output=avail -B 1 / | tail -n 1)" /filler
    runuser -u wetside -- dd if=/dev/zero of=/var/lib/wetside/filler2 bs=4k count=100000 2>/dev/null # the last corners
    sleep 25
    during="$(df -h --output=avail / | tail -n 1 | tr -d ' ') free, warnings: $(live warnings)"
    screen=$(live screen text | tr '\n' '/')
    same_station "$old" && during="same station, $during, screen: $screen"
    doctor=$(runuser -u wetside -- /opt/wetside/current/venv/bin/wetside doctor 2>&1 | grep -E '^[a-z]+ +disk')
    rm -f /filler /var/lib/wetside/filler2
    full=$(since "$at")
    sleep 25
    if same_station "$old" && [ "$(events cues "$seq")" -gt 0 ] && [ "$(events whole)" = ok ] && [[ $during == same* ]]; then
        tell disk-full ok "$full s full: $during; doctor: $doctor; with room again $(events count "$seq") events of that time kept, cues missed $(events missed "$seq"), journal whole, warnings now: $(live warnings)"
    else
        tell disk-full bad "$during; events $(events count "$seq"), journal $(events whole), station $old -> $(pid station)"
    fi
}

clock_jumps() { # the network answers and the clock was five hours behind
    local old run seq before began
    await 300 developing || tell clock bad "no run"
    old=$(pid station) run=$(live run)
    before="$(date -u '+%F %T'), trusted $(live trusted), run began $(events began)"
    seq=$(events last)
    ip link set lo up
    "${plain[@]}" /proof/time_server.py 18000 &
    mkdir -p /etc/systemd/timesyncd.conf.d
    printf '[Time]\nNTP=127.0.0.1\nFallbackNTP=\n' >/etc/systemd/timesyncd.conf.d/proof.conf
    systemctl restart systemd-timesyncd
    if ! await 90 synchronised; then
        tell clock-forward bad "the clock was never set: $(timedatectl show 2>&1 | tr '\n' ' ') $(systemctl status systemd-timesyncd --no-pager | tail -n 3)"
        return
    fi
    sleep 20 # the station asks for something to be journaled sooner or later
    began=$(events began)
    if same_station "$old" && [ "$(live run)" = "$run" ] && [ "$(live trusted)" = True ] && [ "$(events whole)" = ok ]; then
        tell clock-forward ok "$before; five hours on, $(date -u '+%F %T'), set by NTP: same station, same run, trusted $(live trusted), run now began $began, events $(events count "$seq"), latest cue $(events late "$seq") s, warnings: $(live warnings)"
    else
        tell clock-forward bad "$before; then $(date -u '+%F %T') run $(live run) trusted $(live trusted) began $began"
    fi
    kill %1
    seq=$(events last)
    systemctl stop systemd-timesyncd
    date -s "-10 hours" >/dev/null
    sleep 15
    if same_station "$old" && [ "$(live run)" = "$run" ] && [ "$(events whole)" = ok ]; then
        tell clock-back ok "ten hours back, $(date -u '+%F %T'): same station, same run, events $(events count "$seq"), latest cue $(events late "$seq") s, warnings: $(live warnings)"
    else
        tell clock-back bad "station $old -> $(pid station), run $(live run)"
    fi
}
synchronised() { "${plain[@]}" -c 'import ctypes, sys
sys.exit(ctypes.CDLL(None).adjtimex(ctypes.create_string_buffer(512)) == 5)'; }

slow_disk() {
    local old seq begun took warned=""
    await 300 running || tell slow-disk bad "no run"
    old=$(pid station) seq=$(events last) begun=$(now)
    ask "throttle $1 $2"
    took=$( { time -p runuser -u wetside -- dd if=/dev/zero of=/var/lib/wetside/sample bs=4k count=5 oflag=sync 2>/dev/null; } 2>&1 | sed -n 's/^real //p')
    while awk -v a="$begun" -v b="$(now)" 'BEGIN { exit !(b - a < 70) }'; do
        warned="$(live warnings)"
        [ -n "$warned" ] && break
        sleep 2
    done
    sleep 5
    ask "throttle 0 0"
    rm -f /var/lib/wetside/sample
    sleep 20
    if same_station "$old" && [ "$(events cues "$seq")" -gt 0 ] && [ "$(events missed "$seq")" = 0 ] && [ "$(events whole)" = ok ]; then
        tell slow-disk ok "$1 operations and $2 bytes a second for 70 s (a synchronous write of 4 kB took $(awk -v t="$took" 'BEGIN { printf "%.2f", t / 5 }') s): same station, $(events cues "$seq") cues, none missed, latest $(events late "$seq") s, warnings: ${warned:-none}"
    else
        tell slow-disk bad "write $took s, cues $(events cues "$seq"), missed $(events missed "$seq"), latest $(events late "$seq"), station $old -> $(pid station), warnings: $warned"
    fi
}

read_only() { # for a while nobody may write
    local old seq during
    await 300 running || tell read-only bad "no run"
    old=$(pid station) seq=$(events last)
    echo u >/proc/sysrq-trigger
    sleep 25
    during="$(touch /var/lib/wetside/x 2>&1); warnings: $(live warnings); screen: $(live screen text | tr '\n' '/')"
    same_station "$old" && during="same station, $during"
    mount -o remount,rw /
    sleep 25
    if [[ $during == same*Read-only* ]] && same_station "$old" && [ "$(events count "$seq")" -gt 0 ] && [ "$(events whole)" = ok ]; then
        tell read-only ok "25 s: $during; writable again: $(events count "$seq") events of that time kept, cues missed $(events missed "$seq"), journal whole, warnings now: $(live warnings)"
    else
        tell read-only bad "$during; station $old -> $(pid station), events $(events count "$seq"), journal $(events whole)"
    fi
}

damaged() { # the kernel finds the file system damaged and refuses every write from then on
    local old seq during run
    await 300 developing || tell damaged bad "no run"
    old=$(pid station) seq=$(events last) run=$(live run)
    echo proof >/sys/fs/ext4/vda/trigger_fs_error
    sleep 25
    during="$(touch /var/lib/wetside/x 2>&1); warnings: $(live warnings); screen: $(live screen text | tr '\n' '/')"
    if same_station "$old"; then
        tell damaged ok "25 s: same station, $during"
    else
        tell damaged bad "$during; station $old -> $(pid station)"
    fi
    kill -9 "$old"
    if await 120 ready_again "$old" && [ "$(live run)" = "$run" ]; then
        tell damaged-restart ok "killed meanwhile: the station is back, in the same run, state $(live state), warnings: $(live warnings)"
    else
        tell damaged-restart bad "killed meanwhile: run $(live run), was $run: $(systemctl show -p Result,ExecMainStatus wetside-station | tr '\n' ' ') $(journalctl -b -q -o cat -u wetside-station | tail -n 5 | tr '\n' ' ')"
    fi
    printf 'KEPT %s\n' "$seq"
}

await 200 run_open || tell start bad "no run began"
case $1 in
    faults) killed; hung; desk_killed; desk_memory; disk_full ;;
    clock) clock_jumps ;;
    slow) slow_disk 10 200000 ;;
    readonly) read_only; damaged ;;
esac
