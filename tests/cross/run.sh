#!/bin/sh
# run.sh - builds arm64 on an amd64 desk and runs it under qemu-user: the
# library tests, a replay that must equal the native one line for line, and
# the demo over UDP. Serial ports cannot be opened there: qemu-user 7.2 knows
# no TCGETS2. Where no cross compiler can be had it says so and ends 0.
#
# Cached are $CRINGLE_CROSS and $CRINGLE_CROSS_TARGET; see cargo.sh.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
cross=${CRINGLE_CROSS:-$HOME/.cache/cringle/cross}
built="${CRINGLE_CROSS_TARGET:-$root/target-cross}/aarch64-unknown-linux-gnu"
native="${CARGO_TARGET_DIR:-$root/target}/release/cringle"
say() { echo "cross: $*" >&2; }
fail() { say "FAILED: $*"; exit 1; }
skip() { say "SKIPPED: $*"; exit 0; }
clock() { date +%s; }
under() { qemu-aarch64-static -L /usr/aarch64-linux-gnu "$@"; }

[ "$(dpkg --print-architecture 2>/dev/null)" = amd64 ] || skip "needs Debian on amd64"
[ "$(id -u)" -eq 0 ] || [ -e "$cross/.done" ] || skip "needs root to fetch the compiler"
start=$(clock)
sh "$here/setup.sh" "$cross" >/dev/null || skip "no cross compiler from this mirror"
say "compiler ready after $(($(clock) - start)) s"

# 1. Library tests.
start=$(clock)
"$here/cargo.sh" test --quiet --lib --tests -p cringle-core -p cringle-wire \
    -p cringle-screen -p cringle-boat -p cringle-boards || fail "library tests"
say "library tests pass under qemu ($(($(clock) - start)) s with building)"
say "SKIPPED: serial port tests (qemu-user has no TCGETS2)"

# 2. The program.
start=$(clock)
"$here/cargo.sh" build --quiet --release -p cringle --bin cringle
[ -x "$native" ] || (cd "$root" && cargo build --quiet --release -p cringle --bin cringle)
program="$built/release/cringle"
say "arm64 program: $(stat -c %s "$program") bytes, native: $(stat -c %s "$native") bytes," \
    "built in $(($(clock) - start)) s"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$native" replay --help >/dev/null 2>&1 || fail "the native program has no replay"

# 3. One input, two builds: the same lines.
log="$work/passage.log"
python3 "$here/passage.py" >"$log"
start=$(clock)
boat="$root/firmware/boat/boats/example.toml"
"$native" replay --json --boat "$boat" "$log" >"$work/native.jsonl" || fail "native replay"
under "$program" replay --json --boat "$boat" "$log" >"$work/arm64.jsonl" || fail "arm64 replay"
grep -q '"event": *"call"' "$work/native.jsonl" || fail "an hour of rising wind raised no call"
cmp "$work/native.jsonl" "$work/arm64.jsonl" || fail "replays differ"
say "replay equals the native one: $(wc -l <"$work/native.jsonl") lines" \
    "($(($(clock) - start)) s for both)"

# 4. The demo over UDP.
if ! "$native" --help 2>&1 | grep -q -- --udp; then
    say "SKIPPED: demo over UDP (this program's demo has no --udp)"
    exit 0
fi
start=$(clock)
(cd "$work" && under "$program" --udp --json </dev/null >demo.jsonl 2>demo.log) ||
    { tail -n 5 "$work/demo.log" >&2; fail "demo over UDP"; }
grep -q '"event": *"call"' "$work/demo.jsonl" || fail "the demo raised no call"
say "demo over UDP: $(wc -l <"$work/demo.jsonl") event lines in $(($(clock) - start)) s"
