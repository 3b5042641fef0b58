//! What is read on the ridges of drawn whorls and loops: kind, tracing, count.

use super::drawn::{SURE, calibration_error};
use super::shared::answers::{kind_words, tracing_words};
use super::shared::{LOOPS, SHARES, chance, impression, pick, under_core};
use super::tables::{Table, confusion, figures, heading};
use super::{Arguments, DEFAULT_PRINTS, Failure};
use indicatif::ProgressBar;
use rayon::prelude::*;
use recurve::Screener;
use recurve::draw::{Kind, Quality, SETTLED, TrueField, Truth, Wish, draw};
use recurve::geometry::Point;
use recurve::proposal::{General, Proposal, RidgeCount, Subclass, Tracing};

/// First seed of a quality; nothing is fitted on these.
fn first_seed(quality: Quality) -> u64 {
    match quality {
        Quality::Good => 50_000_000,
        Quality::Fair => 60_000_000,
        Quality::Poor => 70_000_000,
    }
}

/// Loops take their seeds so far above the whorls of their quality.
const LOOPS_ABOVE: u64 = 5_000_000;
/// Loops with the delta under the core take theirs so far above.
const UNDER_CORE_ABOVE: u64 = 30_000_000;

/// A tracing is borderline where one ridge more or less can change it: so many true ridges between.
const BORDERLINE: std::ops::RangeInclusive<u32> = 2..=4;

/// One drawn whorl and what was read of it.
struct Whorl {
    kind: Subclass,
    tracing: Option<Tracing>,
    between: Option<i32>,
    /// Whether both extreme deltas lie on the print: without them nothing can be traced.
    deltas_printed: bool,
    /// Whether the traced ridge lies on the print as well.
    ridge_printed: bool,
    called: Called,
}

/// What a proposal says of a whorl.
struct Called {
    /// The kind with the probability of all its readings.
    kind: Option<(Subclass, f64)>,
    /// Every kind of pattern and references.
    kinds: Vec<Subclass>,
    /// The tracing with its probability.
    tracing: Option<(Tracing, f64)>,
    /// Every tracing of pattern and references.
    tracings: Vec<Tracing>,
}

/// Whether the traced ridge of a whorl lies on the printed area, but for a place in twenty.
fn trace_is_printed(truth: &Truth) -> bool {
    let cell = |v: f64| (v.max(0.0) as usize) / TrueField::CELL;
    let off = |p: &&Point| !truth.field.foreground.get([cell(p.y), cell(p.x)]).is_some_and(|on| *on);
    20 * truth.trace.iter().filter(off).count() <= truth.trace.len()
}

impl Called {
    /// Reads a proposal.
    fn of(proposal: &Proposal) -> Self {
        let pattern = proposal.pattern.filter(|p| p.general == General::Wu);
        let whorls: Vec<_> =
            proposal.pattern.iter().chain(&proposal.references).filter(|r| r.general == General::Wu).collect();
        let kind = pattern.and_then(|p| p.subclass);
        let of_kind = |k| whorls.iter().filter(|r| r.subclass == Some(k)).map(|r| r.probability).sum();
        let facts = proposal.whorl.and_then(|w| w.tracing).filter(|_| pattern.is_some());
        let tracing = facts.map(|t| {
            let p = t.probabilities;
            (t.best, [p.I, p.M, p.O][t.best as usize])
        });
        Self {
            kind: kind.map(|k| (k, of_kind(k))),
            kinds: whorls.iter().filter_map(|r| r.subclass).collect(),
            tracing,
            tracings: whorls.iter().filter_map(|r| r.tracing).chain(tracing.map(|t| t.0)).collect(),
        }
    }
}

/// One drawn loop: true count, the proposed one.
struct Loop {
    count: u16,
    /// Whether it is called a tented arch.
    tented: bool,
    /// Whether its class is among the references.
    named: bool,
    /// Whether so many of the readings of the drawn ridges give that count as a drawn loop is asked for.
    settled: bool,
    read: Option<RidgeCount>,
}

impl Loop {
    fn of(truth: &Truth, proposal: &Proposal) -> Self {
        Self {
            count: truth.ridge_count.unwrap_or(0),
            tented: proposal.pattern.is_some_and(|p| p.subclass == Some(Subclass::Ta)),
            named: proposal.references.iter().any(|r| r.general == truth.kind.general()),
            settled: truth.agreement() >= Some(SETTLED),
            read: proposal.loop_.and_then(|l| l.ridge_count),
        }
    }
}

