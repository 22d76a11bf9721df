#!/bin/bash
# Run by boot.sh where systemd runs: says each step that held.
set -euo pipefail
export DEBIAN_FRONTEND=noninteractive LC_ALL=C HOME=/root
service=lampwright@main
show=/etc/lampwright/main.show.yaml
state=/var/lib/lampwright/main
held() { echo "held: $*"; }
fail() {
  echo "failed: $*"
  systemctl status "$service" --no-pager -l || true
  journalctl -u "$service" --no-pager -n 40 -o cat || true
  exit 1
}
# soon WORDS COMMAND...: waits until it succeeds.
soon() {
  local what=$1
  shift
  for _ in $(seq 150); do
    if "$@" >/dev/null 2>&1; then return; fi
    sleep 0.1
  done
  fail "not within 15 s: $what"
}
of() { systemctl show -p "$1" --value "$service"; }
is() { [ "$(of "$1")" = "$2" ]; }
says() { of StatusText | grep -q -e "$1"; }
is_stopped() { lampwright tell "$state" status | grep -q 'ines stopped'; }
opens() { node -e 'fetch("http://127.0.0.1:7240/").then(page => process.exit(page.ok ? 0 : 1), () => process.exit(2))'; }
installs() { dpkg -i /try/new.deb >/try/dpkg 2>&1 </dev/null || { cat /try/dpkg; fail 'it does not install'; }; }

installs
soon 'it is active' is ActiveState active
soon 'its status names the show' says 'Nothing leaves this machine'
soon 'its panel opens' opens
held 'installed: systemd has started it, and its panel opens'

level=$(systemd-analyze security "$service" --no-pager | sed -n 's/.*level for .*: \([0-9.]*\) .*/\1/p')
[ "$(printf '%s\n' "$level" 1.5 | sort -V | tail -1)" = 1.5 ] || fail "an exposure of $level"
held 'its exposure is 1.5 at most'

lampwright tell "$state" stop ines >/dev/null
kill -KILL "$(of MainPID)"
soon 'it is started again' is NRestarts 1
soon 'it is active' is ActiveState active
soon 'it knows who was stopped' is_stopped
held 'killed: it runs again, and knows who was stopped'

kill -STOP "$(of MainPID)"
soon 'its watchdog kills it' is NRestarts 2
soon 'it is active' is ActiveState active
held 'hung: its watchdog kills it, and it runs again'

sed -i 's/^name: .*/name: The harbour/' "$show"
soon 'it takes the reload' systemctl reload "$service"
soon 'it has the changed show' says 'The harbour'
cp "$show" /try/whole
echo 'broken: [' >>"$show"
systemctl reload "$service"
soon 'it refuses the broken show' says 'refused at the last reload'
systemctl restart "$service"
soon 'it runs the show that was accepted' says 'accepted last runs'
says 'The harbour' || fail 'it runs another show'
held 'reload: takes a changed show and refuses a broken one; a restart runs the one that was accepted'

cp /try/whole "$show"
before=$(of MainPID)
installs
soon 'it is active' is ActiveState active
[ "$(of MainPID)" != "$before" ] || fail 'an upgrade does not start it again'
soon 'it knows who was stopped' is_stopped
held 'upgraded: it was started again, and knows who was stopped'

systemctl stop "$service"
is ActiveState inactive && is Result success || fail 'it does not end cleanly'
installs
is ActiveState inactive || fail 'an upgrade starts what was stopped'
held 'stopped: it ends cleanly, and an upgrade leaves it stopped'

systemctl start "$service"
dpkg -P lampwright >/try/dpkg 2>&1 || { cat /try/dpkg; fail 'it is not purged'; }
! pgrep -f '^node /usr/bin/lampwright' >/dev/null || fail 'it still runs'
[ ! -e "$state" ] && [ ! -e /var/lib/private/lampwright ] || fail 'its state is still there'
held 'purged: it has ended, and its state is gone'
