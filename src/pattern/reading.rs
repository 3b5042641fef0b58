//! Reading the ridges below the pattern: the count of a loop, the kind and tracing of a whorl, with the working that is shown.

use super::decide::Pattern;
use super::double_loop::{Together, TwoLoops};
use super::line_of_flow::{LineOfFlow, line_of_flow};
use super::pocket::Pocket;
use super::ridge_count::{CountedLine, around_loop, count_ridges};
use super::subtype::{self, KINDS, Prior, WhorlModel};
use super::tent::Tent;
use super::trace::{Tracings, trace};
use super::type_lines::{TypeLines, type_lines};
use super::whorl::{WhorlView, view};
use crate::field::RidgeField;
use crate::geometry::Point;
use crate::network::sample::Sample;
use crate::network::trace::TraceNetwork;
use crate::proposal::{RidgeCount, Subclass, TracingFacts};
use crate::ridge::{Region, RidgeLines, RidgeSettings};
use crate::singular::{Candidate, PointKind, Singularities};

/// What the ridges say below the pattern. Places are working pixels.
#[derive(Debug, Clone, Default)]
pub struct RidgeReading {
    /// The counted line of a loop.
    pub counted: Option<CountedLine>,
    /// Its count.
    pub count: Option<RidgeCount>,
    /// What a tented arch would be as the loop among its references.
    pub if_loop: Option<Box<RidgeReading>>,
    /// Whether it was a tented arch before a looping ridge was seen between delta and core.
    pub by_looping_ridge: bool,
    /// The facts about a whorl.
    pub whorl: Option<WhorlView>,
    /// Probability of each kind of whorl, in the order of [`super::subtype::KINDS`].
    pub kinds: Option<[f64; 4]>,
    /// The network's share of each, as far as it was asked.
    pub kinds_by_sight: Option<[f64; 4]>,
    /// The tracings of a whorl whose extreme deltas were both found.
    pub tracings: Option<Tracings>,
    /// What they and the networks that have learned tracing come to.
    pub tracing: Option<TracingFacts>,
    /// Where the line between the deltas cuts a ridge of the circuit, and that ridge.
    pub cut: Vec<(Point, Vec<Point>)>,
    /// The lines of flow of a whorl from its extreme left and its extreme right delta, each to the core that lies nearest.
    pub lines_of_flow: Option<[LineOfFlow; 2]>,
    /// What stands before its inner delta, where that is little.
    pub pocket: Option<Pocket>,
    /// The type lines at the delta of a loop, at the extreme deltas of a whorl.
    pub type_lines: Vec<TypeLines>,
    /// What makes or would make a tent at the centre of an arch.
    pub tent: Option<Tent>,
    /// Points from which was read although they are too doubtful to be marked.
    pub unmarked: Vec<Unmarked>,
}

/// A point that is not certain enough to be marked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unmarked {
    /// Core or delta.
    pub kind: PointKind,
    /// Where, working pixels.
    pub at: Point,
    /// Probability that it is there.
    pub confidence: f64,
}

impl Unmarked {
    /// Those among some points.
    fn among<'a>(points: impl IntoIterator<Item = &'a Candidate>) -> Vec<Self> {
        let doubtful = points.into_iter().filter(|c| !c.chosen);
        doubtful.map(|c| Self { kind: c.kind, at: c.at, confidence: c.confidence }).collect()
    }

    /// What the trade calls it.
    pub fn name(&self) -> &'static str {
        if self.kind == PointKind::Core { "core" } else { "delta" }
    }
}

impl RidgeReading {
    /// A tented arch that turned out the loop among its references; the kinds of a whorl stay for the references.
    pub fn taken_as_loop(self) -> Self {
        let read = self.if_loop.map_or_else(Self::default, |read| *read);
        Self { kinds: self.kinds, kinds_by_sight: self.kinds_by_sight, by_looping_ridge: true, ..read }
    }

    /// Whether a ridge that loops lies between delta and core; none where that was not looked at.
    pub fn crosses_looping_ridge(&self) -> Option<bool> {
        self.counted.as_ref()?.looping.as_ref().map(|looping| looping.share >= LOOPING)
    }

    /// The ridge between delta and core on which it turns that the print is no tented arch, or may be none.
    pub fn decisive_looping_ridge(&self) -> Option<&[Point]> {
        let read = if self.by_looping_ridge { self } else { self.if_loop.as_ref()? };
        let seen = read.crosses_looping_ridge()?;
        read.counted.as_ref()?.looping.as_ref()?.shown.as_deref().filter(|_| seen)
    }

