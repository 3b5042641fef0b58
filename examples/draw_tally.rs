//! Tallies how often wishes are met: `cargo run --release --example draw_tally -- COUNT [KIND-INDEX...]`.

use recurve::draw::{Finger, Kind, Wish};
use recurve::proposal::Tracing;
use std::collections::BTreeMap;
use std::time::Instant;

fn main() {
    let arguments: Vec<usize> = std::env::args().skip(1).filter_map(|a| a.parse().ok()).collect();
    let count = arguments.first().copied().unwrap_or(10);
    if arguments.get(1) == Some(&100) {
        for wanted in 1..=30 {
            run(&format!("count {wanted}"), &Wish { ridge_count: Some(wanted), ..Wish::of(Kind::LeftLoop) }, count);
        }
        return;
    }
    if arguments.get(1) == Some(&200) {
        for kind in Kind::ALL {
            for tracing in [Tracing::I, Tracing::M, Tracing::O] {
                run(&format!("{kind:?} {tracing:?}"), &Wish { tracing: Some(tracing), ..Wish::of(kind) }, count);
            }
        }
        return;
    }
    if arguments.get(1) == Some(&300) {
        for (tracing, n) in
            [(Tracing::I, 3), (Tracing::I, 4), (Tracing::M, 2), (Tracing::M, 0), (Tracing::O, 3), (Tracing::O, 7)]
        {
            run(
                &format!("{tracing:?} {n}"),
                &Wish { tracing: Some(tracing), ridges_between: Some(n), ..Wish::of(Kind::ALL[7]) },
                count,
            );
        }
        return;
    }
    for (i, kind) in Kind::ALL.into_iter().enumerate() {
        if arguments.len() > 1 && !arguments[1..].contains(&i) {
            continue;
        }
        run(&format!("{i:02} {kind:?}"), &Wish::of(kind), count);
    }
}

fn run(name: &str, wish: &Wish, count: usize) {
    let started = Instant::now();
    let mut tally: BTreeMap<String, usize> = BTreeMap::new();
    for seed in 0..count {
        let key = match Finger::grow(wish, seed as u64) {
            Ok(f) => format!("ok after {:02}", f.attempts()),
            Err(e) => e.to_string(),
        };
        *tally.entry(key).or_default() += 1;
    }
    println!("{name}: {:.0} ms each {tally:?}", started.elapsed().as_secs_f64() * 1e3 / count as f64);
}
