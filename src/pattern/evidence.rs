//! What speaks for each pattern, as a list of named numbers.

use super::count::{Crossing, crossing};
use super::enclosure::{Enclosure, enclosure};
use super::flow::{Flow, follow};
use super::ring::{Ring, ring_near};
use crate::field::RidgeField;
use crate::geometry::{Point, direction_difference, orientation_difference};
use crate::singular::{Candidate, PointKind, PointSet, Singularities};
use ndarray::Array2;
use std::f64::consts::{FRAC_PI_2, PI};

/// The measured facts on which the pattern is decided.
#[derive(Debug, Clone, Default)]
pub struct Evidence {
    /// Probability of no, one, two or more cores.
    pub core_count: [f64; 3],
    /// Probability of no, one, two or more deltas.
    pub delta_count: [f64; 3],
    /// The core that opens downward most clearly among the chosen, working pixels.
    pub main_core: Option<Point>,
    /// Where it opens to, radians.
    pub opening: f64,
    /// The chosen delta that belongs to it: the nearest below.
    pub main_delta: Option<Point>,
    /// Where ridges from inside the recurve leave: -1 all to the left, +1 all to the right.
    pub exit: f64,
    /// How much the lines disagree about it, 0 to 1.
    pub exit_spread: f64,
    /// Slant of the ridges around the main core, -1 (all run from lower right to upper left) to 1: near, within five ridge
    /// periods. A loop leans to the side where it opens, a tent or an upright whorl is even.
    pub tilt_near: f64,
    /// The same from five to eleven ridge periods.
    pub tilt_far: f64,
    /// Largest turn on the way out, radians; a loop's legs run straight, a whorl's turn back.
    pub curl: f64,
    /// Share of the ridges close around the main core that turn through a whole circuit, 0 to 1.
    pub circuits: f64,
    /// Share of them that turn through three quarters of a circuit, 0 to 1.
    pub half_circuits: f64,
    /// How well ridges close around the innermost place.
    pub ring: Ring,
    /// How firmly the valleys around the main core are enclosed.
    pub enclosure: Enclosure,
    /// Distance from the main core to the border of the print where it opens to, over the ridge period.
    pub room: f64,
    /// Lean of the print's outline off the upright, as the sine of twice the angle of its long axis times its elongation;
    /// positive when its top lies to the right.
    pub outline_lean: f64,
    /// Distance from the main core to the second over the ridge period; 0 without.
    pub core_distance: f64,
    /// How far the two cores open against each other: 1 opposite, -1 the same way.
    pub cores_opposed: f64,
    /// Ridges between main delta and main core.
    pub between: Option<Crossing>,
    /// Sideways distance from core to delta over the ridge period, right positive.
    pub delta_sideways: f64,
    /// Distance downward from core to delta over the ridge period.
    pub delta_below: f64,
    /// Sharpest bend of the flow along a ridge, as a turn in radians over two ridge periods.
    pub sharpest_bend: f64,
    /// The middle of the sharpest bends of every row of cells, radians: what the ridges of the print do in general.
    pub crest_bend: f64,
    /// Where the sharpest bend is.
    pub bend_at: Option<Point>,
    /// Mean steepness of the flow, 0 (level) to 1 (upright).
    pub steepness: f64,
    /// How far ridges rise on the left and fall on the right, -1 to 1.
    pub rise: f64,
    /// Cores minus deltas from the border.
    pub border_half_turns: i32,
    /// Probability of the best core-delta pair that was not chosen.
    pub unchosen_pair: f64,
    /// Probability of the weakest chosen point.
    pub weakest_chosen: f64,
    /// Mean clarity of the foreground.
    pub clarity: f64,
}

/// What is the same for every set of points on a print.
#[derive(Debug)]
pub struct Ground<'a> {
    field: &'a RidgeField,
    fine_cos2: Array2<f32>,
    fine_sin2: Array2<f32>,
    overall: Evidence,
    period: f64,
    /// Main cores of the sets, each with what depends on it alone: several sets share a core.
    cores: Vec<(Point, Evidence)>,
}

