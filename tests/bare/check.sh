#!/bin/sh
# check.sh [core|wire|screen ...] - shows that each alone links into a static
# library with its own panic handler and no allocator, and names no allocator
# symbol. Ends 1 at the first that does not.
set -eu

here=$(cd "$(dirname "$0")" && pwd)
target=${CARGO_TARGET_DIR:-$here/../../target}/bare
cd "$here"
[ $# -gt 0 ] || set -- core wire screen
name=bare
# shellcheck source=tests/say.sh
. ../say.sh
command -v nm >/dev/null || skip "needs nm of binutils"

build() { cargo build --locked --quiet --target-dir "$target" -p "bare-$1"; }

# First that the check can fail at all.
if build allocates 2> "$target.refused"; then
    say "a library that allocates was accepted: this check proves nothing"
    exit 1
fi
grep -q 'no global memory allocator' "$target.refused" || {
    cat "$target.refused" >&2
    say "a library that allocates failed for another reason"
    exit 1
}
rm -f "$target.refused"

for crate in "$@"; do
    build "$crate"
    library="$target/debug/libbare_$crate.a"
    nm "$library" > "$target/$crate.symbols" 2> /dev/null
    [ -s "$target/$crate.symbols" ] || { say "$crate: nm lists nothing"; exit 1; }
    grep -q "cringle_$crate" "$target/$crate.symbols" || {
        say "$crate: none of its code is in the library"
        exit 1
    }
    if grep -E '__rust_alloc|__rg_alloc|__rdl_alloc|__rust_realloc| malloc$|3std[0-9]' \
        "$target/$crate.symbols"; then
        say "$crate: reaches for the allocator or the standard library"
        exit 1
    fi
    say "$crate: no standard library, no allocator ($(grep -c "cringle_$crate" \
        "$target/$crate.symbols") of its own symbols)"
done
