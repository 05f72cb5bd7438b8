#!/bin/sh
# foreign.sh DEB OWN - looks at a package for arm64 beside the one for this
# machine: architecture, the same files, what it depends on, Debian's own
# checker; and the program starts under qemu-user. To install it, a root of
# its own architecture would have to run here; install.sh does that for OWN,
# whose scripts are the same.
set -eu

name=foreign
# shellcheck source=tests/say.sh
. "$(dirname "$0")/../say.sh"

[ $# -eq 2 ] || { echo "usage: $0 DEB OWN" >&2; exit 2; }
deb=$1 own=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

[ "$(dpkg-deb -f "$deb" Architecture)" = arm64 ] || fail "it is not for arm64"
for field in Package Version Recommends; do
    [ "$(dpkg-deb -f "$deb" $field)" = "$(dpkg-deb -f "$own" $field)" ] || fail "$field differs"
done
depends=$(dpkg-deb -f "$deb" Depends)
names() { dpkg-deb -f "$1" Depends | sed 's/ *([^)]*)//g'; }
[ "$(names "$deb" | tr -d ' ' | tr ',' '\n' | sort)" = "$(names "$own" | tr -d ' ' | tr ',' '\n' | sort)" ] ||
    fail "it depends on other packages: $depends"

listing() { dpkg-deb --contents "$1" | awk '!/^d/ { sub(/^\.\//, "", $6); sub(/^0\/0$/, "root/root", $2); print $1, $2, $6 }' | sort -k3; }
listing "$deb" >"$work/foreign"
listing "$own" >"$work/own"
diff "$work/own" "$work/foreign" >&2 || fail "it holds other files than the one for this machine"
dpkg-deb --control "$deb" "$work/control"
dpkg-deb --control "$own" "$work/own-control"
for script in postinst prerm postrm conffiles; do
    cmp "$work/control/$script" "$work/own-control/$script" || fail "$script differs"
done

dpkg-deb --extract "$deb" "$work/tree"
program=$work/tree/usr/bin/cringle
# Bytes 18 and 19 of an ELF file name the machine: 183 is AArch64.
[ "$(od -An -tu2 -j18 -N2 "$program" | tr -d ' ')" = 183 ] || fail "the program is not for arm64"
qemu-aarch64-static -L /usr/aarch64-linux-gnu "$program" --version >&2 ||
    fail "cringle --version under qemu"
say "architecture, files, scripts and dependencies ($depends) are right"

if command -v lintian >/dev/null; then
    lintian --tag-display-limit 0 --allow-root --fail-on error,warning "$deb" \
        >"$work/lintian.log" 2>&1 || { cat "$work/lintian.log" >&2; fail "lintian"; }
    cat "$work/lintian.log" >&2
    say "lintian has no error or warning"
else
    skip "needs lintian"
fi
