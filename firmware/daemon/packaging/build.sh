#!/bin/sh
# build.sh amd64|arm64 - builds the Debian package of that architecture and
# prints its path. arm64 needs tests/cross/setup.sh once; see there. $PROFILE
# (default release) may name a profile that builds faster, to try the package.
set -eu

arch=${1:-amd64}
profile=${PROFILE:-release}
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
    cargo build --profile "$profile" -p cringle --bin cringle >&2
    exec cargo deb --no-build -p cringle --quiet --profile "$profile" --output "$target/debian/"
    ;;
arm64)
    sh "$root/tests/cross/cargo.sh" build --profile "$profile" -p cringle --bin cringle >&2
    export CARGO_TARGET_DIR="${CRINGLE_CROSS_TARGET:-$root/target-cross}"
    deb=$(cargo deb --no-build -p cringle --quiet --profile "$profile" \
        --target aarch64-unknown-linux-gnu --output "$target/debian/")
    # Debian's tool ties what it depends on to a foreign machine ("libc6:arm64"),
    # which on the board itself is none.
    unpacked=$(mktemp -d)
    trap 'rm -rf "$unpacked"' EXIT
    dpkg-deb --raw-extract "$deb" "$unpacked/deb"
    sed -i '/^Depends:/ s/:arm64//g' "$unpacked/deb/DEBIAN/control"
    dpkg-deb --root-owner-group --build "$unpacked/deb" "$deb" >&2
    echo "$deb"
    ;;
*)
    say "amd64 or arm64, not $arch"
    exit 2
    ;;
esac