/// Draws, screens, compares, tells.
pub fn measure(quality: Quality, arguments: &Arguments) -> Result<String, Failure> {
    let word = match quality {
        Quality::Good => "good",
        Quality::Fair => "fair",
        Quality::Poor => "poor",
    };
    let set = format!("ridges-{word}");
    let screener = Screener::default();
    let half = arguments.prints.div_ceil(2);
    let whorl_kinds: Vec<(Kind, f64)> = SHARES.into_iter().filter(|(k, _)| k.general() == General::Wu).collect();
    let first = first_seed(quality);
    let as_drawn = Wish { quality, ..Wish::of(Kind::LeftLoop) };
    let whorls = cohort(one_of(&whorl_kinds, as_drawn), first, half, &screener, |truth, proposal| Whorl {
        kind: truth.subclass.unwrap_or(Subclass::Pw),
        tracing: truth.tracing,
        between: truth.ridges_between,
        deltas_printed: [truth.deltas.first(), truth.deltas.last()].iter().all(|d| d.is_some_and(|d| d.printed)),
        ridge_printed: trace_is_printed(truth),
        called: Called::of(proposal),
    })?;
    let loops = cohort(one_of(&LOOPS, as_drawn), first + LOOPS_ABOVE, half, &screener, Loop::of)?;
    let as_grown = Wish { unsettled: true, ..as_drawn };
    let open = cohort(one_of(&LOOPS, as_grown), first + 2 * LOOPS_ABOVE, half.div_ceil(4), &screener, Loop::of)?;
    let data = format!(
        "{} drawn whorls, {} drawn loops and {} without asking that readings agree, {word} quality, rolled, 500 ppi, seeds from {first}, {} and {}.",
        whorls.len(),
        loops.len(),
        open.len(),
        first + LOOPS_ABOVE,
        first + 2 * LOOPS_ABOVE
    );
    Ok([
        heading(arguments, &set, &data),
        "Kind of whorl:\n".to_owned(),
        kinds_table(&whorls).to_string(),
        kinds_confusion(&whorls).to_string(),
        format!(
            "Tracing of the same whorls; *borderline* are those with {} to {} true ridges between:\n",
            BORDERLINE.start(),
            BORDERLINE.end()
        ),
        tracings_table(&whorls).to_string(),
        tracings_confusion(&whorls).to_string(),
        "Ridge count of loops:\n".to_owned(),
        counts_table(&loops).to_string(),
        "Ridge count of loops drawn without asking that the readings of their ridges agree:\n".to_owned(),
        open_counts_table(&open).to_string(),
    ]
    .join("\n"))
}

/// Loops that resemble tented arches: their delta lies under the core, the count line often runs along their legs.
pub fn measure_under_core(arguments: &Arguments) -> Result<String, Failure> {
    let screener = Screener::default();
    let half = arguments.prints.div_ceil(2);
    let mut said = Vec::new();
    let mut tables = Vec::new();
    for (quality, word) in [(Quality::Good, "good"), (Quality::Fair, "fair")] {
        let first = first_seed(quality) + UNDER_CORE_ABOVE;
        let wish = |seed| {
            let kind = if chance(seed, 1) < 0.5 { Kind::LeftLoop } else { Kind::RightLoop };
            under_core(Wish { quality, ..Wish::of(kind) }, chance(seed, 2))
        };
        let loops = cohort(wish, first, half, &screener, Loop::of)?;
        said.push(format!("{} {word} ones, seeds from {first}", loops.len()));
        let mut table = counts_table(&loops);
        let tented: Vec<&Loop> = loops.iter().filter(|l| l.tented).collect();
        table.share("called a tented arch, of all", tented.len(), loops.len());
        table.share(
            "the loop among the references, of those called a tented arch",
            tented.iter().filter(|l| l.named).count(),
            tented.len(),
        );
        tables.push(format!("{}{}:\n\n{table}", &word[..1].to_uppercase(), &word[1..]));
    }
    let data = format!(
        "drawn loops of one to nine ridges with the delta under the core, rolled, 500 ppi: {}.",
        said.join("; ")
    );
    Ok([vec![heading(arguments, "under-core", &data)], tables].concat().join("\n"))
}

