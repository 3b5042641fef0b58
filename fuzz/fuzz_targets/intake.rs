//! Any bytes at all into the intake: `cargo +nightly fuzz run intake`.
//!
//! Good seeds are small files of each format; put them into `fuzz/corpus/intake`.

#![no_main]

use libfuzzer_sys::fuzz_target;
use recurve::intake::{IntakeSettings, prepare, read_bytes};

fuzz_target!(|bytes: &[u8]| {
    // A small limit keeps a claimed size from eating the fuzzer's time.
    let settings = IntakeSettings { memory_limit_bytes: 16 * 1024 * 1024, ..IntakeSettings::default() };
    let Ok(prints) = read_bytes(bytes, "fuzz", &settings) else { return };
    for print in prints {
        assert!(print.pixels.iter().all(|grey| (0.0..=1.000_001).contains(grey)));
        if let Ok(working) = prepare(&print, &settings) {
            assert!(working.pixels.iter().all(|grey| grey.is_finite()));
            assert!(working.width().max(working.height()) <= settings.greatest_working_side_px);
        }
    }
});
