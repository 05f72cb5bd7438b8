#!/bin/sh
# install.sh DEB - installs the package in a fresh Debian root and looks at
# what is there: files, account, directories, unit, rules, and that purging it
# leaves nothing. Needs root; what else it needs it installs or skips aloud.
#
# The root is made once by debootstrap and kept in
# $CRINGLE_CACHE/root-trixie (default ~/.cache/cringle); each run works on a copy.
set -eu

name=install
# shellcheck source=tests/say.sh
. "$(dirname "$0")/../say.sh"

[ $# -eq 1 ] || { echo "usage: $0 DEB" >&2; exit 2; }
deb=$(realpath "$1")
[ -f "$deb" ] || { echo "no package at $1" >&2; exit 2; }
cache=${CRINGLE_CACHE:-$HOME/.cache/cringle}/root-trixie

[ "$(id -u)" -eq 0 ] || skip "needs root to make a Debian root"
missing=""
for tool in debootstrap lintian; do
    command -v "$tool" >/dev/null || missing="$missing $tool"
done
if [ -n "$missing" ]; then
    say "installing$missing"
    # shellcheck disable=SC2086
    DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends \
        $missing >/dev/null || skip "cannot install$missing"
fi
if [ ! -e "$cache/.done" ]; then
    say "making a Debian root in $cache"
    rm -rf "$cache"
    mkdir -p "$cache"
    nice -n 10 debootstrap --variant=minbase --include=systemd,udev,adduser trixie "$cache" \
        >"$cache.log" 2>&1 || { tail -n 5 "$cache.log" >&2; skip "no Debian mirror"; }
    touch "$cache/.done"
fi

work=$(mktemp -d)
root="$work/root"
# Nothing is deleted while anything is still mounted below.
clean() {
    if mountpoint -q "$root/proc"; then umount "$root/proc" || true; fi
    if grep -qF " $work/" /proc/mounts; then
        say "left mounted, not deleted: $work"
    else
        rm -rf --one-file-system "$work"
    fi
}
trap clean EXIT
mkdir "$root"
cp -a "$cache/." "$root"
rm "$root/.done"
cp "$deb" "$root/cringle.deb"
mount -t proc proc "$root/proc" || skip "may not mount /proc in the new root"
within() { chroot "$root" "$@"; }

listing() { (cd "$1" && find . -path ./proc -prune -o -print | sort); }
listing "$root" > "$work/before"

# 1. dpkg takes it, and its scripts make account and directories.
within dpkg --install /cringle.deb >"$work/dpkg.log" 2>&1 ||
    { cat "$work/dpkg.log" >&2; fail "dpkg --install"; }
within dpkg --audit | grep . && fail "dpkg --audit complains"

for path in usr/bin/cringle usr/lib/systemd/system/cringle.service \
    usr/lib/udev/rules.d/60-cringle.rules usr/lib/sysusers.d/cringle.conf \
    usr/lib/tmpfiles.d/cringle.conf usr/lib/modules-load.d/cringle.conf \
    etc/cringle/board.toml usr/share/man/man1/cringle.1.gz \
    usr/share/man/man1/cringle-watch.1.gz \
    usr/share/bash-completion/completions/cringle \
    usr/share/zsh/vendor-completions/_cringle \
    usr/share/fish/vendor_completions.d/cringle.fish \
    usr/share/cringle/boards/cockpit-oled/WIRING.md \
    usr/share/doc/cringle/examples/boat.toml; do
    [ -e "$root/$path" ] || fail "/$path is not there"
done
# shellcheck disable=SC2016
within dpkg-query -W -f '${Conffiles}\n' cringle | grep -q /etc/cringle/board.toml ||
    fail "/etc/cringle/board.toml is not a conffile: an upgrade would overwrite it"

owned() { # PATH OWNER MODE
    got=$(within stat -c '%U:%G %a' "$1") || fail "$1 is not there"
    [ "$got" = "$2 $3" ] || fail "$1 is $got, should be $2 $3"
}
owned /etc/cringle root:root 755
owned /var/lib/cringle cringle:cringle 750
owned /var/lib/cringle/recordings cringle:cringle 750
groups=$(within id -nG cringle)
for group in dialout i2c spi gpio; do
    case " $groups " in *" $group "*) ;; *) fail "cringle is not in group $group: $groups" ;; esac