/// Wishes for one of some kinds, by chance.
fn one_of(kinds: &[(Kind, f64)], wish: Wish) -> impl Fn(u64) -> Wish + Sync {
    move |seed| Wish { kind: pick(kinds, chance(seed, 1)), ..wish }
}

/// The first `wanted` prints that could be drawn, in the order of their seeds.
fn cohort<T: Send>(
    wish: impl Fn(u64) -> Wish + Sync,
    first: u64,
    wanted: u64,
    screener: &Screener,
    of: impl Fn(&Truth, &Proposal) -> T + Sync,
) -> Result<Vec<T>, Failure> {
    let progress = ProgressBar::new(wanted);
    let (mut seen, mut next): (Vec<T>, u64) = (Vec::new(), first);
    while (seen.len() as u64) < wanted {
        let last = next + wanted - seen.len() as u64;
        let batch: Vec<Option<T>> = (next..last)
            .into_par_iter()
            .map(|seed| {
                progress.inc(1);
                let Ok(drawn) = draw(&wish(seed), seed) else { return Ok(None) };
                Ok::<_, recurve::Error>(Some(of(&drawn.truth, &screener.screen(&impression(&drawn, seed))?)))
            })
            .collect::<Result<_, _>>()?;
        seen.extend(batch.into_iter().flatten());
        next = last;
        if next - first > 4 * wanted.max(DEFAULT_PRINTS) {
            return Err("most wishes are refused; drawing is broken".into());
        }
    }
    progress.finish_and_clear();
    Ok(seen)
}

fn kinds_table(whorls: &[Whorl]) -> Table {
    let mut table = figures();
    let called: Vec<(f64, bool)> = whorls.iter().filter_map(|w| w.called.kind.map(|(k, p)| (p, k == w.kind))).collect();
    let right = called.iter().filter(|c| c.1).count();
    table.share("kind right, of all", right, whorls.len());
    table.share("kind right, of those given a kind", right, called.len());
    let among = whorls.iter().filter(|w| w.called.kinds.contains(&w.kind)).count();
    table.share("true kind among pattern and references, of all", among, whorls.len());
    surety(&mut table, &called, "given a kind");
    table
}

/// Calibration and confident errors of calls with their probabilities.
fn surety(table: &mut Table, called: &[(f64, bool)], of: &str) {
    let error = (!called.is_empty()).then(|| format!("{:.3}", calibration_error(called)));
    table.figure("expected calibration error, 15 bins", error, format!("{} {of}", called.len()));
    let wrong = called.iter().filter(|c| c.0 > SURE && !c.1).count();
    table.share(&format!("confident and wrong (above 0.95, false), of those {of}"), wrong, called.len());
    table.share(&format!("above 0.95, of those {of}"), called.iter().filter(|c| c.0 > SURE).count(), called.len());
}

const KINDS: [&str; 5] = ["plain whorl", "central pocket loop", "double loop", "accidental", "none"];

fn kinds_confusion(whorls: &[Whorl]) -> Table {
    let pairs: Vec<_> =
        whorls.iter().map(|w| (kind_words(w.kind), w.called.kind.map_or("none", |k| kind_words(k.0)))).collect();
    confusion(&KINDS[..4], &KINDS, &pairs)
}

