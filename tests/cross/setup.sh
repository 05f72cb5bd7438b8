#!/bin/sh
# setup.sh DIR - a cross compiler for arm64 from Debian's own packages, in DIR.
#
# Debian's rustc-web and its standard library for amd64 and arm64 are unpacked
# (not installed) into DIR; the arm64 linker and qemu-user are installed. The
# Rust sources come along, for the bare-metal builds. Prints exports:
#
#   eval "$(sh tests/cross/setup.sh DIR)"
#
# in a shell of its own, as they change the compiler of every cargo in it.
# With DIR/.done present it only prints, so DIR can be cached. Needs root, and
# 650 MB there (1.3 GB with the sources).
set -eu

[ $# -eq 1 ] || { echo "usage: $0 DIR" >&2; exit 2; }
mkdir -p "$1"
dir=$(cd "$1" && pwd)
say() { echo "cross: $*" >&2; }
die() { say "$*"; exit 3; }

# The one package name that matches regex $2 in the Depends of package $1.
dep() {
    apt-cache show --no-all-versions "$1" | sed -n 's/^Depends: //p' | tr ',|' '\n' |
        sed 's/^ *//; s/[ (:].*$//' | grep -Ex "$2" | sort -u | head -n 1
}
candidate() { apt-cache policy "$1" | sed -n 's/^ *Candidate: //p'; }

tools() {
    pkgs=""
    command -v aarch64-linux-gnu-gcc >/dev/null ||
        pkgs="$pkgs gcc-aarch64-linux-gnu libc6-dev-arm64-cross"
    command -v qemu-aarch64-static >/dev/null || pkgs="$pkgs qemu-user-static"
    [ -n "$pkgs" ] || return 0
    say "installing$pkgs"
    # shellcheck disable=SC2086
    DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $pkgs >&2
}

unpack() {
    if ! dpkg --print-foreign-architectures | grep -qx arm64; then
        say "adding architecture arm64"
        dpkg --add-architecture arm64
    fi
    say "apt-get update"
    apt-get update -q >&2
    tools

    # rustc-web -> libstd-rust-web-dev -> libstd-rust-web-X.YY -> libllvmNN
    std=$(dep libstd-rust-web-dev 'libstd-rust-web-[0-9.]+')
    [ -n "$std" ] || die "no libstd-rust-web-X.YY among the dependencies of libstd-rust-web-dev"
    llvm=$(dep "$std" 'libllvm[0-9]+')
    [ -n "$llvm" ] || die "no libllvmNN among the dependencies of $std"

    # All must be of one version, or the compiler refuses the library.
    version=$(candidate rustc-web)
    for package in libstd-rust-web-dev:amd64 libstd-rust-web-dev:arm64 \
        "$std:amd64" "$std:arm64" rust-web-src; do
        [ "$(candidate "$package")" = "$version" ] || die \
            "$package is $(candidate "$package"), rustc-web is $version: is the mirror updating?"
    done
    say "rustc-web $version, $std, $llvm"

    debs=$(mktemp -d "$dir/debs.XXXXXX")
    trap 'rm -rf "$debs"' EXIT
    # apt gives up root for downloads; let it write here.
    chown _apt "$debs" 2>/dev/null || true
    (cd "$debs" && apt-get download -q rustc-web:amd64 "$llvm:amd64" rust-web-src \
        libstd-rust-web-dev:amd64 libstd-rust-web-dev:arm64 "$std:amd64" "$std:arm64" >&2)
    for deb in "$debs"/*.deb; do
        dpkg -x "$deb" "$dir"
    done
    rm -rf "$debs"
    trap - EXIT

    lib="$dir/usr/lib/x86_64-linux-gnu"
    LD_LIBRARY_PATH="$lib:$dir/usr/lib/llvm-${llvm#libllvm}/lib" \
        "$dir/usr/bin/rustc" --version >&2 || die "the unpacked rustc does not start"
    [ -d "$dir/usr/lib/rustlib/aarch64-unknown-linux-gnu" ] || die "no arm64 library in $dir"
    echo "${llvm#libllvm}" > "$dir/.done"
}

# The unpacked compiler may come from a cache, the tools may not.
if [ -e "$dir/.done" ]; then tools; else unpack; fi

llvm=$(cat "$dir/.done")
cat <<END
export RUSTC='$dir/usr/bin/rustc'
export LD_LIBRARY_PATH='$dir/usr/lib/x86_64-linux-gnu:$dir/usr/lib/llvm-$llvm/lib'
export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc
export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_RUNNER='qemu-aarch64-static -L /usr/aarch64-linux-gnu'
END
