//! What tells the kinds of whorl apart.
//!
//! The handbook decides in the order accidental, double loop, central pocket loop, plain whorl (chapter II, "Whorls"), each by what
//! single ridges do. On a print of which a delta or a recurve may be missing that order is a chain of doubts, so the same questions are asked as
//! numbers, and [`super::subtype`] adds them up with weights fitted on drawn prints:
//!
//! * two or more types in one print: more than two deltas, a third core, a tent (a delta close before an opening);
//! * two separate loops: how far the recurves lie apart, whether they open toward each other (a circuit) or past each other (two
//!   loops about each other, and the S of a single ridge), and whether, ridge by ridge, two loops or one make them;
//! * a circuit in the inner pattern area: how many ridges around the centre turn fully about it;
//! * the line between the deltas: how many of these it cuts, how far it stays away, and how near the inner delta stands.

use super::double_loop::{Together, TwoLoops, two_loops};
use super::flow::{Flow, follow};
use crate::field::RidgeField;
use crate::geometry::{Point, direction_difference};
use crate::ridge::{Region, RidgeLines, RidgeSettings};
use crate::singular::{Candidate, PointKind, Singularities};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Turn about the centre from which a ridge counts as a full circuit, radians: a spiral may stop a little short of a closed ridge.
pub const FULL_CIRCUIT: f64 = 1.75 * PI;
/// Farthest ridge from the centre at which circuits are looked for.
const MOST_CIRCUITS: usize = 14;
/// Kinds of sets that are looked at beside the most probable one, because they hold more points.
const LEAST_SET: f64 = 0.15;

/// The points of a whorl, ordered.
#[derive(Debug, Clone)]
pub struct WhorlPoints {
    /// The two cores that make the whorl, the upper one first; one where a second is not seen.
    pub cores: Vec<Candidate>,
    /// A third core beside them.
    pub third: Option<Candidate>,
    /// Deltas from left to right, two of them by the way round the centre.
    pub deltas: Vec<Candidate>,
    /// Probability of this kind of set.
    pub probability: f64,
}

impl WhorlPoints {
    /// The points of the most probable set, or of a less probable one that holds a recurve or a delta more, as a whorl must.
    pub fn of(found: &Singularities) -> Option<Self> {
        let points = |set: &crate::singular::PointSet, kind| {
            set.members.iter().map(|&i| &found.candidates[i]).filter(|c| c.kind == kind).cloned().collect::<Vec<_>>()
        };
        let richness = |set: &crate::singular::PointSet| {
            let (cores, deltas) = (points(set, PointKind::Core).len(), points(set, PointKind::Delta).len());
            (cores > 0).then(|| cores.min(2) + deltas.min(2))
        };
        let best = found
            .sets
            .iter()
            .enumerate()
            .filter(|(i, s)| *i == 0 || s.probability >= LEAST_SET)
            .filter_map(|(i, s)| richness(s).map(|r| (r, std::cmp::Reverse(i), s)))
            .max_by_key(|(r, i, _)| (*r, *i))?
            .2;
        let mut cores = points(best, PointKind::Core);
        let mut deltas = points(best, PointKind::Delta);
        cores.sort_by(|a, b| b.confidence.total_cmp(&a.confidence).then(a.at.y.total_cmp(&b.at.y)));
        // Of three cores the two that lie closest together make the whorl.
        let mut third = None;
        if cores.len() > 2 {
            let mut pair = (0, 1, f64::INFINITY);
            for i in 0..cores.len() {
                for j in i + 1..cores.len() {
                    let d = cores[i].at.distance(cores[j].at);
                    if d < pair.2 {
                        pair = (i, j, d);
                    }
                }
            }
            third = (0..cores.len()).find(|&k| k != pair.0 && k != pair.1).map(|k| cores[k].clone());
            cores = vec![cores[pair.0].clone(), cores[pair.1].clone()];
        }
        cores.sort_by(|a, b| a.at.y.total_cmp(&b.at.y).then(a.at.x.total_cmp(&b.at.x)));
        let centre = cores.first()?.at.lerp(cores.last()?.at, 0.5);
        let count = deltas.len();
        let place = |d: &Candidate| place_across(d.at, centre, count);
        deltas.sort_by(|a, b| {
            place(a).total_cmp(&place(b)).then(a.at.x.total_cmp(&b.at.x)).then(a.at.y.total_cmp(&b.at.y))
        });
        Some(Self { cores, third, deltas, probability: best.probability })
    }