fn tracings_table(whorls: &[Whorl]) -> Table {
    let mut table = figures();
    let truth: Vec<(&Whorl, Tracing, bool)> =
        whorls.iter().filter_map(|w| Some((w, w.tracing?, BORDERLINE.contains(&w.between?.unsigned_abs())))).collect();
    let right = |w: &Whorl, t: Tracing| w.called.tracing.is_some_and(|c| c.0 == t);
    let clear: Vec<_> = truth.iter().filter(|t| !t.2).collect();
    let read: Vec<_> = clear.iter().filter(|t| t.0.called.tracing.is_some()).collect();
    let near: Vec<_> = truth.iter().filter(|t| t.2).collect();
    let rights = clear.iter().filter(|t| right(t.0, t.1)).count();
    table.share("tracing right outside the borderline, of all", rights, clear.len());
    type Asked = fn(&Whorl) -> bool;
    let parts: [(Asked, &str); 3] = [
        (|w| w.deltas_printed, "both deltas"),
        (|w| w.deltas_printed && w.ridge_printed, "both deltas and the traced ridge"),
        (|w| !w.deltas_printed, "not both deltas"),
    ];
    for (asked, words) in parts {
        let these: Vec<_> = clear.iter().filter(|t| asked(t.0)).collect();
        let rights = these.iter().filter(|t| right(t.0, t.1)).count();
        table.share(
            &format!("tracing right outside the borderline, of those with {words} on the print"),
            rights,
            these.len(),
        );
    }
    table.share("tracing right outside the borderline, of those traced", rights, read.len());
    let named = |t: &&&(&Whorl, Tracing, bool)| t.0.called.tracings.contains(&t.1);
    table.share(
        "borderline: truth among pattern and references, of all",
        near.iter().filter(named).count(),
        near.len(),
    );
    let near_read: Vec<_> = near.iter().copied().filter(|t| t.0.called.tracing.is_some()).collect();
    table.share(
        "borderline: truth among pattern and references, of those traced",
        near_read.iter().filter(named).count(),
        near_read.len(),
    );
    table.share(
        "borderline: tracing right, of those traced",
        near_read.iter().filter(|t| right(t.0, t.1)).count(),
        near_read.len(),
    );
    let traced = truth.iter().filter(|t| t.0.called.tracing.is_some()).count();
    table.share("traced, of all", traced, truth.len());
    let called: Vec<(f64, bool)> =
        truth.iter().filter_map(|t| t.0.called.tracing.map(|(c, p)| (p, c == t.1))).collect();
    surety(&mut table, &called, "traced");
    table
}

fn tracings_confusion(whorls: &[Whorl]) -> Table {
    let pairs: Vec<_> = whorls
        .iter()
        .filter_map(|w| Some((tracing_words(w.tracing?), w.called.tracing.map_or("none", |t| tracing_words(t.0)))))
        .collect();
    confusion(&["inner", "meeting", "outer"], &["inner", "meeting", "outer", "none"], &pairs)
}

fn counts_table(loops: &[Loop]) -> Table {
    let mut table = figures();
    let pairs: Vec<(u16, RidgeCount)> = loops.iter().filter_map(|l| Some((l.count, l.read?))).collect();
    counts(&mut table, &pairs, loops.len());
    table
}

fn open_counts_table(loops: &[Loop]) -> Table {
    let mut table = figures();
    let settled = loops.iter().filter(|l| l.settled).count();
    table.share("three in four readings alike, of all", settled, loops.len());
    let off = |l: &Loop| l.read.map(|r| r.best.abs_diff(l.count));
    for (words, wanted) in [("", None), (" where they are alike", Some(true)), (" where they are not", Some(false))] {
        let counted: Vec<u16> =
            loops.iter().filter(|l| wanted.is_none_or(|w| l.settled == w)).filter_map(off).collect();
        let within = |ridges: u16| counted.iter().filter(|off| **off <= ridges).count();
        table.share(&format!("count exact, of counted{words}"), within(0), counted.len());
        table.share(&format!("count within one, of counted{words}"), within(1), counted.len());
    }
    table
}

/// Rows about counts: pairs of true count and proposed one, out of so many loops.
fn counts(table: &mut Table, pairs: &[(u16, RidgeCount)], all: usize) {
    let count = |test: &dyn Fn(u16, &RidgeCount) -> bool| pairs.iter().filter(|(t, r)| test(*t, r)).count();
    table.share("counted (called a loop), of all", pairs.len(), all);
    table.share("count exact, of counted", count(&|t, r| r.best == t), pairs.len());
    table.share("count within one, of counted", count(&|t, r| r.best.abs_diff(t) <= 1), pairs.len());
    table.share(
        "true count inside the range given, of counted",
        count(&|t, r| (r.min..=r.max).contains(&t)),
        pairs.len(),
    );
    let width: u32 = pairs.iter().map(|(_, r)| u32::from(r.max - r.min)).sum();
    let mean = (!pairs.is_empty()).then(|| format!("{:.2} ridges", f64::from(width) / pairs.len() as f64));
    table.figure("breadth of the range given, mean", mean, format!("{} counted", pairs.len()));
    let miss: i32 = pairs.iter().map(|(t, r)| i32::from(r.best) - i32::from(*t)).sum();
    let mean = (!pairs.is_empty()).then(|| format!("{:+.2} ridges", f64::from(miss) / pairs.len() as f64));
    table.figure("count less the true count, mean", mean, format!("{} counted", pairs.len()));
}
