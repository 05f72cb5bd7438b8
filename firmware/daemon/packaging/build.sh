#!/bin/sh
# build.sh amd64|arm64 - builds the Debian package of that architecture and
# prints its path. arm64 needs tests/cross/setup.sh once; see there.
set -eu

arch=${1:-amd64}
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../../.." && pwd)
target=${CARGO_TARGET_DIR:-$root/target}
say() { echo "package: $*" >&2; }

command -v cargo-deb >/dev/null || {
    say "cargo-deb is missing: cargo install --locked cargo-deb --version '^3'"
    exit 3
}
cd "$root"

# Manual pages and completions are the same everywhere and need a program
# that runs here, so they are made natively.
rm -rf "$root/target/papers"
cargo run --quiet -p cringle --example papers -- "$root/target/papers" >&2

# Debian wants its own changelog; the dates come from the history.
version=$(cargo pkgid -p cringle | sed 's/.*[#@]//')
when=$(git log -1 --format=%cD 2>/dev/null || date -R)
printf 'cringle (%s-1) unstable; urgency=medium\n\n  * Release %s.\n\n -- %s  %s\n' \
    "$version" "$version" "The Cringle developers <developers@cringle.example>" "$when" |
    gzip -9n > "$here/changelog.Debian.gz"

# cargo-deb finds the program by the target folder it is told of.
case $arch in
amd64)
    cargo build --release -p cringle --bin cringle >&2
    exec cargo deb --no-build -p cringle --quiet --output "$target/debian/"
    ;;
arm64)
    "$root/tests/cross/cargo.sh" build --release -p cringle --bin cringle >&2
    export CARGO_TARGET_DIR="${CRINGLE_CROSS_TARGET:-$root/target-cross}"
    exec cargo deb --no-build -p cringle --quiet --target aarch64-unknown-linux-gnu \
        --output "$target/debian/"
    ;;
*)
    say "amd64 or arm64, not $arch"
    exit 2
    ;;
esac
