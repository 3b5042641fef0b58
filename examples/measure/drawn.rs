//! Drawn rolled prints of one quality.

use super::shared::points::Matched;
use super::shared::tally::{Outcome, broad, look};
use super::shared::{Class, Drawn, class, draw_one};
use super::tables::{Table, confusion, figures, heading, percent};
use super::worst::{Gallery, badness, worst};
use super::{Arguments, Failure};
use indicatif::ProgressBar;
use rayon::prelude::*;
use recurve::Screener;
use recurve::draw::truth_file::kind_name;
use recurve::draw::{Framing, Kind, Quality};

/// First seed of a quality. Fitting draws from 1,000,000, 35,000,000 and 40,000,000 on, the networks' prints from 3,000,000, 5,000,000, 64,000,000,
/// 100,000,000, 110,000,000, 130,000,000 and 140,000,000 on; measuring must never see these.
fn first_seed(quality: Quality) -> u64 {
    match quality {
        Quality::Good => 15_000_000,
        Quality::Fair => 16_000_000,
        Quality::Poor => 17_000_000,
    }
}

fn word(quality: Quality) -> &'static str {
    match quality {
        Quality::Good => "good",
        Quality::Fair => "fair",
        Quality::Poor => "poor",
    }
}

/// Draws, screens, compares, tells.
pub fn measure(quality: Quality, arguments: &Arguments) -> Result<String, Failure> {
    let set = format!("drawn-{}", word(quality));
    let screener = Screener::default();
    let (outcomes, refused) = cohort(quality, arguments.prints, &screener, &set)?;
    if let Some(folder) = &arguments.worst {
        let mut gallery = Gallery::open(folder, &set)?;
        for i in worst(&outcomes.iter().map(badness).collect::<Vec<_>>()) {
            let outcome = &outcomes[i];
            let Some(drawn) = draw(quality, outcome.seed) else { continue };
            gallery.add(&drawn.print, &screener.examine(&drawn.print)?, &why(outcome, &drawn))?;
        }
        gallery.close()?;
    }
    let data = format!(
        "{} drawn prints, {} quality, rolled, 500 ppi, seeds from {}; {refused} wishes refused and drawn anew.",
        outcomes.len(),
        word(quality),
        first_seed(quality)
    );
    Ok([
        heading(arguments, &set, &data),
        points_table(&outcomes).to_string(),
        calls_table(&outcomes).to_string(),
        "Calls by truth:\n".to_owned(),
        call_confusion(&outcomes).to_string(),
        "By kind drawn:\n".to_owned(),
        kinds_table(&outcomes).to_string(),
    ]
    .join("\n"))
}

fn draw(quality: Quality, seed: u64) -> Option<Drawn> {
    draw_one(seed, &[(quality, 1.0)], &[(Framing::Rolled, 1.0)])
}

/// The first `wanted` prints that could be drawn, in the order of their seeds, and how many seeds were refused on the way.
fn cohort(quality: Quality, wanted: u64, screener: &Screener, set: &str) -> Result<(Vec<Outcome>, usize), Failure> {
    let progress = ProgressBar::new(wanted).with_message(set.to_owned());
    let (mut outcomes, mut refused) = (Vec::new(), 0);
    let mut next = first_seed(quality);
    while (outcomes.len() as u64) < wanted {
        let last = next + wanted - outcomes.len() as u64;
        let batch: Vec<Option<Outcome>> = (next..last)
            .into_par_iter()
            .map(|seed| {
                let outcome = draw(quality, seed).map(|drawn| look(screener, &drawn, seed)).transpose();
                progress.inc(1);
                outcome
            })
            .collect::<Result<_, _>>()?;
        refused += batch.iter().filter(|o| o.is_none()).count();
        outcomes.extend(batch.into_iter().flatten());
        next = last;
        if refused as u64 > wanted.max(100) {
            return Err(format!("{set}: {refused} wishes refused; drawing is broken").into());
        }
    }
    progress.finish_and_clear();
    Ok((outcomes, refused))
}

fn points_table(outcomes: &[Outcome]) -> Table {
    let mut table = figures();
    let sum = |of: fn(&Outcome) -> &Matched| {
        let mut all = Matched::default();
        outcomes.iter().for_each(|o| all.add(of(o)));
        all
    };
    let (cores, deltas) = (sum(|o| &o.cores), sum(|o| &o.deltas));
    for (name, m) in [("core", &cores), ("delta", &deltas)] {
        table.share(&format!("{name} recall within 10 px"), m.distances.len(), m.truths());
        table.share(&format!("{name} precision within 10 px"), m.distances.len(), m.marks());
    }
    for (name, m) in [("core", &cores), ("delta", &deltas)] {
        let over = format!("{} found", m.distances.len());
        table.figure(&format!("median {name} error"), m.median().map(|d| format!("{d:.2} px")), over);
    }
    let count = |test: fn(&Outcome) -> bool| outcomes.iter().filter(|o| test(o)).count();
    table.share("whole print right (all points, none spurious)", count(Outcome::whole), outcomes.len());
    let doubtful: usize = outcomes.iter().map(|o| o.doubtful).sum();
    table.figure("points left out as doubtful", Some(doubtful.to_string()), format!("{} prints", outcomes.len()));
    let errors: Vec<f64> = outcomes.iter().filter_map(|o| o.orientation_deg).collect();
    let rms = mean(&errors).map(|v| format!("{v:.2} degrees"));
    table.figure("orientation error on the foreground (RMS of a print, mean)", rms, format!("{} prints", errors.len()));
    let wrong: Vec<f64> = outcomes.iter().map(|o| 100.0 * o.foreground_wrong).collect();
    let share = mean(&wrong).map(|v| format!("{v:.2} %"));
    table.figure("foreground misclassified (cells of a print, mean)", share, format!("{} prints", wrong.len()));
    table
}

