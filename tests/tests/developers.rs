//! What DEVELOPERS.md says of the code is so.

use std::path::Path;

/// "... : `path/file.rs` `function`."
fn file_and_function(line: &str) -> Option<(&str, &str)> {
    let code = line.split('`').skip(1).step_by(2);
    let mut from_file = code.skip_while(|it| !it.ends_with(".rs"));
    Some((from_file.next()?, from_file.next()?))
}

#[test]
fn every_function_on_the_way_in_and_out_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let text = std::fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    let steps = text
        .lines()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()))
        .filter_map(file_and_function);
    let mut named = 0;
    for (file, function) in steps {
        let source = std::fs::read_to_string(root.join(file))
            .unwrap_or_else(|error| panic!("{file}: {error}"));
        let begins = [format!("fn {function}("), format!("fn {function}<")];
        let is_there = begins.iter().any(|it| source.contains(it.as_str()));
        assert!(is_there, "{file} has no function {function}");
        named += 1;
    }
    assert_eq!(named, 20, "ten in and ten out");
}
