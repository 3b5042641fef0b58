//! Cores, deltas and what lies off the print.
//!
//! Our own signs, told apart by shape: a core is a hairpin, the recurving ridge itself, whose open end looks where the
//! core opens to; a delta is three spikes that leave an open middle and point where the ridges run. The circle that holds
//! the true point with 95 % probability is dashed for a core and dotted for a delta, and is drawn to scale.

use super::canvas::{Anchor, Canvas, PAPER, Weight, number};
use super::legend::Shown;
use super::stage::Stage;
use super::words::{measure, opening, percent};
use crate::geometry::Point;
use crate::proposal::{CoreMark, DeltaMark, Proposal};
use std::f64::consts::PI;

/// Ink of cores.
pub(super) const CORE_INK: &str = "#0a4f8f";
/// Ink of deltas.
pub(super) const DELTA_INK: &str = "#9e3700";
/// Half the breadth of a hairpin, and its bend's radius. Drawing pixels, as all lengths here.
const HAIRPIN: f64 = 8.0;
/// Length of a hairpin's legs; shorter where another core is near.
const LEGS: f64 = 19.0;
/// Free radius in the middle of a delta, so that the ridges there stay visible.
pub(super) const OPEN_MIDDLE: f64 = 5.0;
/// The open middle grows with the 95 % circle up to this radius, so that the circle is not hidden under the spikes.
const WIDEST_MIDDLE: f64 = 20.0;
/// Length of a spike.
const SPIKE: f64 = 22.0;
/// Half the breadth of a spike at its inner end.
const SPIKE_BREADTH: f64 = 3.8;
/// Distance from a point to the middle of its name.
const NAME_DISTANCE: f64 = 34.0;
/// Room that a name needs on every side of its middle.
const NAME_ROOM: f64 = 18.0;
/// Half the breadth of a letter, as a share of its height.
const HALF_LETTER: f64 = 0.3;
/// Height of a mark's name.
const NAME_SIZE: f64 = 17.0;
/// Height of the probability under a mark's name.
pub(super) const PROBABILITY_SIZE: f64 = 12.0;
/// Breadth of the margin beside the print for the words about what lies off the print.
const MARGIN: f64 = 58.0;
/// Margin of a side that no words stand on.
const BARE_MARGIN: f64 = 4.0;

/// A hairpin with its bend around `at`, opening to `direction` (radians on the drawing).
pub(super) fn hairpin(canvas: &mut Canvas, at: Point, direction: f64, legs: f64) {
    let side = direction + 0.5 * PI;
    let (left, right) = (at.step(side, HAIRPIN), at.step(side, -HAIRPIN));
    let end = |from: Point, flare: f64| from.step(direction, legs).step(side, flare);
    let flare = 0.22 * legs;
    let (a, b) = (end(left, flare), end(right, -flare));
    let data = format!(
        "M{} {}L{} {}A{r} {r} 0 0 0 {} {}L{} {}",
        number(a.x),
        number(a.y),
        number(left.x),
        number(left.y),
        number(right.x),
        number(right.y),
        number(b.x),
        number(b.y),
        r = number(HAIRPIN)
    );
    canvas.haloed(&data, 3.0, CORE_INK, "stroke-linecap=\"round\"");
    canvas.circle(at, 2.6, &format!("fill=\"{CORE_INK}\" stroke=\"{PAPER}\" stroke-width=\"1.2\""));
}

/// Three spikes around `at` (directions in radians on the drawing) that begin `open` away from it.
pub(super) fn spikes(canvas: &mut Canvas, at: Point, directions: &[f64], open: f64, length: f64) {
    let mut data = String::new();
    for &direction in directions {
        let inner = at.step(direction, open);
        let (a, b) = (inner.step(direction + 0.5 * PI, SPIKE_BREADTH), inner.step(direction - 0.5 * PI, SPIKE_BREADTH));
        data.push_str(&super::canvas::path_through(&[a, at.step(direction, open + length), b], true));
    }
    canvas.path(&data, &format!("fill=\"none\" stroke=\"{PAPER}\" stroke-width=\"3.4\" stroke-linejoin=\"round\""));
    canvas.path(&data, &format!("fill=\"{DELTA_INK}\""));
}