    /// The centre of the inner pattern area: between the cores, or a ridge inside the only one.
    pub fn centre(&self, period: f64) -> Point {
        match self.cores.as_slice() {
            [a, b, ..] => a.at.lerp(b.at, 0.5),
            [a] => a.at.step(a.directions[0], period),
            [] => Point::default(),
        }
    }

    /// The extreme left and the extreme right delta, where there are two apart from each other (handbook, chapter II: of three or more
    /// deltas only these count for the tracing).
    pub fn extreme_deltas(&self) -> Option<(&Candidate, &Candidate)> {
        let (left, right) = (self.deltas.first()?, self.deltas.last()?);
        (self.deltas.len() > 1).then_some((left, right))
    }

    /// The places of two deltas, the left one first, that do not show across the print which is the left one.
    pub fn unclear_order(&self) -> Option<(Point, Point)> {
        /// A line steeper than this changes sides when the print is turned by 15 degrees: across for each step down.
        const STEEP: f64 = 0.27;
        let [left, right] = self.deltas.as_slice() else { return None };
        let (left, right) = (left.at, right.at);
        (right.x - left.x < STEEP * (right.y - left.y).abs()).then_some((left, right))
    }
}

/// What orders deltas from left to right. Two are ordered as one comes by them on the way round the centre, down its left side and up its right one: an inner delta
/// right of the centre is the right one, though it may lie a little left of an outer delta far below it, or come to lie there when the print is turned by a few
/// degrees. Of three and more the outermost are the extreme ones.
fn place_across(at: Point, centre: Point, deltas: usize) -> f64 {
    if deltas == 2 { direction_difference(centre.direction_to(at), -FRAC_PI_2) } else { at.x }
}

/// The line between the deltas and what it meets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeltaLine {
    /// From the left to the right delta, working pixels.
    pub ends: (Point, Point),
    /// Ridges of a full circuit inside the deltas that it cuts, by the flow.
    pub circuits_cut: f64,
    /// Ridges that turn fully about the centre, inside the deltas or around one.
    pub any_cut: f64,
    /// Largest turn about the centre of a ridge that it meets, in whole turns; at most three quarters where it leads outside a delta.
    pub fullest: f64,
    /// The same wherever it leads.
    pub any_fullest: f64,
    /// Distance from the centre to the line, in ridges.
    pub from_centre: f64,
    /// Ridges between the outermost full circuit on the way from the centre to the line, and the line; negative when it cuts.
    pub clearance: f64,
}

/// Ridges of a full circuit from which on the line between the deltas cuts one: less is what the reading of the flow errs by.
const CUT_FROM: f64 = 0.25;

impl DeltaLine {
    /// Whether it cuts a ridge of a full circuit: of a plain whorl it does, of a central pocket loop it does not (handbook, chapter II).
    pub fn cuts(&self) -> bool {
        self.circuits_cut > CUT_FROM
    }
}

/// The measured facts about a whorl.
#[derive(Debug, Clone)]
pub struct WhorlView {
    /// Its points.
    pub points: WhorlPoints,
    /// Centre of the inner pattern area, working pixels.
    pub centre: Point,
    /// Ridge period, working pixels.
    pub period: f64,
    /// Full circuits inside the deltas along four rays (right, up, left, down relative to the axis), in ridges.
    pub circuits: [f64; 4],
    /// The same for ridges that turn fully about the centre, inside the deltas or around one.
    pub any_circuits: [f64; 4],
    /// Turn about the centre of the ridge through it, in whole turns.
    pub middle_turn: f64,
    /// Whether that ridge runs off the print on both ways.
    pub middle_runs_out: bool,
    /// The line between the extreme deltas.
    pub delta_line: Option<DeltaLine>,
    /// Confidence of the best core and of the best delta that were left out.
    pub left_out: [f64; 2],
    /// The same, less the farther from the centre: confidence times a decay over six ridges.
    pub left_out_near: [f64; 2],
    /// Ridges that make a full circuit about one core and leave the other out, where the cores stand apart: a whorl beside a
    /// loop. In units of three.
    pub own_circuit: f64,
    /// Half turns along the border that the points do not explain.
    pub unexplained: f64,
    /// How the recurves of the two cores hang together on the ridges, where both show one.
    pub two_loops: Option<TwoLoops>,
}

