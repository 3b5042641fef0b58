//! Tallies how often wishes are met: `cargo run --release --example draw_tally -- COUNT [KIND-INDEX...]`.

use recurve::draw::{Finger, Kind, Wish};
use std::collections::BTreeMap;
use std::time::Instant;

fn main() {
    let arguments: Vec<usize> = std::env::args().skip(1).filter_map(|a| a.parse().ok()).collect();
    let count = arguments.first().copied().unwrap_or(10);
    for (i, kind) in Kind::ALL.into_iter().enumerate() {
        if arguments.len() > 1 && !arguments[1..].contains(&i) {
            continue;
        }
        let started = Instant::now();
        let mut tally: BTreeMap<String, usize> = BTreeMap::new();
        for seed in 0..count {
            let key = match Finger::grow(&Wish::of(kind), seed as u64) {
                Ok(f) => format!("ok after {:02}", f.attempts()),
                Err(e) => e.to_string(),
            };
            *tally.entry(key).or_default() += 1;
        }
        println!("{i:02} {kind:?}: {:.0} ms each {tally:?}", started.elapsed().as_secs_f64() * 1e3 / count as f64);
    }
}