fn calls_table(outcomes: &[Outcome]) -> Table {
    let mut table = figures();
    let all = outcomes.len();
    let proposed: Vec<&Outcome> = outcomes.iter().filter(|o| o.call.is_some()).collect();
    let right = |test: fn(&Outcome) -> bool| outcomes.iter().filter(|o| test(o)).count();
    table.share("arch, loop or whorl right, of all", right(Outcome::right_of_three), all);
    table.share("with arch kind and slant right, of all", right(Outcome::right), all);
    table.share("abstained", all - proposed.len(), all);
    table.share("arch, loop or whorl right, of proposed", right(Outcome::right_of_three), proposed.len());
    table.share("with arch kind and slant right, of proposed", right(Outcome::right), proposed.len());
    table.share(
        "truth among pattern and references, of proposed",
        right(|o| o.call.is_some() && o.named),
        proposed.len(),
    );
    let calls: Vec<(f64, bool)> = proposed.iter().filter_map(|o| Some((o.call?.1, o.right()))).collect();
    let error = (!calls.is_empty()).then(|| format!("{:.3}", calibration_error(&calls)));
    table.figure("expected calibration error, 15 bins", error, format!("{} proposed", calls.len()));
    let sure: Vec<&(f64, bool)> = calls.iter().filter(|c| c.0 > SURE).collect();
    let sure_and_wrong = sure.iter().filter(|c| !c.1).count();
    table.share("confident and wrong (above 0.95, false), of proposed", sure_and_wrong, calls.len());
    table.share("proposed above 0.95, of all", sure.len(), all);
    table
}

/// A probability above this is called confident.
pub const SURE: f64 = 0.95;
/// Bins of equal width for the calibration error.
const BINS: usize = 15;

/// Expected calibration error (Guo and others 2017): mean gap between stated probability and share right, over bins of equal
/// width, weighted by what they hold.
pub fn calibration_error(calls: &[(f64, bool)]) -> f64 {
    let mut bins = [(0.0, 0.0); BINS];
    for (probability, right) in calls {
        let bin = &mut bins[((probability * BINS as f64) as usize).min(BINS - 1)];
        *bin = (bin.0 + probability, bin.1 + f64::from(u8::from(*right)));
    }
    bins.iter().map(|(stated, right)| (stated - right).abs()).sum::<f64>() / calls.len().max(1) as f64
}

/// The words of the classes, with none last.
const CALLS: [&str; 6] = ["plain arch", "tented arch", "left loop", "right loop", "whorl", "abstained"];

fn words(call: Option<Class>) -> &'static str {
    CALLS[call.map_or(5, |c| c as usize)]
}

fn call_confusion(outcomes: &[Outcome]) -> Table {
    let pairs: Vec<_> = outcomes.iter().map(|o| (words(Some(class(o.kind))), words(o.call.map(|c| c.0)))).collect();
    confusion(&CALLS[..5], &CALLS, &pairs)
}

fn kinds_table(outcomes: &[Outcome]) -> Table {
    let mut table =
        Table::new(["kind", "prints", "class right", "arch, loop or whorl right", "whole print right", "abstained"]);
    for kind in Kind::ALL {
        let of_kind: Vec<&Outcome> = outcomes.iter().filter(|o| o.kind == kind).collect();
        if of_kind.is_empty() {
            continue;
        }
        let share = |test: fn(&Outcome) -> bool| percent(of_kind.iter().filter(|o| test(o)).count(), of_kind.len());
        table.row([
            kind_name(kind).replace('-', " "),
            of_kind.len().to_string(),
            share(Outcome::right),
            share(Outcome::right_of_three),
            share(Outcome::whole),
            of_kind.iter().filter(|o| o.call.is_none()).count().to_string(),
        ]);
    }
    table
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// What was wrong with a print, and where its points are.
fn why(outcome: &Outcome, drawn: &Drawn) -> String {
    let call = outcome.call.map_or("nothing".into(), |(c, p)| format!("{} at {p:.2}", words(Some(c))));
    let wrong = |name: &str, m: &Matched| format!("{name}s {} missed, {} spurious", m.missed, m.spurious);
    let places = |points: &[recurve::draw::TruePoint]| {
        let printed = points.iter().filter(|p| p.printed);
        printed.map(|p| format!("({:.0}, {:.0})", p.at.x, p.at.y)).collect::<Vec<_>>().join(" ")
    };
    format!(
        "{} ({}), called {call}; {}; {}; orientation error {:.1} degrees; true cores {} and deltas {}",
        kind_name(outcome.kind),
        broad(class(outcome.kind)),
        wrong("core", &outcome.cores),
        wrong("delta", &outcome.deltas),
        outcome.orientation_deg.unwrap_or(f64::NAN),
        places(&drawn.truth.cores),
        places(&drawn.truth.deltas),
    )
}
