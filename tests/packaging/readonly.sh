#!/bin/sh
# readonly.sh DEB - runs the packaged monitor from a read-only root, as the
# service's account, with only /var/lib/cringle and /run/cringle writable, on
# a recording-like feed over UDP; and looks at what it wrote and told.
# Needs root and the Debian root of install.sh.
set -eu

name=read-only
# shellcheck source=tests/say.sh
. "$(dirname "$0")/../say.sh"

[ $# -eq 1 ] || { echo "usage: $0 DEB" >&2; exit 2; }
deb=$(realpath "$1")
cache=${CRINGLE_CACHE:-$HOME/.cache/cringle}/root-trixie
here=$(cd "$(dirname "$0")" && pwd)

[ "$(id -u)" -eq 0 ] || skip "needs root"
[ -e "$cache/.done" ] || skip "run install.sh first: it makes the Debian root"
command -v python3 >/dev/null || skip "needs python3 for the fake service manager"

work=$(mktemp -d)
root="$work/root"
# Nothing is deleted while anything is still mounted below.
clean() {
    awk -v at="$work/" 'index($2, at) == 1 { print $2 }' /proc/mounts | sort -r |
        while read -r at; do umount "$at" || true; done
    if grep -qF " $work/" /proc/mounts; then
        say "left mounted, not deleted: $work"
    else
        rm -rf --one-file-system "$work"
    fi
}
trap clean EXIT

[ -f "$deb" ] || fail "no package at $deb"
mkdir "$root"
cp -a "$cache/." "$work/full"
mount -t proc proc "$work/full/proc" || skip "may not mount"
cp "$deb" "$work/full/cringle.deb"
chroot "$work/full" dpkg --install /cringle.deb >"$work/dpkg.log" 2>&1 ||
    { umount "$work/full/proc"; cat "$work/dpkg.log" >&2; fail "dpkg --install"; }
umount "$work/full/proc"
zcat -f "$work/full/usr/share/doc/cringle/examples/boat.toml"* > "$work/full/etc/cringle/boat.toml"

mount --bind "$work/full" "$root"
mount -o remount,bind,ro "$root"
mount -t proc proc "$root/proc"
user=$(chroot "$root" id -u cringle)
group=$(chroot "$root" id -g cringle)
for at in var/lib/cringle run/cringle; do
    [ -d "$root/$at" ] || fail "/$at is not there to mount on"
    mount -t tmpfs -o "mode=0750,uid=$user,gid=$group,size=256m" tmpfs "$root/$at"
done
chroot "$root" touch /etc/cringle/x 2>/dev/null && fail "the root is not read-only"

python3 "$here/manager.py" "$root" "$root/run/cringle/notify" || fail "see above"
say "ran from a read-only root; wrote to:"
(cd "$root/var/lib/cringle" && find . -type f -size +0 -exec ls -l {} + |
    awk '{print "read-only:   /var/lib/cringle/" $9 ", " $5 " bytes"}') >&2
recording=$(cd "$root" && find var/lib/cringle/recordings -type f -size +0 | sort)
[ -n "$recording" ] || fail "it recorded nothing"
# shellcheck disable=SC2086
(cd / && chroot "$root" /usr/bin/cringle replay --json $recording) >"$work/replay.jsonl" ||
    fail "its recording cannot be replayed"
[ -s "$work/replay.jsonl" ] || fail "its recording tells nothing"
say "its recording replays to $(wc -l <"$work/replay.jsonl") events"
