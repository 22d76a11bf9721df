#!/bin/bash
# try.sh ROOT OLD.deb NEW.deb
# Installs a package in a root folder, runs it as its unit would, upgrades it, removes it, and says each step that held.
# ROOT: a Debian with Node in it, of which nothing is kept. As root, in a mount namespace (`unshare --mount`), for /proc and
# /dev are mounted there.
set -euo pipefail
root=$1
cp "$2" "$root/tmp/old.deb"
cp "$3" "$root/tmp/new.deb"
mountpoint -q "$root/proc" || mount -t proc proc "$root/proc"
mountpoint -q "$root/dev" || mount --rbind /dev "$root/dev"
# The index of all manual pages takes longer than all else.
rm -f "$root/var/lib/man-db/auto-update"

exec chroot "$root" /bin/bash -s <<'INSIDE'
set -euo pipefail
export DEBIAN_FRONTEND=noninteractive PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C
cd /
show=/etc/lampwright/main.show.yaml
state=/var/lib/lampwright/main
unit=/usr/lib/systemd/system/lampwright@.service
daemon=
trap '[ -z "$daemon" ] || kill -KILL "$daemon" 2>/dev/null || true' EXIT
held() { echo "held: $*"; }
fail() { echo "failed: $*" >&2; exit 1; }
field() { sed -n "s/^$1=//p" "$unit" | head -1; }

# answers WHAT: waits until the status has it.
answers() {
  for _ in $(seq 200); do
    status=$(lampwright tell "$state" status --json 2>/dev/null | tr -d ' \n') || true
    if [[ $status == *"$1"* ]]; then return; fi
    kill -0 "$daemon" 2>/dev/null || break
    sleep 0.1
  done
  cat /tmp/log >&2
  fail "its status does not have $1: $status"
}

# What systemd would do: a user of its own, its folders, the command of the unit.
start() {
  install -d -m 700 -o 65534 -g 65534 "$state" /run/lampwright/main
  STATE_DIRECTORY=$state RUNTIME_DIRECTORY=/run/lampwright/main NODE_ENV=production \
    setpriv --reuid=65534 --regid=65534 --clear-groups --no-new-privs \
    bash -c "exec $(field ExecStart | sed 's/%i/main/')" >/tmp/log 2>&1 &
  daemon=$!
  answers '"ok":true'
}
stop() { kill -TERM "$daemon"; wait "$daemon" || fail "it ends with $?"; }

named() { find / -xdev '(' -path /proc -o -path /dev -o -path /tmp ')' -prune -o -iname '*lampwright*' -print | sort; }
there=$(named)
dpkg -i /tmp/old.deb >/tmp/dpkg 2>&1 || { cat /tmp/dpkg >&2; fail 'the package does not install'; }
lampwright check "$show" >/dev/null || fail 'its show has errors'
held 'installed; its show passes the check'
if command -v systemd-analyze >/dev/null; then
  said=$(systemd-analyze verify lampwright@main.service 2>&1) || fail "$said"
  [ -z "$said" ] || fail "$said"
  [ -L /etc/systemd/system/multi-user.target.wants/lampwright@main.service ] || fail 'it is not enabled'
  held 'systemd has nothing to say against its unit, and starts it with the machine'
fi
if command -v man >/dev/null; then
  said=$(for page in /usr/share/man/man1/lampwright*.1.gz; do man --warnings -E UTF-8 -l -Tutf8 "$page" 2>&1 >/dev/null; done)
  [ -z "$said" ] || fail "$said"
  held 'its manual pages have no faults'
fi
bash -c '. /usr/share/bash-completion/completions/lampwright
  COMP_WORDS=(lampwright run --lo); COMP_CWORD=2; _lampwright; [ "${COMPREPLY[*]}" = --log ]' || fail 'bash does not complete'
held 'bash completes it'
start
held 'runs as its unit would, and answers'
opens() { node -e 'fetch("http://127.0.0.1:7240/").then(page => process.exit(page.ok ? 0 : 1), () => process.exit(2))'; }
for _ in $(seq 100); do opens && break || sleep 0.1; done
opens || fail 'its panel does not open'
held 'its panel opens'
lampwright tell "$state" stop ines >/dev/null
identity=$(cat "$state/cid")
stop
held 'ends cleanly'

before=$(lampwright --version)
echo '# somebody was here' >>"$show"
dpkg -i /tmp/new.deb >/tmp/dpkg 2>&1 || { cat /tmp/dpkg >&2; fail 'the upgrade does not install'; }
[ "$(lampwright --version)" != "$before" ] || fail "the version is still $before"
tail -1 "$show" | grep -q 'somebody was here' || fail 'the show was overwritten'
[ "$(cat "$state/cid")" = "$identity" ] || fail 'its identity on the network changed'
start
answers '"state":"stopped"'
stop
held 'upgraded: show, identity and what people told it are kept'

dpkg -r lampwright >/tmp/dpkg 2>&1 || { cat /tmp/dpkg >&2; fail 'it is not removed'; }
[ ! -e /usr/lib/lampwright ] && [ ! -e /usr/bin/lampwright ] || fail 'the program is still there'
[ -e "$show" ] && [ -e "$state/operator.json" ] || fail 'show or state are gone with the program'
held 'removed: the program is gone, show and state are kept'
dpkg -P lampwright >/tmp/dpkg 2>&1 || { cat /tmp/dpkg >&2; fail 'it is not purged'; }
rm -rf /tmp/old.deb /tmp/new.deb /tmp/dpkg /tmp/log /run/lampwright
left=$(comm -13 <(echo "$there") <(named))
[ -z "$left" ] || fail "left behind: $left"
held 'purged: nothing is left'
INSIDE
