#!/bin/sh
# run.sh - builds the Debian package of this machine's architecture, installs
# it in a fresh root, and runs it from a read-only one.
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