impl<'a> Ground<'a> {
    /// Measures what does not depend on the points, and what depends on the main cores of these `sets`.
    pub fn of(field: &'a RidgeField, found: &Singularities, sets: &[&PointSet]) -> Self {
        const FINE_SIGMA_PX: f32 = 3.0;
        let (fine_cos2, fine_sin2) = field.smoothed_in_bends(FINE_SIGMA_PX);
        let mut overall = Evidence {
            core_count: found.core_count,
            delta_count: found.delta_count,
            border_half_turns: found.border_half_turns,
            ..Default::default()
        };
        overall_shape(field, &mut overall);
        overall.outline_lean = outline_lean(field);
        // Only a set without a core is judged by its bends.
        if sets.iter().any(|s| s.members.iter().all(|&i| found.candidates[i].kind == PointKind::Delta)) {
            overall.measure_bends(field);
        }
        let period = field.median_period().max(3.0);
        let mut ground = Self { field, fine_cos2, fine_sin2, overall, period, cores: Vec::new() };
        for set in sets {
            let points: Vec<&Candidate> = set.members.iter().map(|&i| &found.candidates[i]).collect();
            if let Some(core) = main_core(&points).filter(|core| ground.cores.iter().all(|(at, _)| *at != core.at)) {
                let seen = ground.around(core);
                ground.cores.push((core.at, seen));
            }
        }
        ground
    }

    /// What depends on the main core alone.
    fn around(&self, core: &Candidate) -> Evidence {
        let (field, period, opening) = (self.field, self.period, core.directions[0]);
        let mut e = Evidence { main_core: Some(core.at), opening, ..self.overall.clone() };
        way_out(field, core, period, &mut e);
        circuits(self, core, &mut e);
        e.ring = ring_near(field, core.at, opening, period);
        e.enclosure = enclosure(field, core.at, opening, period);
        e.room = room(field, core, period);
        tilt(self, core, &mut e);
        e
    }
}

/// Gathers the evidence of one print under the assumption that `set` are its points.
pub fn gather(ground: &Ground<'_>, found: &Singularities, set: &PointSet) -> Evidence {
    let points: Vec<&Candidate> = set.members.iter().map(|&i| &found.candidates[i]).collect();
    let core = main_core(&points);
    let seen = core.and_then(|core| ground.cores.iter().find(|(at, _)| *at == core.at));
    let mut e = seen.map_or(&ground.overall, |(_, e)| e).clone();
    e.weakest_chosen = points.iter().map(|c| c.confidence).fold(1.0, f64::min);
    let left_out = (0..found.candidates.len()).filter(|i| !set.members.contains(i));
    e.unchosen_pair = left_out.map(|i| found.candidates[i].confidence).fold(0.0, f64::max);
    if let Some(core) = core {
        second_core(&points, core, ground.period, &mut e);
        if let Some(delta) = main_delta(&points, core) {
            e.main_delta = Some(delta.at);
            e.delta_sideways = (delta.at.x - core.at.x) / ground.period;
            e.delta_below = (delta.at.y - core.at.y) / ground.period;
            e.between = Some(crossing(ground.field, delta.at, core.at, 0.4 * ground.period));
        }
    }
    e
}

/// Among the cores the one that opens downward; the higher one in doubt.
fn main_core<'a>(points: &[&'a Candidate]) -> Option<&'a Candidate> {
    let merit = |c: &Candidate| c.persistence_px / 20.0 - 0.5 * c.directions[0].sin() - c.at.y / 2000.0;
    points.iter().filter(|c| c.kind == PointKind::Core).max_by(|a, b| merit(a).total_cmp(&merit(b))).copied()
}

fn main_delta<'a>(points: &[&'a Candidate], core: &Candidate) -> Option<&'a Candidate> {
    let merit = |d: &Candidate| d.at.distance(core.at) + if d.at.y < core.at.y { 100.0 } else { 0.0 };
    points.iter().filter(|c| c.kind == PointKind::Delta).min_by(|a, b| merit(a).total_cmp(&merit(b))).copied()
}

/// How the second core stands to the main one.
fn second_core(points: &[&Candidate], core: &Candidate, period: f64, e: &mut Evidence) {
    let others = points.iter().filter(|c| c.kind == PointKind::Core && c.at != core.at);
    if let Some(second) = others.max_by(|a, b| a.confidence.total_cmp(&b.confidence)) {
        e.core_distance = second.at.distance(core.at) / period;
        e.cores_opposed = -direction_difference(second.directions[0], core.directions[0]).cos();
    }
}

