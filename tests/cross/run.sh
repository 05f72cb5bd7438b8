#!/bin/sh
# run.sh - builds arm64 on an amd64 desk and runs it under qemu-user: library
# tests of core, wire and screen, the simulator's bytes, a replay that must
# equal the native one line for line, and the demo over UDP. Serial ports
# cannot be opened there: qemu-user 7.2 knows no TCGETS2. Where no cross
# compiler can be had it says so and ends 0, or 1 where CI is true.
#
# Kept between runs: $CRINGLE_CACHE/cross and $CRINGLE_CROSS_TARGET; see
# cargo.sh.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
name=cross
. "$root/tests/say.sh"
cross=${CRINGLE_CACHE:-$HOME/.cache/cringle}/cross
built="${CRINGLE_CROSS_TARGET:-$root/target-cross}/aarch64-unknown-linux-gnu"
native="${CARGO_TARGET_DIR:-$root/target}/release/cringle"
clock() { date +%s; }
under() { qemu-aarch64-static -L /usr/aarch64-linux-gnu "$@"; }

[ "$(dpkg --print-architecture 2>/dev/null)" = amd64 ] || skip "needs Debian on amd64"
[ "$(id -u)" -eq 0 ] || [ -e "$cross/.done" ] || skip "needs root to fetch the compiler"
start=$(clock)
sh "$here/setup.sh" "$cross" >/dev/null || skip "no cross compiler from this mirror"
say "compiler ready after $(($(clock) - start)) s"

# 1. The program. The replay is only worth comparing with a native program of
# the same sources, so that one is built if anything has changed.
start=$(clock)
sh "$here/cargo.sh" build --quiet --profile cross -p cringle --bin cringle
(cd "$root" && cargo build --quiet --release -p cringle --bin cringle)
program="$built/cross/cringle"
say "arm64 program: $(stat -c %s "$program") bytes, native release:" \
    "$(stat -c %s "$native") bytes, built in $(($(clock) - start)) s"

# 2. Library tests.
start=$(clock)
sh "$here/cargo.sh" test --quiet --profile cross --lib -p cringle-core -p cringle-wire \
    -p cringle-screen >&2 || fail "library tests"
sh "$here/cargo.sh" test --quiet --profile cross -p cringle-sim --test passage \
    the_bytes_are_those_of_every_machine_and_every_run >"$built/bytes.log" 2>&1 ||
    { cat "$built/bytes.log" >&2; fail "the simulator's bytes"; }
grep -q '1 passed' "$built/bytes.log" || fail "the test of the simulator's bytes was not found"
say "library tests and the simulator's bytes pass under qemu" \
    "($(($(clock) - start)) s with building)"
say "not tried: serial ports (qemu-user has no TCGETS2)"

# 3. One input, two builds: the same lines.
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
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

# 4. The demo over UDP, recorded; and its recording on the other machine.
start=$(clock)
(cd "$work" && under "$program" --udp --json --png screen.png --record recordings \
    </dev/null >demo.jsonl 2>demo.log) ||
    { tail -n 5 "$work/demo.log" >&2; fail "demo over UDP"; }
grep -q '"event": *"call"' "$work/demo.jsonl" || fail "the demo raised no call"
"$native" replay --json "$work"/recordings/* >"$work/demo-native.jsonl" || fail "replay of the demo"
cmp "$work/demo.jsonl" "$work/demo-native.jsonl" || fail "the demo's recording replays differently"
say "demo over UDP: $(wc -l <"$work/demo.jsonl") event lines, the same when its recording is" \
    "replayed natively ($(($(clock) - start)) s)"
