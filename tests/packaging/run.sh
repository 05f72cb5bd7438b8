#!/bin/sh
# run.sh - builds the Debian package of this machine's architecture, installs
# it in a fresh root, and runs it from a read-only one; then builds the one for
# arm64 from the cross build and compares it with the first.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
name=package
. "$root/tests/say.sh"

command -v dpkg >/dev/null || skip "needs Debian"
command -v cargo-deb >/dev/null || skip "needs cargo-deb: cargo install --locked cargo-deb"
arch=$(dpkg --print-architecture)
start=$(date +%s)
deb=$(sh "$root/firmware/daemon/packaging/build.sh" "$arch")
say "$(basename "$deb"): $(stat -c %s "$deb") bytes, built in $(($(date +%s) - start)) s"
sh "$here/install.sh" "$deb"
sh "$here/readonly.sh" "$deb"

[ "$arch" = amd64 ] || { say "arm64 is what this machine is"; exit 0; }
cross=${CRINGLE_CACHE:-$HOME/.cache/cringle}/cross
[ "$(id -u)" -eq 0 ] || [ -e "$cross/.done" ] || skip "arm64 needs root to fetch the compiler"
start=$(date +%s)
# Not linked as a release is: that takes minutes, and the package is the same.
foreign=$(PROFILE=cross sh "$root/firmware/daemon/packaging/build.sh" arm64) ||
    fail "the package for arm64"
say "$(basename "$foreign"): $(stat -c %s "$foreign") bytes, built in $(($(date +%s) - start)) s"
sh "$here/foreign.sh" "$foreign" "$deb"