/// Follows ridges from inside the recurve outward.
fn way_out(field: &RidgeField, core: &Candidate, period: f64, e: &mut Evidence) {
    const LONGEST_PX: f64 = 220.0;
    let across = core.directions[0] + FRAC_PI_2;
    let (mut sum, mut squares, mut weight) = (0.0, 0.0, 0.0);
    for ahead in [1.2, 2.2] {
        for aside in [-0.8, 0.0, 0.8] {
            let start = core.at.step(core.directions[0], ahead * period).step(across, aside * period);
            if !field.on_print(start) {
                continue;
            }
            let line = follow(Flow::of(field), start, core.directions[0], LONGEST_PX);
            let length = line.length();
            if length < 1.5 * period {
                continue;
            }
            let sideways = (line.end().x - core.at.x) / (line.end().distance(core.at)).max(1.0);
            sum += sideways;
            squares += sideways * sideways;
            weight += 1.0;
            if line.extreme_turn.abs() > e.curl.abs() {
                e.curl = line.extreme_turn;
            }
        }
    }
    if weight > 0.0 {
        e.exit = sum / weight;
        e.exit_spread = (squares / weight - e.exit * e.exit).max(0.0).sqrt();
    } else {
        e.exit = core.directions[0].cos();
        e.exit_spread = 1.0;
    }
}

/// How far the print reaches from the core in the direction of its opening, in ridge periods.
fn room(field: &RidgeField, core: &Candidate, period: f64) -> f64 {
    const MOST_PERIODS: f64 = 20.0;
    const STEP_PERIODS: f64 = 0.5;
    let mut far = 0.0;
    while far < MOST_PERIODS && field.on_print(core.at.step(core.directions[0], (far + STEP_PERIODS) * period)) {
        far += STEP_PERIODS;
    }
    far
}

/// Second moments of the foreground.
fn outline_lean(field: &RidgeField) -> f64 {
    let (mut n, mut x, mut y, mut xx, mut xy, mut yy) = (0.0f64, 0.0, 0.0, 0.0, 0.0, 0.0);
    for ((r, c), _) in field.foreground.indexed_iter().filter(|(_, f)| **f) {
        let (u, v) = (c as f64, -(r as f64));
        n += 1.0;
        x += u;
        y += v;
        xx += u * u;
        xy += u * v;
        yy += v * v;
    }
    let n = n.max(1.0);
    let (xx, xy, yy) = (xx / n - x * x / (n * n), xy / n - x * y / (n * n), yy / n - y * y / (n * n));
    2.0 * xy / (xx + yy).max(1e-6)
}

/// Mean slant of the ridges around the core; each ring's cells count alike.
fn tilt(ground: &Ground<'_>, core: &Candidate, e: &mut Evidence) {
    let field = ground.field;
    let (mut near, mut far) = ((0.0, 0.0f64), (0.0, 0.0f64));
    for ((r, c), _) in field.foreground.indexed_iter().filter(|(_, f)| **f) {
        let distance = field.centre(r as f64, c as f64).distance(core.at) / ground.period;
        let sum = if !(1.0..11.0).contains(&distance) {
            continue;
        } else if distance < 5.0 {
            &mut near
        } else {
            &mut far
        };
        sum.0 += f64::from(field.sin2[[r, c]]);
        sum.1 += 1.0;
    }
    (e.tilt_near, e.tilt_far) = (near.0 / near.1.max(1.0), far.0 / far.1.max(1.0));
}

/// Follows ridges close around places inside the recurve, both ways, and sees how far they turn. The centre of a circuit
/// lies somewhere between two recurves: the place with the largest share counts.
fn circuits(ground: &Ground<'_>, core: &Candidate, e: &mut Evidence) {
    let (field, period) = (ground.field, ground.period);
    let flow = Flow { field, cos2: &ground.fine_cos2, sin2: &ground.fine_sin2 };
    let opening = core.directions[0];
    for ahead in [0.0, 0.8, 1.6, 2.6, 4.0] {
        let centre = core.at.step(opening, ahead * period);
        let (mut whole, mut most, mut count) = (0.0, 0.0, 0.0f64);
        for radius in [0.7, 1.1, 1.6, 2.2] {
            let radius = radius * period;
            // Twice the way around a circle: an oval or a spiral is longer than its inner radius says.
            let longest = 2.0 * 2.0 * PI * radius + 4.0 * period;
            for aside in [-1.0, 1.0] {
                let start = centre.step(opening + FRAC_PI_2, aside * radius);
                for heading in [opening, opening + PI] {
                    if field.on_print(start) {
                        let turn = follow(flow, start, heading, longest).extreme_turn.abs();
                        count += 1.0;
                        whole += f64::from(u8::from(turn > 1.9 * PI));
                        most += f64::from(u8::from(turn > 1.5 * PI));
                    }
                }
            }
        }
        if count > 4.0 {
            e.circuits = e.circuits.max(whole / count);
            e.half_circuits = e.half_circuits.max(most / count);
        }
    }
}

