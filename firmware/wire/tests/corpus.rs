//! Replays what coverage-guided fuzzing found worth keeping, and a little
//! chance of its own, on the stable compiler.

#[path = "../../../tests/fuzz/src/byte_path.rs"]
mod byte_path;

use proptest::prelude::*;

#[test]
fn the_kept_corpus_holds() {
    let folder = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/fuzz/corpus/byte_path"
    );
    let mut count = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        byte_path::check(&std::fs::read(entry.unwrap().path()).unwrap());
        count += 1;
    }
    assert!(count > 100, "{count} files in {folder}");
}

proptest! {
    #[test]
    fn any_bytes_hold(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        byte_path::check(&bytes);
    }

    #[test]
    fn changed_lines_hold(place in 0usize..4000, byte in any::<u8>(), cut in 0usize..4000) {
        let mut bytes = include_bytes!("lines.txt").to_vec();
        let length = bytes.len();
        bytes[place % length] = byte;
        bytes.truncate(cut.max(place + 1).min(length));
        byte_path::check(&bytes);
    }
}
