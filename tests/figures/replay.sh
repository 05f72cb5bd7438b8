#!/bin/sh
# replay.sh - figures of a replay of a full 10 Hz instrument set (traffic.py):
# instructions per sentence, by callgrind, and sentences per second. What
# starting costs drops out, as both are differences between a long log and a
# short one. Skips aloud what valgrind would have counted where there is none.
#
# PROGRAM, or a release build of this checkout, is what is measured.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
name=figures
# shellcheck source=tests/say.sh
. "$root/tests/say.sh"
program=${PROGRAM:-${CARGO_TARGET_DIR:-$root/target}/release/cringle}
[ -x "$program" ] || (cd "$root" && cargo build --release -p cringle --bin cringle)
boat=$root/firmware/boat/boats/example.toml
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

log() { # SECONDS: its log, and how many sentences are in it
    [ -e "$work/$1.log" ] || python3 "$here/traffic.py" "$1" >"$work/$1.log"
    wc -l <"$work/$1.log"
}
replay() { # SECONDS [WRAPPER ...]
    file=$work/$1.log
    shift
    "$@" "$program" replay --json --boat "$boat" "$file" >/dev/null
}

short=30 long=90
if command -v valgrind >/dev/null; then
    count() {
        log "$1" >/dev/null
        replay "$1" valgrind --tool=callgrind --callgrind-out-file=/dev/null 2>"$work/said" ||
            fail "$(tail -n 3 "$work/said")"
        sed -n 's/.*Collected : *//p' "$work/said"
    }
    extra=$(($(log $long) - $(log $short)))
    each=$((($(count $long) - $(count $short)) / extra))
    echo "instructions per sentence: $each"
    # Ten kinds at 10 Hz. Half an instruction a cycle is low for a small
    # in-order core (from memory), so that this errs on the dear side.
    echo "$each" | awk '{ printf "share of a 1 GHz core at 100 sentences a second" \
        " and 0.5 instructions a cycle: %.2f %%\n", 100 * $1 * 100 / 0.5 / 1e9 }'
else
    say "SKIPPED: instructions per sentence (needs valgrind)"
fi

short=200 long=1200
extra=$(($(log $long) - $(log $short)))
python3 - "$extra" "$program" "$boat" "$work/$short.log" "$work/$long.log" <<'EOF'
import resource, subprocess, sys
extra, program, boat, *logs = sys.argv[1:]
def processor_s(log):
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([program, "replay", "--json", "--boat", boat, log],
                   check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
# The quickest of five: what else the machine does only ever adds.
short, long = (min(processor_s(log) for _ in range(5)) for log in logs)
print(f"sentences per processor second, from file to event line: {int(extra) / (long - short):.0f}")
EOF