/// Most turn of a ridge that passes outside a delta, radians: it opens to that delta and is no circuit, however far it goes round.
const OPEN_CIRCUIT: f64 = 1.5 * PI;

/// A delta's side of the centre reaches so far to either hand of it, radians (40 degrees).
const DELTA_SIDE: f64 = 0.70;

/// The middle of circuits, and the deltas that they must leave outside.
#[derive(Debug, Clone, Copy)]
struct Around<'a> {
    centre: Point,
    deltas: &'a [Point],
}

impl Around<'_> {
    /// Whether a place lies farther out than a delta, on its side of the centre.
    fn is_outside(&self, p: Point) -> bool {
        self.deltas.iter().any(|delta| {
            let off = direction_difference(self.centre.direction_to(p), self.centre.direction_to(*delta));
            off.abs() < DELTA_SIDE && self.centre.distance(p) * off.cos() > self.centre.distance(*delta)
        })
    }
}

/// How far a ridge turns about a centre, radians without sign.
#[derive(Debug, Clone, Copy)]
struct Turn {
    /// Both ways together, whatever it passes.
    any: f64,
    /// The same where it passes inside the deltas; a way that leads outside one does not count, and without it the other must be a
    /// circuit alone.
    inside: f64,
    /// The same, but no circuit where either way leads outside a delta.
    strict: f64,
    /// Whether either way runs off the print.
    out: [bool; 2],
}

/// Follows the flow both ways from `at` and adds the turns about the centre.
fn turn_about(flow: Flow<'_>, at: Point, around: Around<'_>, longest: f64) -> Turn {
    let along = flow.orientation_at(at);
    let centre = around.centre;
    let sweep = |heading: f64| {
        let line = follow(flow, at, heading, longest);
        let (mut angle, mut opens) = (0.0, false);
        for w in line.points.windows(2) {
            angle += direction_difference(centre.direction_to(w[1]), centre.direction_to(w[0]));
            opens |= around.is_outside(w[1]);
            if angle.abs() > TAU {
                break;
            }
        }
        (angle, line.left_print, opens)
    };
    let ((a, out_a, opens_a), (b, out_b, opens_b)) = (sweep(along), sweep(along + PI));
    let any = (a - b).abs();
    let strict = if opens_a || opens_b { any.min(OPEN_CIRCUIT) } else { any };
    let inside = match (opens_a, opens_b) {
        (true, false) => strict.max(b.abs()),
        (false, true) => strict.max(a.abs()),
        _ => strict,
    };
    Turn { any, inside, strict, out: [out_a, out_b] }
}

impl WhorlView {
    /// Whether the ridge at a place makes a full circuit inside the deltas, by the flow.
    pub(super) fn is_on_circuit(&self, field: &RidgeField, at: Point) -> bool {
        let deltas: Vec<Point> = self.points.deltas.iter().map(|d| d.at).collect();
        let longest = 3.0 * PI * at.distance(self.centre) + 20.0 * self.period;
        turn_about(Flow::of(field), at, Around { centre: self.centre, deltas: &deltas }, longest).strict >= FULL_CIRCUIT
    }
}

/// Ridges around the cores that are turned into lines to see how their recurves hang together.
const CORES_MARGIN: f64 = 12.0;

