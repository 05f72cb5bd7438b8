#!/bin/sh
# thumb.sh [core|wire|screen ...] - builds each alone for thumbv7em-none-eabihf,
# a microcontroller with an FPU, with the compiler and sources of
# tests/cross/setup.sh. The core library is built from source, which a stable
# compiler allows only when told to (RUSTC_BOOTSTRAP).
set -eu

here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
cross=${CRINGLE_CACHE:-$HOME/.cache/cringle}/cross
name=thumb
. "$root/tests/say.sh"

[ "$(dpkg --print-architecture 2>/dev/null)" = amd64 ] || skip "needs Debian on amd64"
[ "$(id -u)" -eq 0 ] || [ -e "$cross/.done" ] || skip "needs root to fetch the compiler"
exports=$(sh "$root/tests/cross/setup.sh" "$cross") || skip "no cross compiler from this mirror"
eval "$exports"
target="${CRINGLE_CROSS_TARGET:-$root/target-cross}"
unset CARGO_TARGET_DIR
cd "$root"
[ $# -gt 0 ] || set -- core wire screen

for crate in "$@"; do
    RUSTC_BOOTSTRAP=1 cargo build --quiet --release -Zbuild-std=core \
        --target thumbv7em-none-eabihf --target-dir "$target" -p "cringle-$crate"
    say "cringle-$crate builds for thumbv7em-none-eabihf"
done
