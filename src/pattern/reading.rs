//! Reading the ridges below the pattern: the count of a loop, the kind and tracing of a whorl, with the working that is shown.

use super::decide::Pattern;
use super::double_loop::{Together, TwoLoops};
use super::line_of_flow::{LineOfFlow, line_of_flow};
use super::loop_or_tent::{self, LoopOrTent};
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
    /// Whether it was a tented arch before the ridges between delta and core were weighed.
    pub by_ridges: bool,
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
        Self { kinds: self.kinds, kinds_by_sight: self.kinds_by_sight, by_ridges: true, ..read }
    }

    /// Share of the lines from delta to core that cross a ridge that loops; none where that was not looked at.
    pub fn crossing_looping_ridge(&self) -> Option<f64> {
        self.counted.as_ref()?.looping.as_ref().map(|looping| looping.share)
    }

    /// A ridge between delta and core that speaks for a loop where the print looks like a tented arch.
    pub fn shown_looping_ridge(&self) -> Option<&[Point]> {
        let read = if self.by_ridges { self } else { self.if_loop.as_ref()? };
        read.counted.as_ref()?.looping.as_ref()?.shown.as_deref()
    }

    /// The probabilities of the patterns after the ridges of a tented arch with a loop among its references were weighed; none where that was not looked at.
    pub fn weighed(&self, model: &LoopOrTent, probabilities: &[f64; 5]) -> Option<[f64; 5]> {
        let facts = loop_or_tent::facts(self.if_loop.as_ref()?.counted.as_ref()?, probabilities)?;
        Some(loop_or_tent::weighed(probabilities, model.ratio(&facts)))
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

/// The ridges between delta and core are said to loop where at least this share of the sampled lines crosses one that does.
pub const LOOPING: f64 = 0.6;

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
