//! Whether drawn prints are what they are said to be, on many of them.
//!
//! ```text
//! cargo run --release --example practice_prints -- 1000
//! ```
//!
//! Draws so many fingers of every kind, half of the loops with a wanted count and three quarters of the whorls with a wanted
//! tracing, and prints how many a second look at the ridges bore out, how many wishes were refused and why, how many fingers
//! were set aside because the two ways of reading them differed, and the time, on one thread. Fails when one print that was
//! given out is not borne out.

use recurve::draw::truth_file::kind_name;
use recurve::draw::{Finger, Framing, Kind, RIDGE_COUNTS, Wish};
use recurve::proposal::{General, Tracing};
use std::collections::BTreeMap;
use std::error::Error;
use std::time::Instant;

/// Seeds of the tally: of no fit, measurement or test.
const FIRST_SEED: u64 = 11_000_000;

fn main() -> Result<(), Box<dyn Error>> {
    let count = std::env::args().nth(1).ok_or("usage: practice_prints N")?;
    tally(count.parse()?)
}

/// What became of the wishes of one kind.
#[derive(Default)]
struct Tally {
    /// Fingers whose ridges met the wish.
    drawn: u64,
    /// Of these, borne out by the second look.
    verified: u64,
    /// Wishes that were refused.
    refused: u64,
    /// Fingers that the first reading accepted and the second did not; others were grown in their place.
    unsettled: u64,
    doubted: u64,
    /// Fingers grown for the drawn ones.
    attempts: u64,
    /// What the second look did not bear out.
    doubts: Vec<String>,
}

/// The wishes of a kind, one a seed: no wish, and by turns every count or tracing that can be wished for.
fn wish(kind: Kind, seed: u64) -> Wish {
    let plain = Wish { framing: Framing::Plain, ..Wish::of(kind) };
    match kind.general() {
        General::Ls | General::Rs => {
            let counts = u64::from(*RIDGE_COUNTS.end());
            Wish {
                ridge_count: seed.checked_rem(2).filter(|odd| *odd == 1).map(|_| (seed / 2 % counts + 1) as u16),
                ..plain
            }
        }
        General::Wu => {
            let tracing = [None, Some(Tracing::I), Some(Tracing::M), Some(Tracing::O)][(seed % 4) as usize];
            Wish { tracing, ..plain }
        }
        _ => plain,
    }
}

/// Draws `count` fingers of every kind and looks at each a second time.
fn tally(count: u64) -> Result<(), Box<dyn Error>> {
    println!(
        "| kind | drawn | verified | refused | unsettled | doubted | fingers grown a print | ms a print |\n|---|---|---|---|---|---|---|---|"
    );
    let (mut doubts, mut reasons) = (Vec::new(), BTreeMap::new());
    for kind in Kind::ALL {
        let started = Instant::now();
        let mut t = Tally::default();
        for seed in 0..count {
            match Finger::grow(&wish(kind, seed), FIRST_SEED + seed) {
                Ok(finger) => {
                    t.drawn += 1;
                    t.attempts += finger.attempts();
                    t.unsettled += finger.unsettled();
                    t.doubted += finger.doubted();
                    let said = finger.disagreements();
                    t.verified += u64::from(said.is_empty());
                    t.doubts.extend(
                        said.into_iter().map(|s| format!("{} seed {}: {s}", kind_name(kind), FIRST_SEED + seed)),
                    );
                }
                Err(e) => {
                    t.refused += 1;
                    *reasons.entry(format!("{}: {e}", kind_name(kind))).or_insert(0u64) += 1;
                }
            }
        }
        let mean = t.attempts as f64 / t.drawn.max(1) as f64;
        let ms = started.elapsed().as_secs_f64() * 1e3 / count as f64;
        let name = kind_name(kind);
        println!(
            "| {name} | {} | {} | {} | {} | {} | {mean:.2} | {ms:.0} |",
            t.drawn, t.verified, t.refused, t.unsettled, t.doubted
        );
        doubts.append(&mut t.doubts);
    }
    for (reason, count) in &reasons {
        eprintln!("refused {count} times: {reason}");
    }
    for doubt in &doubts {
        eprintln!("{doubt}");
    }
    if doubts.is_empty() { Ok(()) } else { Err(format!("{} claims were not borne out", doubts.len()).into()) }
}
