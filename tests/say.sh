# say.sh - how the check scripts speak, fail and skip. Sourced by each after it
# has set `name`.
# shellcheck shell=sh

# shellcheck disable=SC2154
say() { echo "$name: $*" >&2; }
fail() {
    say "FAILED: $*"
    exit 1
}
# What a desk lacks is skipped aloud; what CI lacks is a failure.
skip() {
    say "SKIPPED: $*"
    [ "${CI:-}" != true ] || fail "nothing may be skipped in CI"
    exit 0
}
