#!/bin/sh
# cargo.sh COMMAND ... - cargo for arm64 with the compiler of setup.sh.
#
# The compiler lives in $CRINGLE_CACHE/cross (default ~/.cache/cringle), what
# it builds in $CRINGLE_CROSS_TARGET (default target-cross): never in `target`,
# or two compilers would build everything over each other's work.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
cross=${CRINGLE_CACHE:-$HOME/.cache/cringle}/cross
exports=$(sh "$here/setup.sh" "$cross")
eval "$exports"
unset CARGO_TARGET_DIR

command=$1
shift
cd "$root"
exec cargo "$command" --target aarch64-unknown-linux-gnu \
    --target-dir "${CRINGLE_CROSS_TARGET:-$root/target-cross}" "$@"
