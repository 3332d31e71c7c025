#!/bin/bash
# Inside the machine under test: do what the host asked for on the kernel's command line (or in a file).
mode=$(sed -n 's/.*wetside\.proof=\([a-z-]*\).*/\1/p' /proc/cmdline)
[ -n "$mode" ] || mode=$(cat /proof/mode 2>/dev/null)
python=/opt/wetside/current/venv/bin/python
watch=(/usr/bin/python3 -I -S /proof/watch.py) # only what the language brings: it starts sooner
say() { printf '%s\r\n' "$*" >/dev/console; }
show() { sed 's/$/\r/' >/dev/console; }

say "PROOF $mode $(cut -d ' ' -f 1 /proc/uptime)"
case $mode in
    install)
        cd /root/wetside || exit 1
        { time bash systemd/install.sh; } 2>&1 | show
        say "INSTALL ${PIPESTATUS[0]}"
        say "SECOND $(bash systemd/install.sh 2>&1 | grep -E 'nothing to change|is installed')"
        ;;
    run)
        systemctl start proof-sink.service
        "${watch[@]}" wait
        "${watch[@]}" check
        systemctl --no-pager status wetside-station wetside-desk 2>&1 | head -n 30 | show
        bash /proof/limits.sh 2>&1 | show
        $python - <<'PY' 2>&1 | show
import json, urllib.request
with urllib.request.urlopen("http://127.0.0.1:8470/v1/runs", timeout=60) as answer:
    text = answer.read().decode()
print("DESK", answer.status, text[:300])
PY
        systemctl start wetside-backup.service
        say "BACKUP $? $(ls /var/lib/wetside/backups)"
        bash /proof/putback.sh 2>&1 | show
        for unit in station desk backup; do
            say "EXPOSURE $(systemd-analyze security --no-pager wetside-$unit.service | tail -n 1)"
        done
        journalctl --no-pager -o cat -u wetside-station -u wetside-desk -p warning | tail -n 20 | show
        ;;
    cuts) # the host lets the sink start with the station
        "${watch[@]}" check
        exec "${watch[@]}" ack
        ;;
    look) "${watch[@]}" check ;;
    faults | clock | slow | readonly)
        systemctl start --no-block proof-sink.service
        bash /proof/faults.sh "$mode" 2>&1 | show
        ;;
    measure)
        sleep 20
        { systemd-analyze time; systemd-analyze blame --no-pager | head -n 25
          systemd-analyze critical-chain --no-pager wetside-station.service
          systemctl --failed --no-pager; cat /proc/loadavg; free -m; } 2>&1 | show
        ;;
    *) exit 0 ;;
esac
say "PROOF done"
sync
systemctl poweroff