/// The circle that holds the true point with 95 % probability.
pub(super) fn doubt(canvas: &mut Canvas, at: Point, radius: f64, ink: &str, style: &str) {
    canvas.circle(at, radius, &format!("fill=\"none\" stroke=\"{PAPER}\" stroke-width=\"4\" stroke-opacity=\"0.85\""));
    canvas.circle(at, radius, &format!("fill=\"none\" stroke=\"{ink}\" stroke-width=\"1.8\" {style}"));
}

/// Line style of the circle around a core.
pub(super) const CORE_DOUBT: &str = "stroke-dasharray=\"6 4\"";
/// Line style of the circle around a delta.
pub(super) const DELTA_DOUBT: &str = "stroke-dasharray=\"0.1 4.6\" stroke-linecap=\"round\"";

/// Paints every core and delta that lies on the image; returns their names, which are painted after everything that they
/// must not be hidden by and keep clear of the places `busy`.
pub(super) fn points(canvas: &mut Canvas, stage: &Stage, proposal: &Proposal, busy: &[Point]) -> Canvas {
    let places: Vec<Point> = (proposal.cores.iter().map(|c| Point::new(c.x, c.y)))
        .chain(proposal.deltas.iter().map(|d| Point::new(d.x, d.y)))
        .map(|p| stage.of_original(p))
        .collect();
    canvas.open("id=\"points\" clip-path=\"url(#print-edge)\"");
    let mut names = Names { stage, places: &places, busy, own: Vec::new(), taken: Vec::new(), shown: Canvas::new() };
    for (i, delta) in proposal.deltas.iter().enumerate() {
        paint_delta(canvas, stage, delta, i + 1, &mut names);
    }
    for (i, core) in proposal.cores.iter().enumerate() {
        paint_core(canvas, stage, core, i + 1, &mut names);
    }
    canvas.close();
    names.shown
}

fn paint_core(canvas: &mut Canvas, stage: &Stage, core: &CoreMark, n: usize, names: &mut Names<'_>) {
    let at = stage.of_original(Point::new(core.x, core.y));
    if !stage.holds(at, 0.0) {
        return;
    }
    let name = format!("C{n}");
    let near = names.places.iter().map(|p| p.distance(at)).filter(|d| *d > 1.0).fold(f64::INFINITY, f64::min);
    canvas.open("class=\"core\"");
    let direction = stage.direction(core.direction_deg);
    canvas.hint(&format!("C{n}: core, opens {}, {}", opening(direction), percent(core.confidence)));
    if let Some(radius) = radius(stage, core.radius_px) {
        doubt(canvas, at, radius, CORE_INK, CORE_DOUBT);
    }
    if direction.is_finite() {
        hairpin(canvas, at, direction, LEGS.min(0.45 * near).max(4.0));
        names.add(at, &[direction + PI], &name, core.confidence, CORE_INK);
    } else {
        canvas.circle(at, 3.0, &format!("fill=\"{CORE_INK}\" stroke=\"{PAPER}\" stroke-width=\"1.5\""));
        names.add(at, &[0.5 * PI], &name, core.confidence, CORE_INK);
    }
    canvas.close();
}

fn paint_delta(canvas: &mut Canvas, stage: &Stage, delta: &DeltaMark, n: usize, names: &mut Names<'_>) {
    let at = stage.of_original(Point::new(delta.x, delta.y));
    if !stage.holds(at, 0.0) {
        return;
    }
    canvas.open("class=\"delta\"");
    canvas.hint(&delta_hint(delta, n));
    let mut open = OPEN_MIDDLE;
    if let Some(radius) = radius(stage, delta.radius_px) {
        doubt(canvas, at, radius, DELTA_INK, DELTA_DOUBT);
        open = if radius <= WIDEST_MIDDLE { (radius + 3.0).max(OPEN_MIDDLE) } else { OPEN_MIDDLE };
    }
    let directions: Vec<f64> =
        delta.directions_deg.iter().map(|d| stage.direction(*d)).filter(|d| d.is_finite()).collect();
    spikes(canvas, at, &directions, open, SPIKE);
    let along = |direction: &f64| [0.3, 0.6, 0.9].map(|share| at.step(*direction, open + share * SPIKE));
    names.own = directions.iter().flat_map(along).collect();
    names.add(at, &gaps(&directions), &format!("D{n}"), delta.confidence, DELTA_INK);
    names.own.clear();
    canvas.close();
}

