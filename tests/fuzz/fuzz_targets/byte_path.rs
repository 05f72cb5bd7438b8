//! Coverage-guided fuzzing of the way from bytes to readings.

#![no_main]

#[path = "../src/byte_path.rs"]
mod byte_path;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| byte_path::check(bytes));
