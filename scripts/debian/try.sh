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

# Nobody answers a question: an upgrade is as often as not without a terminal.
installs() { dpkg -i "$1" >/tmp/dpkg 2>&1 </dev/null || { cat /tmp/dpkg >&2; fail "$1 does not install"; }; }

named() { find / -xdev '(' -path /proc -o -path /dev -o -path /tmp ')' -prune -o -iname '*lampwright*' -print | sort; }
there=$(named)
installs /tmp/old.deb
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
installs /tmp/new.deb
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

# What systemd would be asked, written down by programs that stand in for it: there is no systemd in a chroot.
mkdir -p /tmp/asked /run/systemd/system
for program in systemctl deb-systemd-invoke; do
  printf '#!/bin/sh\necho "%s $*" >>/tmp/asked.log\n' "$program" >"/tmp/asked/$program"
  chmod 755 "/tmp/asked/$program"
done
PATH=/tmp/asked:$PATH installs /tmp/new.deb
grep -qx 'deb-systemd-invoke start lampwright@main.service' /tmp/asked.log || fail 'it is not started when it comes again'
: >/tmp/asked.log
PATH=/tmp/asked:$PATH installs /tmp/new.deb
grep -q '^systemctl try-restart' /tmp/asked.log || fail 'an upgrade does not start again what runs'
! grep -q '^deb-systemd-invoke' /tmp/asked.log || fail 'an upgrade starts what is stopped'
[ ! -e /run/lampwright-comes-again ] || fail 'it leaves its mark'
rm -rf /run/systemd
held 'installed again after a removal: it starts'

purges() { dpkg -P lampwright >/tmp/dpkg 2>&1 || { cat /tmp/dpkg >&2; fail 'it is not purged'; }; }
cp -p "$show" /tmp/mine
purges
cmp -s "$show" /tmp/mine || fail "a purge takes the venue's own show"
held "purged: the venue's own show stays"

# Versions before had the show as a conffile, here with another example than that of now.
dpkg-deb -R /tmp/old.deb /tmp/conffile
mv /tmp/conffile/usr/share/lampwright/main.show.yaml /tmp/conffile/etc/lampwright/
echo '# an older example' >>/tmp/conffile/etc/lampwright/main.show.yaml
echo /etc/lampwright/main.show.yaml >/tmp/conffile/DEBIAN/conffiles
rm /tmp/conffile/DEBIAN/preinst
dpkg-deb -Znone -b /tmp/conffile /tmp/conffile.deb >/dev/null
for how in unchanged changed; do
  for after in upgraded 'removed, then installed'; do
    rm -f "$show"
    installs /tmp/conffile.deb
    [ $how = unchanged ] || echo '# somebody was here' >>"$show"
    cp -p "$show" /tmp/mine
    [ "$after" = upgraded ] || dpkg -r lampwright >/dev/null 2>&1
    installs /tmp/new.deb
    cmp -s "$show" /tmp/mine || fail "the $how show of a version before is another after it was $after"
    [ -z "$(dpkg-query -W -f '${Conffiles}' lampwright)" ] || fail 'dpkg still takes the show for its own'
    purges
    cmp -s "$show" /tmp/mine || fail "the $how show of a version before is gone with a purge"
  done
done
# An upgrade that ends halfway, as its file is cut short.
rm -f "$show"
installs /tmp/conffile.deb
cp -p "$show" /tmp/mine
head -c 1000000 /tmp/new.deb >/tmp/broken.deb
! dpkg -i /tmp/broken.deb >/tmp/dpkg 2>&1 </dev/null || fail 'a package that is broken installs'
[ "$(dpkg-query -W -f '${Version}' lampwright)" = "$before" ] || fail 'the version before is not back'
cmp -s "$show" /tmp/mine || fail 'the show is gone as an upgrade ended halfway'
purges
rm -f "$show"
held 'upgraded from a version whose show was a conffile: no question, and the show is kept'

installs /tmp/new.deb
cmp -s "$show" /usr/share/lampwright/main.show.yaml || fail 'the first install does not bring the show of the package'
purges
rm -rf /tmp/*.deb /tmp/conffile /tmp/asked /tmp/asked.log /tmp/mine /tmp/dpkg /tmp/log /run/lampwright
left=$(comm -13 <(echo "$there") <(named))
[ -z "$left" ] || fail "left behind: $left"
held 'purged with the show of the package: nothing is left'
INSIDE