/// Bends, steepness and rise over the whole foreground.
fn overall_shape(field: &RidgeField, e: &mut Evidence) {
    let (rows, columns) = field.foreground.dim();
    let middle = centre_column(field);
    let (mut steep, mut clarity, mut count) = (0.0, 0.0, 0.0f64);
    let (mut rise, mut sides) = (0.0, 0.0f64);
    for r in 0..rows {
        for c in 0..columns {
            if !field.foreground[[r, c]] {
                continue;
            }
            let (cos2, sin2) = (f64::from(field.cos2[[r, c]]), f64::from(field.sin2[[r, c]]));
            steep += 0.5 * (1.0 - cos2);
            clarity += f64::from(field.clarity[[r, c]]);
            count += 1.0;
            rise += if (c as f64) < middle { sin2 } else { -sin2 };
            sides += 1.0;
        }
    }
    e.steepness = steep / count.max(1.0);
    e.clarity = clarity / count.max(1.0);
    e.rise = rise / sides.max(1.0);
}

/// The bends of ridges that rise and fall again, each averaged over a cell and its eight neighbours.
fn sharpest_bend(field: &RidgeField, e: &mut Evidence) {
    let (rows, columns) = field.foreground.dim();
    let turns = Array2::from_shape_fn((rows, columns), |(r, c)| convex_turn(field, r, c));
    let mut crest = Vec::new();
    for r in 1..rows.saturating_sub(1) {
        let mut sharpest = 0.0;
        for c in 1..columns.saturating_sub(1) {
            let around = (r - 1..r + 2).flat_map(|y| (c - 1..c + 2).map(move |x| (y, x)));
            let known: Vec<f64> = around.filter_map(|at| turns[at]).collect();
            if known.len() < 7 {
                continue;
            }
            let turn = known.iter().sum::<f64>() / known.len() as f64;
            if turn > e.sharpest_bend {
                (e.sharpest_bend, e.bend_at) = (turn, Some(field.centre(r as f64, c as f64)));
            }
            sharpest = f64::max(sharpest, turn);
        }
        if sharpest > 0.0 {
            crest.push(sharpest);
        }
    }
    let middle = crest.len() / 2;
    if middle > 0 {
        e.crest_bend = *crest.select_nth_unstable_by(middle, f64::total_cmp).1;
    }
}

fn centre_column(field: &RidgeField) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0f64);
    for ((_, c), _) in field.foreground.indexed_iter().filter(|(_, f)| **f) {
        sum += c as f64;
        count += 1.0;
    }
    sum / count.max(1.0)
}

/// How far a ridge that is followed to the right turns downward from one ridge period before a place to one after it,
/// radians; none where the print is unclear.
fn convex_turn(field: &RidgeField, r: usize, c: usize) -> Option<f64> {
    if !field.foreground[[r, c]] || field.clarity[[r, c]] < 0.3 {
        return None;
    }
    let at = field.centre(r as f64, c as f64);
    // An orientation lies in 0 to pi: below a right angle it points to the right, else against it.
    let here = field.orientation_at(at);
    let right = if here < FRAC_PI_2 { here } else { here - PI };
    let reach = f64::from(field.period[[r, c]]).clamp(5.0, 14.0);
    let (after, before) = (at.step(right, reach), at.step(right + PI, reach));
    if !field.on_print(after) || !field.on_print(before) {
        return None;
    }
    let turn = orientation_difference(field.orientation_at(after), here)
        + orientation_difference(here, field.orientation_at(before));
    Some(-turn)
}

impl Evidence {
    /// Measures the bends of the flow where that has not been done: they cost a walk over the whole print, and only sets without a core and
    /// the reasons for an arch need them.
    pub fn measure_bends(&mut self, field: &RidgeField) {
        if self.bend_at.is_none() {
            sharpest_bend(field, self);
        }
    }

    /// How far the opening leans from straight down, radians, right positive.
    pub fn lean(&self) -> f64 {
        direction_difference(self.opening, 1.5 * PI)
    }
}
