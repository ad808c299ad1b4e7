#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| drydown_tests::fuzzed::store_history(bytes));
