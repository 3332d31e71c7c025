#!/bin/bash
# Inside the machine under test: lose the journal and put a backup back, in the words of docs/install.md.
# PUTBACK what ok|bad seen
tell() { printf 'PUTBACK %s %s %s\n' "$@"; }
events() { # the last event up to a number, and the digest of all up to it
    /usr/bin/python3 -I -S - "$1" <<'PY'
import hashlib, sqlite3, sys
c = sqlite3.connect("file:/var/lib/wetside/journal.sqlite?mode=ro", uri=True, timeout=20)
rows = c.execute("SELECT seq, kind, detail FROM event WHERE seq <= ? ORDER BY seq", sys.argv[1:])
kept = rows.fetchall()
print(kept[-1][0] if kept else 0, hashlib.sha256(repr(kept).encode()).hexdigest()[:16])
PY
}

both() { systemctl -q is-active wetside-station && systemctl -q is-active wetside-desk; }

put_back() { # put_back WHAT PATH PROMISED
    local said code=0
    systemctl stop wetside.target wetside-station wetside-desk
    rm -f /var/lib/wetside/journal.sqlite* /run/wetside/live.json
    said=$(runuser -u wetside -- wetside restore "$2" 2>&1) || code=$?
    systemctl start wetside.target
    timeout 300 bash -c 'until [ -e /run/wetside/live.json ]; do sleep 1; done'
    if [ $code = 0 ] && [ "$(events "${3% *}")" = "$3" ] && both; then
        tell "$1" ok "all events up to ${3% *} are there, station and desk run: ${said//$'\n'/; }"
    else
        tell "$1" bad "exit code $code, events $(events "${3% *}"), wanted $3: ${said//$'\n'/; }"
    fi
}

stick=/media/stick
install -d -o wetside -g wetside $stick # a folder stands in for the stick
promised=$(events 999999999)
systemctl start wetside-backup || tell backup bad "the unit failed"
runuser -u wetside -- wetside backup $stick/darkroom.zip || tell backup bad "no file was made"
folders=(/var/lib/wetside/backups/*)
put_back file $stick/darkroom.zip "$promised"
put_back folder "${folders[-1]}" "$promised"