    /// The probabilities of the patterns where the loop among the references of a tented arch has a looping ridge between delta and core; none where it has not.
    pub fn weighed_by_looping_ridge(&self, probabilities: &[f64; 5]) -> Option<[f64; 5]> {
        let looping = self.if_loop.as_ref().filter(|read| read.crosses_looping_ridge() == Some(true))?;
        Some(with_looping_ridge(probabilities, looping_ratio(looping.counted.as_ref()?)))
    }

    /// The two recurves of a whorl where they speak for or against a double loop, with the distance of the cores in ridges.
    pub fn decisive_loops(&self) -> Option<(&TwoLoops, f64)> {
        let kinds = self.kinds?;
        let likeliest = (0..kinds.len()).fold(0, |best, k| if kinds[k] > kinds[best] { k } else { best });
        let (kind, whorl) = (KINDS[likeliest], self.whorl.as_ref()?);
        let loops = whorl.two_loops.as_ref()?;
        let [a, b, ..] = whorl.points.cores.as_slice() else { return None };
        let apart = a.at.distance(b.at) / whorl.period;
        let speak = match kind {
            Subclass::Dl => true,
            Subclass::Pw if loops.together.is_joined() => true,
            Subclass::Pw | Subclass::Aw => loops.together == Together::Separate && apart > CLEARLY_APART,
            _ => false,
        };
        speak.then_some((loops, apart))
    }
}

/// The ridges between delta and core loop where at least this share of the sampled lines crosses one that does.
const LOOPING: f64 = 0.6;
/// How much oftener that is seen on a loop than on a tented arch without the flow bearing it out, of prints that look like a tented arch and have a loop among the references: on 59 of 322
/// drawn loops and 20 of 711 drawn tented arches, good and fair (seeds from 1,910,000,000, and from 1,940,000,000 loops of one to five ridges with the delta under the core).
const LOOPING_RATIO: f64 = 6.5;
/// The same where the flow bears it out: on 147 of these loops and 1 of these tented arches, counted as 2. The cuts were set with the handbook's figures 73 and 177 in sight. All but
/// 9 of these loops, and none of these arches, cross one on every sampled line: for those that do on most lines, as figure 73, 9 against 1 is a ratio of 20 at most, and this one says too much.
const BORNE_OUT_RATIO: f64 = 160.0;
/// The flow bears it out where it counts so many ridges between delta and core by itself, two when rounded, and they lie so far apart, ridge periods: over the point of an angle everything lies
/// close together.
const BORNE_OUT_COUNT: f64 = 1.5;
const BORNE_OUT_PERIODS: f64 = 3.0;

/// The least that is left to the tented arch, so that it stays among the references.
const TENTED_STAYS: f64 = 0.03;

/// How much a looping ridge between delta and core speaks for a loop and against a tented arch, as the odds by which it multiplies.
pub fn looping_ratio(line: &CountedLine) -> f64 {
    let borne_out = line.by_flow >= BORNE_OUT_COUNT && line.periods >= BORNE_OUT_PERIODS;
    if borne_out { BORNE_OUT_RATIO } else { LOOPING_RATIO }
}

/// The probabilities of the patterns, in the order of [`Pattern::ALL`], where a ridge that loops is crossed between delta and core: the third essential of a loop, which a tented arch lacks
/// (handbook, chapter II, "Loops" and "The tented arch"). It is weighed ([`looping_ratio`]), for reading single ridges errs: a tented arch that
/// was likelier stays among the references. Where the flow bears it out it makes a loop of nearly every print that is asked.
pub fn with_looping_ridge(probabilities: &[f64; 5], ratio: f64) -> [f64; 5] {
    let weighed = Pattern::ALL.iter().zip(probabilities).map(|(pattern, p)| match pattern {
        Pattern::LeftLoop | Pattern::RightLoop => ratio * p,
        _ => *p,
    });
    let mut weighed: Vec<f64> = weighed.collect();
    let tented = Pattern::TentedArch as usize;
    let others = weighed.iter().sum::<f64>() - weighed[tented];
    weighed[tented] = weighed[tented].max(others * TENTED_STAYS / (1.0 - TENTED_STAYS));
    let total: f64 = weighed.iter().sum();
    std::array::from_fn(|k| if total > 0.0 { weighed[k] / total } else { probabilities[k] })
}

