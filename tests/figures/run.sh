#!/bin/sh
# run.sh - prints every figure of README.md here. Takes a quarter of an hour
# after the release build, most of it to hear ten minutes of instruments in
# real time. PROGRAM, or a release build of this checkout, is what is measured.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
program=${PROGRAM:-}
if [ -z "$program" ]; then
    (cd "$root" && cargo build --quiet --release -p cringle --bin cringle)
    program=${CARGO_TARGET_DIR:-$root/target}/release/cringle
fi
stat -c 'binary, stripped release: %s bytes' "$program"
PROGRAM=$program sh "$here/replay.sh"
python3 "$here/aboard.py" "$program" "$root/firmware/boat/boats/example.toml"