/// Measures a whorl. None without a core.
pub fn view(field: &RidgeField, found: &Singularities, settings: &RidgeSettings) -> Option<WhorlView> {
    let points = WhorlPoints::of(found)?;
    let period = field.median_period().max(3.0);
    let centre = points.centre(period);
    let flow = Flow::of(field);
    let axis = match points.cores.as_slice() {
        [a, b, ..] => a.at.direction_to(b.at),
        [a] => a.directions[0],
        [] => 1.5 * PI,
    };
    let apart = match points.cores.as_slice() {
        [a, b, ..] => a.at.distance(b.at),
        _ => 0.0,
    };
    let deltas: Vec<Point> = points.deltas.iter().map(|d| d.at).collect();
    let around = |centre| Around { centre, deltas: &deltas };
    let (mut circuits, mut any_circuits) = ([0.0; 4], [0.0; 4]);
    for (k, rays) in circuits.iter_mut().enumerate() {
        let ray = axis + FRAC_PI_2 * (k as f64 + 1.0);
        let along = circuits_along(flow, around(centre), ray, period);
        (*rays, any_circuits[k]) = (along.inside, along.any);
    }
    let middle =
        turn_about(flow, centre.step(axis + FRAC_PI_2, 0.3 * period), around(centre), 6.0 * apart + 40.0 * period);
    let delta_line =
        points.extreme_deltas().map(|(left, right)| delta_line(flow, left.at, right.at, around(centre), period));
    let chosen: Vec<Point> = points.cores.iter().chain(&points.third).chain(&points.deltas).map(|c| c.at).collect();
    let others = |kind| found.candidates.iter().filter(move |c| c.kind == kind).filter(|c| !chosen.contains(&c.at));
    let left_out =
        [PointKind::Core, PointKind::Delta].map(|kind| others(kind).map(|c| c.confidence).fold(0.0, f64::max));
    let nearness = |c: &Candidate| c.confidence * (-c.at.distance(centre) / (6.0 * period)).exp();
    let left_out_near = [PointKind::Core, PointKind::Delta].map(|kind| others(kind).map(nearness).fold(0.0, f64::max));
    let mut own_circuit = 0.0f64;
    if let [a, b, ..] = points.cores.as_slice()
        && apart > 4.0 * period
    {
        for (core, _) in [(a, b), (b, a)] {
            let middle = core.at.step(core.directions[0], period);
            let within = 0.6 * apart / period;
            let rays = [1.0, -1.0].map(|side| {
                circuits_along(flow, around(middle), core.directions[0] + side * FRAC_PI_2, period).any.min(within)
            });
            own_circuit = own_circuit.max(rays[0].min(rays[1]) / 3.0);
        }
    }
    let hang_together = |a: &Candidate, b: &Candidate| {
        let region = Region::around(&[a.at, b.at], CORES_MARGIN * period, field.filtered.dim());
        let lines = RidgeLines::of(field, region, period, settings);
        two_loops(&lines, [a, b].map(|core| (core.at, core.directions[0])))
    };
    let two_loops = match points.cores.as_slice() {
        [a, b, ..] => hang_together(a, b),
        _ => None,
    };
    let cores = points.cores.len() + usize::from(points.third.is_some());
    let explained = cores as i32 - points.deltas.len() as i32;
    Some(WhorlView {
        centre,
        period,
        circuits,
        any_circuits,
        middle_turn: middle.any / TAU,
        middle_runs_out: middle.out == [true, true],
        delta_line,
        left_out,
        left_out_near,
        own_circuit: own_circuit.min(2.0),
        unexplained: f64::from(found.border_half_turns - explained),
        two_loops,
        points,
    })
}

/// How many ridges out from the centre along a ray circuits go on.
#[derive(Debug, Clone, Copy, Default)]
struct Circuits {
    /// Full circuits inside the deltas.
    inside: f64,
    /// Ridges that turn fully wherever they lead.
    any: f64,
}

/// Looks along a ray, by the flow; it ends at the print's edge.
fn circuits_along(flow: Flow<'_>, around: Around<'_>, ray: f64, period: f64) -> Circuits {
    let mut turns = Vec::with_capacity(MOST_CIRCUITS);
    for k in 1..=MOST_CIRCUITS {
        let at = around.centre.step(ray, (k as f64 - 0.5) * period);
        if !flow.field.on_print(at) {
            break;
        }
        turns.push(turn_about(flow, at, around, 2.5 * PI * k as f64 * period + 12.0 * period));
        if circuits_end(&turns, |t| t.any) {
            break;
        }
    }
    let last = |of: fn(&Turn) -> f64| {
        let end = (1..=turns.len()).find(|k| circuits_end(&turns[..*k], of)).unwrap_or(turns.len());
        turns[..end].iter().rposition(|t| of(t) >= FULL_CIRCUIT).map_or(0.0, |i| i as f64 + 1.0)
    };
    Circuits { inside: last(|t| t.inside), any: last(|t| t.any) }
}

