#!/bin/bash
# Inside the machine under test: do the running services have the limits that their units say?
# LIMIT unit name ok|bad seen
tell() { printf 'LIMIT %s %s %s %s\n' "$@"; }
same() { if [ "$3" = "$4" ]; then tell "$1" "$2" ok "$3"; else tell "$1" "$2" bad "$3, not $4"; fi; }
group() { cat "/sys/fs/cgroup$(systemctl show -p ControlGroup --value "wetside-$1")/$2"; }
pid() { systemctl show -p MainPID --value "wetside-$1"; }
status() { sed -n "s/^$2:[[:space:]]*//p" "/proc/$(pid "$1")/status"; }
unit() { # the last value that the unit's file gives to a key, in bytes where it says M
    sed -n "s/^$2=//p" "/etc/systemd/system/wetside-$1.service" | tail -n 1
}
bytes() { numfmt --from=iec "$1"; }

for name in station desk; do
    same $name active "$(systemctl is-active wetside-$name)" active
    same $name user "$(stat -c %U "/proc/$(pid $name)")" "$(unit $name User)"
    same $name memory.max "$(group $name memory.max)" "$(bytes "$(unit $name MemoryMax)")"
    same $name cpu.weight "$(group $name cpu.weight)" "$(unit $name CPUWeight)"
    same $name pids.max "$(group $name pids.max)" "$(unit $name TasksMax)"
    same $name nice "$(ps -o ni= -p "$(pid $name)" | tr -d ' ')" "$(unit $name Nice)"
    same $name oom_score_adj "$(cat "/proc/$(pid $name)/oom_score_adj")" "$(unit $name OOMScoreAdjust)"
    same $name files "$(sed -n 's/^Max open files *\([0-9]*\).*/\1/p' "/proc/$(pid $name)/limits")" "$(unit $name LimitNOFILE)"
    same $name capabilities "$(status $name CapBnd)/$(status $name CapEff)" 0000000000000000/0000000000000000
    same $name no-new-privileges "$(status $name NoNewPrivs)" 1
    same $name system-call-filter "$(status $name Seccomp)" 2
    # what the process itself sees: no other place of the disk can be written
    same $name root-is-read-only "$(awk '$5 == "/" { split($6, o, ","); print o[1] }' "/proc/$(pid $name)/mountinfo")" ro
    tell $name memory.peak ok "$(($(group $name memory.peak 2>/dev/null || group $name memory.current) / 1000000)) MB"
done
same desk cpu.max "$(group desk cpu.max)" "150000 100000"
same station network "$(nsenter -t "$(pid station)" -n ip -o link show up | grep -vc ' lo:')" 0

# the watchdog is fed: its time stamp moves, and it is never older than what the unit allows
fed() { systemctl show -p WatchdogTimestampMonotonic --value wetside-station; }
first=$(fed)
sleep 25
second=$(fed)
age=$(awk -v a="$second" '{ printf "%.0f", $1 - a / 1e6 }' /proc/uptime)
if [ "$second" -gt "$first" ] && [ "$age" -le 20 ]; then
    tell station watchdog ok "fed within 25 s, last $age s ago, allowed $(systemctl show -p WatchdogUSec --value wetside-station)"
else
    tell station watchdog bad "$first, then $second"
fi
same station restarts "$(systemctl show -p NRestarts --value wetside-station)" 0