done
[ "$(within getent passwd cringle | cut -d: -f7)" = /usr/sbin/nologin ] ||
    fail "cringle can log in"
say "files, account and directories are there"

# 2. The same by the declarations alone, from outside, as an image builder does.
plain="$work/plain"
mkdir "$plain"
cp -a "$cache/." "$plain"
dpkg-deb --extract "$deb" "$plain"
systemd-sysusers --root="$plain" cringle.conf 2>"$work/sysusers.log" ||
    { cat "$work/sysusers.log" >&2; fail "systemd-sysusers --root"; }
systemd-tmpfiles --root="$plain" --create cringle.conf
grep -q '^cringle:' "$plain/etc/passwd" || fail "sysusers made no account"
[ -d "$plain/var/lib/cringle/recordings" ] || fail "tmpfiles made no directories"
say "sysusers and tmpfiles agree with the package's scripts"

# 3. Unit and rules.
[ "$(within systemctl is-enabled cringle.service)" = enabled ] || fail "unit is not enabled"
unit=/usr/lib/systemd/system/cringle.service
within systemd-analyze verify --man=no "$unit" 2>"$work/verify.log" || fail "$(cat "$work/verify.log")"
[ -s "$work/verify.log" ] && fail "systemd-analyze verify: $(cat "$work/verify.log")"
within systemd-analyze security --offline=true --threshold=20 --no-pager "$unit" \
    >"$work/security.log" 2>&1 || { cat "$work/security.log" >&2; fail "exposure over 2.0"; }
say "$(grep 'Overall exposure' "$work/security.log" | sed 's/.*Overall/overall/; s/[^ -~]//g')"
grep -a '^.*✗' "$work/security.log" | sed 's/^✗ *//; s/  */ /g; s/^/install:   exposed: /' >&2
within udevadm verify /usr/lib/udev/rules.d/60-cringle.rules >"$work/udev.log" 2>&1 ||
    { cat "$work/udev.log" >&2; fail "udevadm verify"; }
say "unit and rules are well formed"

# 4. The program starts in that root.
if [ "$(dpkg-deb -f "$deb" Architecture)" = "$(dpkg --print-architecture)" ]; then
    within /usr/bin/cringle --version >&2 || fail "cringle --version"
else
    say "SKIPPED: starting it (another architecture)"
fi

# 5. An upgrade never restarts a watch that runs: at sea it waits until told.
control="$work/control"
mkdir "$control"
dpkg-deb --control "$deb" "$control"
grep -nE '^[^#]*restart' "$control"/postinst && fail "an upgrade would restart a running watch"
grep -q 'stop' "$control"/prerm 2>/dev/null && ! grep -q '"remove"\|= remove' "$control"/prerm &&
    fail "an upgrade would stop a running watch"

# 6. Removing keeps what the crew made; purging takes all of it.
echo mine > "$root/var/lib/cringle/state"
echo 'key = "tansy-4711"' > "$root/etc/cringle/boat.toml"
within dpkg --remove cringle >/dev/null 2>&1 || fail "dpkg --remove"
[ -e "$root/var/lib/cringle/state" ] || fail "removing took the crew's state away"
[ -e "$root/etc/cringle/board.toml" ] || fail "removing took the settings away"
[ -e "$root/etc/cringle/boat.toml" ] || fail "removing took the boat file away"
within dpkg --purge cringle >/dev/null 2>&1 || fail "dpkg --purge"
listing "$root" > "$work/after"
# Accounts and groups stay, so that their numbers are not given to another.
left=$(comm -13 "$work/before" "$work/after" |
    grep -vE '^\./(var/lib/(dpkg|systemd)|var/cache|var/log|etc/(passwd|group|shadow|gshadow)|etc/\.pwd|run|tmp)' || true)
[ -e "$root/etc/cringle/boat.toml" ] && fail "purging left the boat file with its key"
[ -z "$left" ] || fail "left behind after purging: $left"
say "removed and purged cleanly"

# 7. Debian's own checker.
lintian --tag-display-limit 0 --allow-root --fail-on error,warning "$deb" >"$work/lintian.log" 2>&1 ||
    { cat "$work/lintian.log" >&2; fail "lintian"; }
cat "$work/lintian.log" >&2
say "lintian has no error or warning"
