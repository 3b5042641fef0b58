//! Line drawings made for the tests from the words of a rule: strokes one ridge wide, black on white, given to the rules as the
//! filtered print that they are read from.
//!
//! Lengths are ridge periods, x right, y down; a drawing is [`SIDE`] periods wide and high.
#![allow(dead_code, reason = "each test file uses some of these")]

use ndarray::Array2;
use recurve::field::{CELL, RidgeField};
use recurve::geometry::Point;
use recurve::ridge::{Region, RidgeLines, RidgeSettings};
use recurve::singular::{Candidate, PointKind};
use std::f64::consts::{PI, TAU};

/// Ridge period of the drawings, pixels: 500 ppi and the usual breadth of ridges.
pub const PERIOD_PX: f64 = 9.0;
/// Side of a drawing, periods.
pub const SIDE: f64 = 30.0;
/// Weight of a line that is thinner and lighter than the ridges beside it.
const THIN: f64 = 0.2;

/// A place in periods.
pub type At = (f64, f64);

struct Stroke {
    name: &'static str,
    points: Vec<At>,
    weight: f64,
}

/// A drawing in the making.
#[derive(Default)]
pub struct Sketch {
    strokes: Vec<Stroke>,
}

/// A finished drawing as the rules see it.
pub struct Drawing {
    sketch: Sketch,
    pub field: RidgeField,
    pub lines: RidgeLines,
}

/// The place in pixels.
pub fn px((x, y): At) -> Point {
    Point::new(x * PERIOD_PX, y * PERIOD_PX)
}

/// The place in periods.
pub fn at(p: Point) -> At {
    (p.x / PERIOD_PX, p.y / PERIOD_PX)
}

/// Distance in periods.
pub fn apart(a: At, b: At) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

/// Points of an arc; angles in degrees counter-clockwise as seen, from image right.
pub fn arc((x, y): At, radius: f64, from_deg: f64, to_deg: f64) -> Vec<At> {
    let steps = ((to_deg - from_deg).abs() / 5.0).ceil().max(1.0) as usize;
    let on = |i: usize| (from_deg + (to_deg - from_deg) * i as f64 / steps as f64).to_radians();
    (0..=steps).map(|i| (x + radius * on(i).cos(), y - radius * on(i).sin())).collect()
}

/// A ridge that comes up on the left, turns over `centre` with this radius and goes down on the right; legs of `length`.
pub fn looping((x, y): At, radius: f64, length: f64) -> Vec<At> {
    let mut points = vec![(x - radius, y + length)];
    points.extend(arc((x, y), radius, 180.0, 0.0));
    points.push((x + radius, y + length));
    points
}

impl Sketch {
    /// A ridge with a name to ask for.
    pub fn ridge(mut self, name: &'static str, points: &[At]) -> Self {
        self.strokes.push(Stroke { name, points: points.to_vec(), weight: 1.0 });
        self
    }

    /// Ridges that nobody asks for.
    pub fn ridges(self, all: &[&[At]]) -> Self {
        all.iter().fold(self, |s, points| s.ridge("", points))
    }

    /// A dot as heavy as the ridges.
    pub fn dot(self, name: &'static str, place: At) -> Self {
        self.ridge(name, &[place])
    }

    /// A dot or line thinner and lighter than the ridges.
    pub fn thin(mut self, name: &'static str, points: &[At]) -> Self {
        self.strokes.push(Stroke { name, points: points.to_vec(), weight: THIN });
        self
    }

    /// Turns every place about the middle of the drawing left to right.
    pub fn mirrored(mut self) -> Self {
        self.strokes.iter_mut().flat_map(|s| &mut s.points).for_each(|p| p.0 = SIDE - p.0);
        self
    }

    /// The drawing as the rules see it.
    pub fn draw(self) -> Drawing {
        let side = (SIDE * PERIOD_PX) as usize / CELL * CELL;
        let cells = (side / CELL, side / CELL);
        let mut depth = Array2::from_elem((side, side), -1.0f64);
        for stroke in &self.strokes {
            for ((row, column), deepest) in depth.indexed_iter_mut() {
                let place = at(Point::new(column as f64, row as f64));
                let off = distance(&stroke.points, place);
                if off < 0.5 {
                    *deepest = deepest.max(stroke.weight * (TAU * off).cos());
                }
            }
        }
        let mut field = RidgeField::from_vectors(
            Array2::ones(cells),
            Array2::zeros(cells),
            Array2::from_elem(cells, true),
            CELL,
            PERIOD_PX as f32,
        );
        field.filtered = depth.mapv(|d| -d as f32);
        let whole = Region { left: 0, top: 0, right: side, bottom: side };
        let lines = RidgeLines::of(&field, whole, PERIOD_PX, &RidgeSettings::default());
        Drawing { sketch: self, field, lines }
    }
}

impl Drawing {
    /// The name of the ridge nearest to a place.
    pub fn name_at(&self, place: At) -> &'static str {
        let off = |s: &Stroke| distance(&s.points, place);
        self.sketch.strokes.iter().min_by(|a, b| off(a).total_cmp(&off(b))).map_or("", |s| s.name)
    }
}

/// Distance from a place to a polyline, periods.
fn distance(points: &[At], place: At) -> f64 {
    let to_segment = |a: At, b: At| {
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let length = dx * dx + dy * dy;
        let t = if length > 0.0 { ((place.0 - a.0) * dx + (place.1 - a.1) * dy) / length } else { 0.0 };
        let t = t.clamp(0.0, 1.0);
        apart(place, (a.0 + t * dx, a.1 + t * dy))
    };
    match points {
        [only] => apart(*only, place),
        _ => points.windows(2).map(|w| to_segment(w[0], w[1])).fold(f64::INFINITY, f64::min),
    }
}

/// A core or delta as the flow gives it: exact and sure, so that only the rule decides.
pub fn candidate(kind: PointKind, place: At, directions: [f64; 3]) -> Candidate {
    Candidate {
        kind,
        at: px(place),
        sigma_px: 0.0,
        directions,
        ring_error: 0.0,
        persistence_px: 20.0,
        followed: true,
        in_bend: false,
        sight: 0.0,
        clarity: 1.0,
        border_px: 60.0,
        on_print: (0.0, 0.0),
        partner: None,
        confidence: 1.0,
        chosen: true,
    }
}

/// Opening of a loop whose legs go down the image, radians.
pub const DOWN: f64 = -PI / 2.0;