fn radius(stage: &Stage, original_pixels: f64) -> Option<f64> {
    let radius = stage.length(original_pixels);
    (radius.is_finite() && radius > 0.0).then_some(radius)
}

/// The middles of the gaps between directions, where a name covers least, the widest first; straight up where there are none.
fn gaps(directions: &[f64]) -> Vec<f64> {
    let mut sorted = directions.to_vec();
    sorted.sort_by(f64::total_cmp);
    let gap = |i: usize| {
        let next = if i + 1 < sorted.len() { sorted[i + 1] } else { sorted[0] + 2.0 * PI };
        (next - sorted[i], sorted[i] + 0.5 * (next - sorted[i]))
    };
    let mut gaps: Vec<(f64, f64)> = (0..sorted.len()).map(gap).collect();
    gaps.sort_by(|a, b| b.0.total_cmp(&a.0));
    if gaps.is_empty() { vec![0.5 * PI] } else { gaps.into_iter().map(|g| g.1).collect() }
}

fn delta_hint(delta: &DeltaMark, n: usize) -> String {
    format!("D{n}: delta, {}", percent(delta.confidence))
}

/// The names of the points, each beside its point where it covers no other point and no other name.
struct Names<'a> {
    stage: &'a Stage,
    places: &'a [Point],
    busy: &'a [Point],
    /// Places on the mark itself whose name is written.
    own: Vec<Point>,
    taken: Vec<Point>,
    shown: Canvas,
}

impl Names<'_> {
    /// Writes a name in one of the wanted directions, the first if it can, or else as near to it as it can.
    fn add(&mut self, at: Point, wanted: &[f64], name: &str, probability: f64, ink: &str) {
        let first = wanted.first().copied().unwrap_or(0.5 * PI);
        let turned = [1.0, -1.0, 2.0, -2.0, 3.0, -3.0, 4.0].map(|eighth| first + eighth * 0.25 * PI);
        let around = |distance: f64| wanted.iter().chain(&turned).map(move |direction| at.step(*direction, distance));
        let candidates: Vec<Point> = around(NAME_DISTANCE).chain(around(1.4 * NAME_DISTANCE)).collect();
        // What the name and its probability cover.
        let probability = percent(probability);
        let breadth = HALF_LETTER * PROBABILITY_SIZE * probability.chars().count() as f64;
        let covers = |p: Point, q: Point| (q.x - p.x).abs() < breadth && (q.y - p.y).abs() < NAME_SIZE;
        let free = |p: &Point| {
            self.stage.holds(*p, NAME_ROOM)
                && self.own.iter().all(|q| !covers(*p, *q))
                && self.taken.iter().all(|t| t.distance(*p) > 32.0)
                && self.places.iter().chain(self.busy).all(|q| q.distance(*p) > 22.0)
        };
        let middle = candidates.iter().copied().find(free).unwrap_or(candidates[0]);
        let middle = self.inside(middle);
        self.taken.push(middle);
        let base = Point::new(middle.x, middle.y + 1.0);
        self.shown.words_on_print(base, NAME_SIZE, ink, Anchor::Middle, name);
        let below = Point::new(base.x, base.y + 1.05 * PROBABILITY_SIZE);
        self.shown.words_on_print(below, PROBABILITY_SIZE, ink, Anchor::Middle, &probability);
    }

    fn inside(&self, p: Point) -> Point {
        let Stage { corner, width, height, .. } = *self.stage;
        let clamp =
            |v: f64, low: f64, length: f64| v.max(low + NAME_ROOM).min((low + length - NAME_ROOM).max(low + NAME_ROOM));
        Point::new(clamp(p.x, corner.x, width), clamp(p.y, corner.y, height))
    }
}

