//! Workbook: the target of its name, for libFuzzer.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| (nextrung_fuzz::WORKBOOK.judge)(bytes));