/// Whether circuits have ended with the last of these ridges: those closest to a core may miss it; farther out three misses in a row end them.
fn circuits_end(turns: &[Turn], of: fn(&Turn) -> f64) -> bool {
    turns.len() > 3 && turns.iter().rev().take(3).all(|t| of(t) < FULL_CIRCUIT)
}

fn delta_line(flow: Flow<'_>, left: Point, right: Point, around: Around<'_>, period: f64) -> DeltaLine {
    let centre = around.centre;
    let length = left.distance(right);
    let direction = left.direction_to(right);
    let steps = (2.0 * length / period).ceil().max(2.0) as usize;
    let (mut cut, mut any_cut, mut fullest, mut any_fullest) = (0.0, 0.0, 0.0f64, 0.0f64);
    for i in 1..steps {
        let t = i as f64 / steps as f64;
        let at = left.lerp(right, t);
        // The first ridge at either delta belongs to it.
        if (t * length).min((1.0 - t) * length) < 0.8 * period || !flow.field.on_print(at) {
            continue;
        }
        let longest = 3.0 * PI * at.distance(centre) + 20.0 * period;
        let turn = turn_about(flow, at, around, longest);
        fullest = fullest.max(turn.strict / TAU);
        any_fullest = any_fullest.max(turn.any / TAU);
        let slant = direction_difference(2.0 * flow.orientation_at(at), 2.0 * direction) * 0.5;
        let ridges = slant.sin().abs() * (length / steps as f64) / period;
        cut += if turn.strict >= FULL_CIRCUIT { ridges } else { 0.0 };
        any_cut += if turn.any >= FULL_CIRCUIT { ridges } else { 0.0 };
    }
    let (_, above) = super::recurve::along(left, centre, direction);
    let foot = centre.step(direction - FRAC_PI_2, above);
    let ray = centre.direction_to(foot);
    let from_centre = above / period;
    let circuits = circuits_along(flow, around, ray, period).inside;
    let clearance = if cut > CUT_FROM { -cut } else { (from_centre.abs() - circuits).max(0.0) };
    DeltaLine {
        ends: (left, right),
        circuits_cut: cut,
        any_cut,
        fullest: fullest.min(1.2),
        any_fullest: any_fullest.min(1.2),
        from_centre,
        clearance,
    }
}

/// Number of facts.
pub const FACTS: usize = 54;

/// Names of the facts in their order.
pub const FACT_NAMES: [&str; FACTS] = [
    "constant",
    "one core only",
    "three cores",
    "no delta",
    "one delta",
    "three deltas",
    "cores apart",
    "cores apart beyond three ridges",
    "cores apart beyond six ridges",
    "cores closer than two ridges",
    "cores face each other",
    "less facing of the two",
    "facing squared",
    "facing, apart",
    "turned alike",
    "turned alike, apart",
    "axis upright",
    "circuits around",
    "no circuit around",
    "circuits beyond the cores",
    "circuits on the poorest ray",
    "turn of the middle ridge",
    "middle ridge runs out",
    "near delta",
    "near delta within three ridges",
    "near delta within six ridges",
    "far delta",
    "near over far",
    "near delta beyond the circuits",
    "circuits cut by the delta line",
    "delta line cuts a circuit",
    "fullest turn on the delta line",
    "clearance of the delta line",
    "delta line from the centre",
    "deltas around the centre",
    "tent",
    "delta between the cores",
    "core left out",
    "delta left out",
    "unexplained turn of the border",
    "third core near",
    "near delta under the axis",
    "opening of the lone core",
    "probability of the points",
    "circuit of a core of its own",
    "cores open the same way",
    "left-out delta near the centre",
    "left-out core near the centre",
    "circuits inside the deltas",
    "ridges cut that turn fully anywhere",
    "fullest turn anywhere on the delta line",
    "two loops with recurves of their own",
    "one ridge makes both recurves",
    "one recurve round both cores",
];

