#!/bin/bash
# clean-root.sh OLD.deb NEW.deb [SUITE]
# The packages in a Debian of their own, with Node and systemd and nothing else, made by debootstrap (as root; some minutes and
# 400 MB): see try.sh. SUITE: the first Debian whose Node is new enough is trixie.
set -euo pipefail
here=$(dirname "$(realpath "$0")")
root=$(mktemp -d)
# Its own root folder is that of the user of the unit as well.
chmod 755 "$root"
trap 'rm -rf --one-file-system "$root"' EXIT
debootstrap --variant=minbase --include=nodejs,init-system-helpers,systemd,man-db "${3:-trixie}" "$root"
# In a network of its own: whatever has the ports on this machine is not in the way.
unshare --mount --net sh -c 'ip link set lo up; exec "$@"' sh "$here/try.sh" "$root" "$1" "$2"