/// Cores this far apart, ridges, might be those of a double loop.
const CLEARLY_APART: f64 = 3.0;

/// Ridges around the points of a whorl that are turned into lines, ridge periods: beyond them nothing is traced.
const TRACE_MARGIN: f64 = 12.0;

/// On a plain arch a tent is looked for where a tented arch is at least so likely: on fair prints every fourth clear plain arch has some ridge
/// that ends upward.
const NEAR_A_TENT: f64 = 0.1;

/// What is asked of the ridges.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    /// The preferred pattern.
    pub pattern: Pattern,
    /// The probability of a whorl.
    pub whorl: f64,
    /// The probability of a tented arch.
    pub tented: f64,
    /// The probability of a loop, of the likelier slant.
    pub looped: f64,
    /// Where the flow bends most, working pixels: the centre of an arch without a core.
    pub bend: Option<Point>,
}

/// Reads what the preferred pattern asks for.
pub fn read(
    field: &RidgeField,
    found: &Singularities,
    Asked { pattern, whorl, tented, looped, bend }: Asked,
    settings: &RidgeSettings,
    model: &WhorlModel,
    prior: Prior,
) -> RidgeReading {
    let mut reading = match pattern {
        Pattern::LeftLoop | Pattern::RightLoop => read_loop(field, found, settings, model),
        Pattern::Whorl => return read_whorl(field, found, settings, model, prior),
        Pattern::PlainArch if tented < NEAR_A_TENT => RidgeReading::default(),
        Pattern::PlainArch | Pattern::TentedArch => {
            let (core, delta) = found.core_and_delta().unzip();
            let core = core.or_else(|| found.chosen(PointKind::Core).next());
            let tent = Tent::of(field, core, delta, bend, settings);
            // A loop among the references of a tented arch is counted as well, so that an examiner who calls it that finds its count.
            let may_loop = pattern == Pattern::TentedArch && looped >= crate::proposal::LEAST_REFERENCE_PROBABILITY;
            let if_loop = may_loop.then(|| Box::new(read_loop(field, found, settings, model)));
            RidgeReading { tent, if_loop, ..Default::default() }
        }
    };
    // A whorl among the references is named by its kind as well.
    if whorl >= crate::proposal::LEAST_REFERENCE_PROBABILITY {
        let sample = Sample::of(field);
        reading.kinds =
            view(field, found, settings).map(|w| model.kinds(&w.facts(), sight(found, sample.as_ref()), prior));
    }
    reading
}

/// The network's kinds of whorl.
fn sight(found: &Singularities, sample: Option<&Sample>) -> Option<[f64; 4]> {
    Some(subtype::by_sight(found.sight.as_ref()?, sample?))
}

/// What is left of a whorl whose pocket is spoiled: a loop between its outer delta and the core that lies farthest from the inner one. The kinds and the
/// tracing of the whorl stay for the references.
pub fn read_as_loop(
    field: &RidgeField,
    whorl: RidgeReading,
    pocket: Pocket,
    settings: &RidgeSettings,
    model: &WhorlModel,
) -> RidgeReading {
    let between = whorl.whorl.as_ref().zip(pocket.outer).and_then(|(whorl, outer)| {
        let from_inner = |c: &&Candidate| c.at.distance(pocket.delta);
        let core = whorl.points.cores.iter().max_by(|a, b| from_inner(a).total_cmp(&from_inner(b)))?;
        let delta = whorl.points.deltas.iter().find(|delta| delta.at == outer)?;
        Some(read_loop_between(field, core, delta, settings, model))
    });
    let read = between.unwrap_or_default();
    let mut unmarked = whorl.unmarked;
    unmarked.extend(
        read.unmarked.iter().filter(|p| unmarked.iter().all(|known| known.at != p.at)).copied().collect::<Vec<_>>(),
    );
    RidgeReading {
        unmarked,
        kinds: whorl.kinds,
        kinds_by_sight: whorl.kinds_by_sight,
        tracing: whorl.tracing,
        pocket: Some(pocket),
        ..read
    }
}

fn read_loop(field: &RidgeField, found: &Singularities, settings: &RidgeSettings, model: &WhorlModel) -> RidgeReading {
    let Some((core, delta)) = found.core_and_delta() else { return RidgeReading::default() };
    read_loop_between(field, core, delta, settings, model)
}