/// Whether the line between the deltas cuts a circuit, where it tells clearly: it cuts a ridge of one at least, or every ridge that it meets
/// leads around a delta or turns no further than such a one.
pub(super) fn delta_line_verdict(facts: &[f64; FACTS]) -> Option<bool> {
    const NO_DELTA: usize = 3;
    const ONE_DELTA: usize = 4;
    const CUT: usize = 29;
    const FULLEST: usize = 31;
    let drawn = facts[NO_DELTA] == 0.0 && facts[ONE_DELTA] == 0.0;
    let cuts = facts[CUT] * CUT_UNIT >= 1.0;
    let open = facts[FULLEST] <= OPEN_CIRCUIT / TAU + 1e-9;
    (drawn && (cuts || open)).then_some(cuts)
}

/// Ridges to one of the fact about circuits cut.
const CUT_UNIT: f64 = 4.0;

impl WhorlView {
    /// The facts as the model takes them, each of order one; 0 for what is not visible, with a fact that says so.
    pub fn facts(&self) -> [f64; FACTS] {
        let (p, period, centre) = (&self.points, self.period, self.centre);
        let is = |b: bool| f64::from(u8::from(b));
        let over = |v: f64, limit: f64, unit: f64| ((v - limit) / unit).clamp(0.0, 2.0);
        let pair = (p.cores.len() > 1).then(|| (&p.cores[0], &p.cores[1]));
        let (mut apart, mut facing, mut least_facing, mut alike, mut upright) = (0.0, 0.0, 0.0, 0.0, 0.0);
        if let Some((a, b)) = pair {
            apart = a.at.distance(b.at) / period;
            let alpha = direction_difference(a.directions[0], a.at.direction_to(b.at));
            let beta = direction_difference(b.directions[0], b.at.direction_to(a.at));
            // Closer than a ridge period the directions say nothing.
            let trust = (apart / 1.5).min(1.0);
            facing = 1.0 + trust * (0.5 * (alpha.cos() + beta.cos()) - 1.0);
            least_facing = 1.0 + trust * (alpha.cos().min(beta.cos()) - 1.0);
            alike = trust * alpha.sin() * beta.sin();
            upright = a.at.direction_to(b.at).sin().abs();
        }
        let sorted = |mut rays: [f64; 4]| {
            rays.sort_by(f64::total_cmp);
            rays
        };
        let middle = |rays: [f64; 4]| 0.5 * (rays[1] + rays[2]);
        let rays = sorted(self.any_circuits);
        let circuits = middle(rays);
        let inside = middle(sorted(self.circuits));
        let mut distances: Vec<f64> = p.deltas.iter().map(|d| d.at.distance(centre) / period).collect();
        distances.sort_by(f64::total_cmp);
        let near = distances.first().copied();
        let far = (distances.len() > 1).then(|| distances[distances.len() - 1]);
        let nearest = p.deltas.iter().min_by(|a, b| a.at.distance(centre).total_cmp(&b.at.distance(centre)));
        let line = self.delta_line;
        let around = p.extreme_deltas().map_or(0.0, |(l, r)| {
            direction_difference(centre.direction_to(r.at), centre.direction_to(l.at)).abs() / PI
        });
        let under_axis = nearest.map_or(0.0, |d| {
            pair.map_or(0.0, |(a, b)| {
                (direction_difference(a.at.direction_to(b.at), centre.direction_to(d.at)).cos()).abs()
            })
        });
        let together = self.two_loops.as_ref().map(|t| t.together);
        let lone = if pair.is_none() { p.cores.first().map_or(0.0, |c| -c.directions[0].sin()) } else { 0.0 };
        [
            1.0,
            is(pair.is_none()),
            is(p.third.is_some()),
            is(p.deltas.is_empty()),
            is(p.deltas.len() == 1),
            is(p.deltas.len() > 2),
            (apart / 4.0).min(3.0),
            over(apart, 3.0, 3.0),
            over(apart, 6.0, 3.0),
            if pair.is_some() { over(2.0 - apart, 0.0, 1.0) } else { 0.0 },
            facing,
            least_facing,
            facing * facing.abs(),
            facing * (apart / 4.0).min(2.0),
            alike,
            alike * (apart / 4.0).min(2.0),
            upright,
            circuits / 4.0,
            is(circuits < 0.5),
            ((circuits - 0.5 * apart) / 4.0).clamp(-2.0, 3.0),
            rays[0] / 4.0,
            self.middle_turn.min(1.2),
            is(self.middle_runs_out),
            near.map_or(0.0, |n| (n / 8.0).min(2.0)),
            near.map_or(0.0, |n| over(3.0 - n, 0.0, 2.0)),
            near.map_or(0.0, |n| over(6.0 - n, 0.0, 3.0)),
            far.map_or(0.0, |f| (f / 12.0).min(2.0)),
            far.zip(near).map_or(0.0, |(f, n)| n / f.max(1e-6)),
            near.map_or(0.0, |n| ((n - circuits) / 4.0).clamp(-1.0, 2.0)),
            line.map_or(0.0, |l| (l.circuits_cut / CUT_UNIT).min(2.0)),
            line.map_or(0.0, |l| is(l.cuts())),
            line.map_or(0.0, |l| l.fullest),
            line.map_or(0.0, |l| (l.clearance / 4.0).clamp(-1.5, 1.5)),
            line.map_or(0.0, |l| (l.from_centre / 6.0).clamp(-1.0, 2.0)),
            around,
            self.tent(),
            self.between_cores(),
            self.left_out[0],
            self.left_out[1],
            self.unexplained.clamp(-2.0, 2.0),
            p.third.as_ref().map_or(0.0, |t| (-t.at.distance(centre) / (10.0 * period)).exp()),
            under_axis,
            lone,
            p.probability,
            self.own_circuit,
            pair.map_or(0.0, |(a, b)| direction_difference(a.directions[0], b.directions[0]).cos().max(0.0)),
            self.left_out_near[1],
            self.left_out_near[0],
            inside / 4.0,
            line.map_or(0.0, |l| (l.any_cut / 4.0).min(2.0)),
            line.map_or(0.0, |l| l.any_fullest),
            is(together == Some(Together::Separate)),
            is(together.is_some_and(Together::is_joined)),
            is(together.is_some_and(Together::is_enclosed)),
        ]
    }