/// The side of the print beyond which something lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Beyond {
    Left,
    Right,
    Above,
    Below,
}

/// What lies off the print, in words, with its side.
fn beyond(stage: &Stage, proposal: &Proposal) -> Vec<(Beyond, String)> {
    let mut notes: Vec<(Beyond, String)> = proposal
        .off_print
        .iter()
        .map(|words| (side_named(words), format!("{} expected off the print", words.trim())))
        .collect();
    let named = (proposal.cores.iter().enumerate().map(|(i, c)| (format!("core C{}", i + 1), Point::new(c.x, c.y))))
        .chain(proposal.deltas.iter().enumerate().map(|(i, d)| (format!("delta D{}", i + 1), Point::new(d.x, d.y))));
    for (name, original) in named {
        let p = stage.of_original(original);
        if !stage.holds(p, 0.0) && p.x.is_finite() && p.y.is_finite() {
            notes.push((side_of(stage, p), format!("{name} beyond the image")));
        }
    }
    notes
}

/// The side that the words name; a point whose side is not named stands below, where deltas lie.
fn side_named(words: &str) -> Beyond {
    let words = words.to_lowercase();
    let says = |w: &str| words.split(|c: char| !c.is_alphanumeric()).any(|part| part == w);
    if says("left") {
        Beyond::Left
    } else if says("right") {
        Beyond::Right
    } else if says("above") || says("top") || says("upper") {
        Beyond::Above
    } else {
        Beyond::Below
    }
}

fn side_of(stage: &Stage, p: Point) -> Beyond {
    let Stage { corner, width, height, .. } = *stage;
    let excess = [
        (corner.x - p.x, Beyond::Left),
        (p.x - corner.x - width, Beyond::Right),
        (corner.y - p.y, Beyond::Above),
        (p.y - corner.y - height, Beyond::Below),
    ];
    excess.into_iter().max_by(|a, b| a.0.total_cmp(&b.0)).map_or(Beyond::Below, |e| e.1)
}

/// Free room around the print, drawing pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Margins {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) above: f64,
    pub(super) below: f64,
}

/// The room that the notes about what lies off the print need on each side.
pub(super) fn margins(stage: &Stage, proposal: &Proposal) -> Margins {
    let notes = beyond(stage, proposal);
    let of = |side: Beyond| if notes.iter().any(|n| n.0 == side) { MARGIN } else { BARE_MARGIN };
    Margins { left: of(Beyond::Left), right: of(Beyond::Right), above: of(Beyond::Above), below: of(Beyond::Below) }
}

/// What of the proposal is drawn, for the legend.
pub(super) fn shown(stage: &Stage, proposal: &Proposal, flow: bool) -> Shown {
    let on_print = |x: f64, y: f64| stage.holds(stage.of_original(Point::new(x, y)), 0.0);
    Shown {
        cores: proposal.cores.iter().filter(|c| on_print(c.x, c.y)).count(),
        deltas: proposal.deltas.iter().filter(|d| on_print(d.x, d.y)).count(),
        beyond: !beyond(stage, proposal).is_empty(),
        flow,
    }
}

/// Writes what lies off the print beside its border, with an arrow that points outward.
pub(super) fn off_print(canvas: &mut Canvas, stage: &Stage, proposal: &Proposal) {
    let notes = beyond(stage, proposal);
    if notes.is_empty() {
        return;
    }
    canvas.open("id=\"off-print\"");
    for side in [Beyond::Left, Beyond::Right, Beyond::Above, Beyond::Below] {
        let words: Vec<&str> = notes.iter().filter(|n| n.0 == side).map(|n| n.1.as_str()).collect();
        if !words.is_empty() {
            border_note(canvas, stage, side, &words.join("; "));
        }
    }
    canvas.close();
}