fn read_loop_between(
    field: &RidgeField,
    core: &Candidate,
    delta: &Candidate,
    settings: &RidgeSettings,
    model: &WhorlModel,
) -> RidgeReading {
    let (region, period) = around_loop(field, [delta.at, core.at]);
    let lines = RidgeLines::of(field, region, period, settings);
    let mut counted = count_ridges(field, &lines, delta, core, settings);
    let count = counted.as_ref().map(|c| model.count(c));
    if let (Some(line), Some(count)) = (&mut counted, count) {
        line.show(count.best);
    }
    let type_lines = vec![type_lines(&lines, delta.at, delta.directions, core.at)];
    RidgeReading { counted, count, type_lines, unmarked: Unmarked::among([core, delta]), ..Default::default() }
}

fn read_whorl(
    field: &RidgeField,
    found: &Singularities,
    settings: &RidgeSettings,
    model: &WhorlModel,
    prior: Prior,
) -> RidgeReading {
    let Some(whorl) = view(field, found, settings) else { return RidgeReading::default() };
    let sample = Sample::of(field);
    let kinds_by_sight = sight(found, sample.as_ref());
    let kinds = Some(model.kinds(&whorl.facts(), kinds_by_sight, prior));
    let mut reading = RidgeReading { kinds, kinds_by_sight, ..Default::default() };
    if let Some((left, right)) = whorl.points.extreme_deltas() {
        let points: Vec<Point> = whorl.points.cores.iter().chain(&whorl.points.deltas).map(|c| c.at).collect();
        let region = Region::around(&points, TRACE_MARGIN * whorl.period, field.filtered.dim());
        let lines = RidgeLines::of(field, region, whorl.period, settings);
        let tracings = trace(field, &lines, left, right, whorl.centre);
        reading.tracings = Some(tracings);
        reading.unmarked = Unmarked::among([left, right]);
        reading.type_lines =
            [left, right].map(|delta| type_lines(&lines, delta.at, delta.directions, whorl.centre)).into();
        let nearest = |at: Point| {
            let cores = whorl.points.cores.iter().map(|core| core.at);
            cores.min_by(|a, b| a.distance(at).total_cmp(&b.distance(at))).unwrap_or(whorl.centre)
        };
        let lines_of_flow = [left, right].map(|delta| line_of_flow(&lines, delta.at, nearest(delta.at)));
        // An accidental is made of other patterns, and a recurve before each delta is not asked of it.
        reading.pocket = Pocket::of(&lines, &lines_of_flow).filter(|_| !is_accidental(kinds));
        reading.lines_of_flow = Some(lines_of_flow);
        if whorl.delta_line.is_some_and(|l| l.cuts()) {
            reading.cut = cut_recurves(field, &lines, &whorl, left.at, right.at);
        }
    }
    let seen = sample.map(|sample| TraceNetwork::embedded().between(&sample));
    reading.tracing = model.tracing(reading.tracings.as_ref(), seen.as_ref());
    reading.whorl = Some(whorl);
    reading
}

/// Whether the accidental is the likeliest kind of whorl.
fn is_accidental(kinds: Option<[f64; 4]>) -> bool {
    kinds.is_some_and(|[plain, pocket, double, accidental]| accidental > plain.max(pocket).max(double))
}

/// The ridges of a full circuit that the line between the deltas cuts, for the picture.
fn cut_recurves(
    field: &RidgeField,
    lines: &RidgeLines,
    whorl: &WhorlView,
    left: Point,
    right: Point,
) -> Vec<(Point, Vec<Point>)> {
    let longest = 9.0 * std::f64::consts::PI * whorl.period;
    let met = lines
        .crossings(left, right)
        .into_iter()
        .filter(|c| c.at.distance(left) > 0.8 * whorl.period && c.at.distance(right) > 0.8 * whorl.period);
    met.filter(|c| whorl.is_on_circuit(field, c.at))
        .map(|c| {
            let along = field.orientation_at(c.at);
            let way = |heading| lines.walk(c.pixel, heading, crate::ridge::AtFork::Straight, longest, |_| true).points;
            let mut path = way(along + std::f64::consts::PI);
            path.reverse();
            path.extend(way(along));
            (c.at, path)
        })
        .collect()
}