    /// A delta close before an opening, with nothing between: how much a tented arch stands in the print, 0 to 1.
    fn tent(&self) -> f64 {
        let p = &self.points;
        let mut most = 0.0f64;
        for core in p.cores.iter().chain(&p.third) {
            for delta in &p.deltas {
                let toward = core.at.direction_to(delta.at);
                let ahead = direction_difference(toward, core.directions[0]).cos();
                let distance = core.at.distance(delta.at);
                let blocked = p.cores.iter().chain(&p.third).any(|o| {
                    o.at != core.at
                        && o.at.distance(core.at) < distance
                        && direction_difference(core.at.direction_to(o.at), toward).abs() < 0.8
                });
                if !blocked {
                    most = most.max((-distance / (4.0 * self.period)).exp() * ((ahead - 0.7) / 0.3).max(0.0));
                }
            }
        }
        most
    }

    /// How much a delta stands between the cores, 0 to 1.
    fn between_cores(&self) -> f64 {
        let p = &self.points;
        let [a, b, ..] = p.cores.as_slice() else { return 0.0 };
        let (length, direction) = (a.at.distance(b.at).max(1.0), a.at.direction_to(b.at));
        let off = |d: &Candidate| {
            let (along, aside) = super::recurve::along(a.at, d.at, direction);
            let t = along / length;
            if (0.0..=1.0).contains(&t) { (-aside.abs() / (4.0 * self.period)).exp() } else { 0.0 }
        };
        p.deltas.iter().map(off).fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;

    #[test]
    fn of_two_deltas_one_nearly_above_the_other_the_right_one_stands_right_of_the_centre() {
        let centre = Point::new(200.0, 100.0);
        let order = |mut deltas: Vec<(f64, f64)>| {
            let place = |d: &(f64, f64), of| place_across(Point::new(d.0, d.1), centre, of);
            let of = deltas.len();
            deltas.sort_by(|a, b| place(a, of).total_cmp(&place(b, of)));
            deltas
        };
        assert_eq!(order(vec![(212.0, 110.0), (215.0, 190.0)]), [(215.0, 190.0), (212.0, 110.0)]);
        // Turned by some degrees the order stays.
        assert_eq!(order(vec![(210.0, 112.0), (195.0, 192.0)]), [(195.0, 192.0), (210.0, 112.0)]);
        assert_eq!(order(vec![(300.0, 160.0), (90.0, 150.0)]), [(90.0, 150.0), (300.0, 160.0)]);
        // Handbook, figure 293: of three deltas the outermost.
        let three = vec![(300.0, 110.0), (212.0, 110.0), (90.0, 150.0)];
        assert_eq!(order(three), [(90.0, 150.0), (212.0, 110.0), (300.0, 110.0)]);
    }

    #[test]
    fn the_facts_that_say_what_the_delta_line_cuts_stand_where_they_are_read() {
        let mut facts = [0.0; FACTS];
        let place = |name: &str| FACT_NAMES.iter().position(|n| *n == name).unwrap();
        let (cut, fullest) = (place("circuits cut by the delta line"), place("fullest turn on the delta line"));
        (facts[cut], facts[fullest]) = (2.0 / CUT_UNIT, 1.0);
        assert_eq!(delta_line_verdict(&facts), Some(true));
        (facts[cut], facts[fullest]) = (0.0, 0.9);
        assert_eq!(delta_line_verdict(&facts), None);
        (facts[cut], facts[fullest]) = (0.0, 0.6);
        assert_eq!(delta_line_verdict(&facts), Some(false));
        for lacking in ["one delta", "no delta"] {
            facts[place(lacking)] = 1.0;
            assert_eq!(delta_line_verdict(&facts), None);
            facts[place(lacking)] = 0.0;
        }
    }

    /// A field of circles around the middle of a print, or of circles that a delta's side lets out: within a wedge below, ridges beyond
    /// `open_from` run level.
    fn circles(open_from: f64) -> RidgeField {
        let (rows, columns) = (60, 60);
        let double = |r: usize, c: usize| {
            let (x, y) = (c as f64 * 4.0 - 120.0, r as f64 * 4.0 - 120.0);
            let along = if y > 0.0 && x.hypot(y) > open_from { 0.0 } else { (-y).atan2(x) + FRAC_PI_2 };
            ((2.0 * along).cos() as f32, (2.0 * along).sin() as f32)
        };
        let cos = Array2::from_shape_fn((rows, columns), |(r, c)| double(r, c).0);
        let sin = Array2::from_shape_fn((rows, columns), |(r, c)| double(r, c).1);
        RidgeField::from_vectors(cos, sin, Array2::from_elem((rows, columns), true), 4, 9.0)
    }

    #[test]
    fn a_ridge_inside_the_deltas_is_a_circuit_and_one_that_leads_around_a_delta_is_none() {
        let (field, centre) = (circles(1e9), Point::new(120.0, 120.0));
        let turn = |deltas: &[Point], at| turn_about(Flow::of(&field), at, Around { centre, deltas }, 1500.0);
        let at = Point::new(180.0, 120.0);
        let inside = turn(&[Point::new(40.0, 160.0), Point::new(200.0, 160.0)], at);
        assert!(inside.strict >= FULL_CIRCUIT && inside.inside >= FULL_CIRCUIT, "{inside:?}");
        // The left delta stands nearer than the ridge: it turns as far and opens to that delta.
        let around = turn(&[Point::new(80.0, 135.0), Point::new(200.0, 160.0)], at);
        assert!(around.any >= FULL_CIRCUIT && around.strict <= OPEN_CIRCUIT, "{around:?}");
    }

    #[test]
    fn the_line_between_the_deltas_cuts_only_circuits_that_reach_it() {
        let centre = Point::new(120.0, 120.0);
        let cut = |open_from: f64, deltas: [Point; 2]| {
            let field = circles(open_from);
            delta_line(Flow::of(&field), deltas[0], deltas[1], Around { centre, deltas: &deltas }, 9.0)
        };
        let whorl = cut(1e9, [Point::new(30.0, 150.0), Point::new(210.0, 150.0)]);
        assert!(whorl.cuts() && whorl.circuits_cut > 3.0, "{whorl:?}");
        // Below 30 px the ridges leave: the line passes the pocket by.
        let pocket = cut(30.0, [Point::new(95.0, 148.0), Point::new(220.0, 190.0)]);
        assert!(!pocket.cuts() && pocket.clearance >= 0.0, "{pocket:?}");
    }
}