/// Breadth of a border note's plate.
const PLATE: f64 = 27.0;

/// One note at the middle of a side. The plate is as long as its words and lies in the margin, the arrow across it.
fn border_note(canvas: &mut Canvas, stage: &Stage, side: Beyond, words: &str) {
    const SIZE: f64 = 15.0;
    let Stage { corner, width, height, .. } = *stage;
    let (middle_x, middle_y) = (corner.x + 0.5 * width, corner.y + 0.5 * height);
    let gap = 0.5 * PLATE + 3.0;
    let (at, turn) = match side {
        Beyond::Left => (Point::new(corner.x - gap, middle_y), -90.0),
        Beyond::Right => (Point::new(corner.x + width + gap, middle_y), 90.0),
        Beyond::Above => (Point::new(middle_x, corner.y - gap), 0.0),
        Beyond::Below => (Point::new(middle_x, corner.y + height + gap), 180.0),
    };
    let most = if matches!(side, Beyond::Left | Beyond::Right) { height } else { width }.max(300.0) - 60.0;
    let fitting = (most / (1.1 * measure(words, SIZE)).max(1.0)).min(1.0) * SIZE;
    let length = 1.1 * measure(words, fitting) + 20.0;
    // In the note's own frame the words run to the right and the arrow points up, away from the print.
    canvas.open(&format!("transform=\"translate({} {}) rotate({})\"", number(at.x), number(at.y), number(turn)));
    canvas.rect(
        Point::new(-0.5 * length, -0.5 * PLATE),
        length,
        PLATE,
        &format!("rx=\"4\" fill=\"{PAPER}\" stroke=\"{DELTA_INK}\" stroke-width=\"1.4\""),
    );
    outward_arrow(canvas, Point::new(0.0, -0.5 * PLATE - 1.0));
    if side == Beyond::Below {
        canvas.open("transform=\"rotate(180)\"");
    }
    canvas.words(Point::new(0.0, 0.35 * fitting), fitting, Weight::Bold, DELTA_INK, Anchor::Middle, words);
    if side == Beyond::Below {
        canvas.close();
    }
    canvas.close();
}

/// A broad arrow upward that stands on `at`.
pub(super) fn outward_arrow(canvas: &mut Canvas, at: Point) {
    let (x, y) = (number(at.x), number(at.y - 23.0));
    canvas.path(&format!("M{x} {y}l15 13h-9v10h-12v-10h-9Z"), &format!("fill=\"{DELTA_INK}\""));
}

/// The points as they appear on a thumbnail: a short line from the core the way it opens, and three short lines from
/// the delta, both with a paper-coloured rim.
pub(super) fn small_points(stage: &Stage, proposal: &Proposal) -> String {
    let mut canvas = Canvas::new();
    for delta in &proposal.deltas {
        let at = stage.of_original(Point::new(delta.x, delta.y));
        let arms: String = (delta.directions_deg.iter().filter(|d| d.is_finite()))
            .map(|d| super::canvas::path_through(&[at, at.step(stage.direction(*d), 9.0)], false))
            .collect();
        if stage.holds(at, 0.0) && !arms.is_empty() {
            canvas.haloed(&arms, 2.4, DELTA_INK, "stroke-linecap=\"round\"");
        }
    }
    for core in &proposal.cores {
        let at = stage.of_original(Point::new(core.x, core.y));
        if stage.holds(at, 0.0) && core.direction_deg.is_finite() {
            let opens = stage.direction(core.direction_deg);
            let side = opens + 0.5 * PI;
            let (a, b) = (at.step(side, 4.0), at.step(side, -4.0));
            let bend = at.step(opens + PI, 5.0);
            let pin = super::canvas::path_through(&[a.step(opens, 8.0), a, bend, b, b.step(opens, 8.0)], false);
            canvas.haloed(&pin, 2.0, CORE_INK, "stroke-linecap=\"round\"");
        }
    }
    canvas.into_text()
}
