#!/bin/bash
# boot.sh LAYER DEB TOLD
# Boots systemd on a copy of this machine, installs a package there, lets systemd run it as on a show PC, and writes each
# step that held to the file TOLD. Nothing of it stays, and nothing reaches a network.
# LAYER: an empty folder. As root, in namespaces of its own:
#   unshare --pid --fork --kill-child --mount --net --uts --ipc --cgroup scripts/debian/boot.sh LAYER DEB TOLD
set -euo pipefail
layer=$1
mount -t tmpfs layer "$layer"
root=$layer/root
mkdir "$layer/upper" "$layer/work" "$root"
mount -t overlay overlay -o "lowerdir=/,upperdir=$layer/upper,workdir=$layer/work" "$root"
mkdir "$root/try" "$root/old"
mount -t tmpfs try "$root/try"
cp "$2" "$root/try/new.deb"
cp scripts/debian/try-booted.sh "$root/try/try.sh"
: >>"$3"
touch "$root/try/told"
mount --bind "$3" "$root/try/told"

mount -t proc proc "$root/proc"
mount -t sysfs sysfs "$root/sys"
mount --rbind /dev "$root/dev"
for folder in run tmp; do mount -t tmpfs "$folder" "$root/$folder"; done
# One tree of control groups where the kernel has that, else those of the first version beside it, as this machine has them.
if [ "$(stat -f -c %T /sys/fs/cgroup)" = cgroup2fs ]; then
  mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup"
else
  mount -t tmpfs -o mode=755 cgroup "$root/sys/fs/cgroup"
  for there in /sys/fs/cgroup/*; do
    [ ! -L "$there" ] || continue
    one=${there##*/}
    mkdir "$root/sys/fs/cgroup/$one"
    case $one in
    systemd) mount -t cgroup -o none,name=systemd cgroup "$root/sys/fs/cgroup/$one" ;;
    unified) mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup/$one" ;;
    *) mount -t cgroup -o "$one" cgroup "$root/sys/fs/cgroup/$one" ;;
    esac
  done
fi
ip link set lo up

: >"$root/etc/machine-id"
# An image for containers forbids services to start.
rm -f "$root/usr/sbin/policy-rc.d" "$root/var/lib/man-db/auto-update"
cat >"$root/etc/systemd/system/try.target" <<'UNIT'
[Unit]
Requires=basic.target try.service
UNIT
cat >"$root/etc/systemd/system/try.service" <<'UNIT'
[Unit]
After=basic.target
SuccessAction=exit
FailureAction=exit
[Service]
Type=oneshot
TimeoutStartSec=200
ExecStart=/bin/bash /try/try.sh
StandardOutput=append:/try/told
StandardError=append:/try/told
UNIT
cd "$root"
pivot_root . old
umount -l /old
# The name of any kind of container keeps systemd from what only a machine has.
exec env -i container=other PATH=/usr/sbin:/usr/bin:/sbin:/bin /lib/systemd/systemd --log-target=null --unit=try.target
