//! From a finger to a picture: which part touches, how it lies on the picture, and the truth carried there.

use super::chance::{self, CoarseGrid, Dice, SmoothField};
use super::design::Design;
use super::flow::DoubleAngle;
use super::ridges::{self, Extent, Ridges};
use super::verify::RidgeReading;
use super::{DrawnPrint, Framing, Quality, TrueField, TruePoint, Truth, Wish, ink};
use crate::geometry::{Point, wrap_direction};
use ndarray::Array2;
use std::f64::consts::PI;

/// Passes of the ridge filters after the phase has spread: more change nothing that can be seen.
const PASSES: usize = 8;
/// Mean distance between the places where ridges start, pixels: with 70 the lines keep to the flow and minutiae are about as
/// dense as on real prints.
const FRONTS_EVERY: f64 = 70.0;
/// No chance start this near a core or delta, pixels: the innermost recurves stay whole.
const FRONTS_OFF_POINTS: f64 = 32.0;
/// Widest contact of a flat impression, half width and half height in pixels at 500 ppi.
const FLAT_HALF: (f64, f64) = (165.0, 215.0);
/// Share of flat impressions of which only the tip touches: about as many as among the flat live scans looked at.
const TIP_SHARE: f64 = 0.16;
/// Share of them that lie low.
const LOW_SHARE: f64 = 0.06;
/// Greatest half height of those, pixels at 500 ppi.
const LOW_HALF: f64 = 165.0;
/// Where a tip ends below the middle of the pattern, pixels at 500 ppi, lowest and highest.
const TIP_BOTTOM: [f64; 2] = [-20.0, 75.0];
/// How far below the joint crease a roll may reach, pixels.
const BELOW_JOINT: f64 = 62.0;
/// Widest book figure in ridge periods.
const WIDEST_CROP: f64 = 38.0;
/// Narrowest book figure in ridge periods.
const NARROWEST_CROP: f64 = 27.0;
/// Bends of the skin move a place by no more than this, pixels at 500 ppi.
const MOST_BEND: f64 = 26.0;

/// Grows the part of the finger that impressions of this framing can show, and the ground between its points.
pub(super) fn grow_for(wish: &Wish, design: &Design, dice: &mut Dice) -> Ridges {
    let (half_x, up, down) = match wish.framing {
        Framing::Rolled => {
            (design.rolled_half_width + 30.0, design.centre.y - design.tip + 15.0, BELOW_JOINT + 20.0 - design.centre.y)
        }
        Framing::Plain => {
            (FLAT_HALF.0 + 40.0 + MOST_BEND, FLAT_HALF.1 + 40.0 + MOST_BEND, FLAT_HALF.1 + 50.0 + MOST_BEND)
        }
        Framing::Crop => {
            let half = 0.5 * WIDEST_CROP * design.period.mean + MOST_BEND + 14.0;
            (half, half, half)
        }
    };
    let middle = if wish.framing == Framing::Crop { crop_centre(design) } else { design.centre };
    let mut extent =
        Extent { left: middle.x - half_x, right: middle.x + half_x, top: middle.y - up, bottom: middle.y + down };
    let near_point = 30.0;
    for p in design.flow.cores().iter().chain(&design.flow.deltas()) {
        extent.left = extent.left.min(p.x - near_point);
        extent.right = extent.right.max(p.x + near_point);
        extent.top = extent.top.min(p.y - near_point);
        extent.bottom = extent.bottom.max(p.y + near_point);
    }
    // Ridges form first at the middle of the pad, along the crease and at the tip (Kuecken and Newell 2005).
    let mut seeds = vec![design.centre, Point::new(middle.x, extent.bottom), Point::new(middle.x, extent.top)];
    let points: Vec<Point> = design.flow.cores().into_iter().chain(design.flow.deltas()).collect();
    let area = (extent.right - extent.left) * (extent.bottom - extent.top);
    for _ in 0..(area / (FRONTS_EVERY * FRONTS_EVERY)) as usize {
        let seed = Point::new(dice.between(extent.left, extent.right), dice.between(extent.top, extent.bottom));
        if points.iter().all(|p| p.distance(seed) > FRONTS_OFF_POINTS) {
            seeds.push(seed);
        }
    }
    let mut grown = ridges::grow(&design.flow, &design.period, extent, &seeds, PASSES, dice);
    for line in &design.breaks {
        grown.break_along(line, design.period.mean);
    }
    grown.decide(&design.period);
    grown
}

/// Middle of what a book figure shows: all the points.
fn crop_centre(design: &Design) -> Point {
    // Cores weigh double: where not everything fits, a delta is cut.
    let cores = design.flow.cores();
    let mut points = design.flow.deltas();
    points.extend(&cores);
    if points.is_empty() {
        return Point::new(design.centre.x, design.centre.y + 30.0);
    }
    let range = |f: fn(&Point) -> f64| {
        let values = points.iter().map(f);
        0.5 * (values.clone().fold(f64::MAX, f64::min) + values.fold(f64::MIN, f64::max))
    };
    let mean = |f: fn(&Point) -> f64| cores.iter().map(f).sum::<f64>() / cores.len().max(1) as f64;
    let between = |all: f64, core: f64| if cores.is_empty() { all } else { 0.5 * (all + core) };
    Point::new(between(range(|p| p.x), mean(|p| p.x)), between(range(|p| p.y) - 10.0, mean(|p| p.y)))
}

/// The part of the finger that touches.
pub(super) struct Contact {
    middle: Point,
    half: (f64, f64),
    /// 0 = ellipse, 1 = nearly a rectangle.
    squareness: f64,
    /// Finger-frame limits beyond which nothing touches (an edge of a roll, a cut bottom).
    limits: Extent,
    ragged: SmoothField,
}

impl Contact {
    /// Below 1 inside, above 1 outside.
    pub fn shape(&self, q: Point) -> f64 {
        let (u, v) = ((q.x - self.middle.x) / self.half.0, (q.y - self.middle.y) / self.half.1);
        let (u2, v2) = (u * u, v * v);
        let round = (u2 + v2).sqrt();
        let square = (u2 * u2 + v2 * v2).sqrt().sqrt();
        let shape = round + self.squareness * (square - round);
        let beyond = (self.limits.left - q.x)
            .max(q.x - self.limits.right)
            .max(self.limits.top - q.y)
            .max(q.y - self.limits.bottom);
        shape.max(1.0 + beyond / self.half.0) + 0.022 * self.ragged.at(q.x, q.y)
    }
}

/// How the finger lies on the picture.
struct Placement {
    /// Pixels of the picture per pixel at 500 ppi.
    scale: f64,
    /// Sine and cosine of the turn.
    turn: (f64, f64),
    /// Place on the picture that shows `on`.
    at: Point,
    on: Point,
    /// Sideways stretch that a roll gives the edges, relative, and over which half width.
    edge_stretch: (f64, f64),
    /// Smooth bend of the skin and its deviation in pixels at 500 ppi.
    bend: (SmoothField, SmoothField, f64),
}

impl Placement {
    /// Place on the finger seen at a place of the picture.
    fn to_finger(&self, p: Point) -> Point {
        let (x, y) = ((p.x - self.at.x) / self.scale, (p.y - self.at.y) / self.scale);
        let (s, c) = self.turn;
        let (mut u, v) = (x * c - y * s, x * s + y * c);
        let relative = (u / self.edge_stretch.1).clamp(-1.3, 1.3);
        u *= 1.0 - self.edge_stretch.0 * relative * relative;
        let limit = MOST_BEND;
        let bend = |f: &SmoothField| (self.bend.2 * f.at(u, v)).clamp(-limit, limit);
        Point::new(self.on.x + u + bend(&self.bend.0), self.on.y + v + bend(&self.bend.1))
    }

    /// Place on the picture where a place of the finger is seen.
    fn to_picture(&self, q: Point) -> Point {
        let mut p = self.at;
        let (s, c) = self.turn;
        for _ in 0..40 {
            let seen = self.to_finger(p);
            let (dx, dy) = (q.x - seen.x, q.y - seen.y);
            p = Point::new(p.x + self.scale * (dx * c + dy * s), p.y + self.scale * (dy * c - dx * s));
        }
        p
    }

    /// Derivative of `to_finger`, rows `[a b; c d]`.
    fn derivative(&self, p: Point) -> [f64; 4] {
        const H: f64 = 2.0;
        let (e, w) = (self.to_finger(Point::new(p.x + H, p.y)), self.to_finger(Point::new(p.x - H, p.y)));
        let (s, n) = (self.to_finger(Point::new(p.x, p.y + H)), self.to_finger(Point::new(p.x, p.y - H)));
        [(e.x - w.x) / (2.0 * H), (s.x - n.x) / (2.0 * H), (e.y - w.y) / (2.0 * H), (s.y - n.y) / (2.0 * H)]
    }
}

/// What the ink needs to know of the geometry.
pub(super) struct Scene<'a> {
    pub ridges: &'a Ridges,
    pub contact: &'a Contact,
    pub width: usize,
    pub height: usize,
    /// Place on the finger, x and y, on a coarse grid of the picture.
    pub finger: CoarseGrid<2>,
    /// Pixels of the picture per pixel at 500 ppi.
    pub scale: f64,
    pub framing: Framing,
    pub quality: Quality,
    pub ground: ink::Ground,
}

impl Scene<'_> {
    /// Place on the finger seen at a pixel.
    pub fn on_finger(&self, x: f64, y: f64) -> Point {
        let [x, y] = self.finger.at(x, y);
        Point::new(f64::from(x), f64::from(y))
    }
}

/// Makes an impression with its truth.
pub(super) fn impress(wish: &Wish, design: &Design, ridges: &Ridges, reading: &RidgeReading, seed: u64) -> DrawnPrint {
    impress_on(wish, design, ridges, reading, ink::Ground::Own, seed)
}

/// Makes an impression on a given ground with its truth.
pub(super) fn impress_on(
    wish: &Wish,
    design: &Design,
    ridges: &Ridges,
    reading: &RidgeReading,
    ground: ink::Ground,
    seed: u64,
) -> DrawnPrint {
    const IMPRESSION_STREAM: u64 = 1 << 40;
    const GRID: f64 = 8.0;
    let mut dice = Dice::new(seed, IMPRESSION_STREAM);
    let (width, height) = wish.size.unwrap_or_else(|| usual_size(wish.framing, &mut dice));
    let contact = touch(wish, design, &mut dice);
    let placement = place(wish, design, &contact, width, height, &mut dice);
    let (w, h) = (width as f64, height as f64);
    let scene = Scene {
        ridges,
        contact: &contact,
        width,
        height,
        finger: CoarseGrid::new(0.0, 0.0, w, h, GRID, |x, y| {
            let q = placement.to_finger(Point::new(x, y));
            [q.x as f32, q.y as f32]
        }),
        scale: placement.scale,
        framing: wish.framing,
        quality: wish.quality,
        ground,
    };
    let pixels = ink::render(&scene, &mut dice);
    let truth = carry_truth(wish, design, reading, &contact, &placement, width, height);
    DrawnPrint { pixels, truth }
}

fn usual_size(framing: Framing, dice: &mut Dice) -> (usize, usize) {
    let whole = |dice: &mut Dice, low, high| dice.whole(low, high) as usize;
    match framing {
        Framing::Rolled if dice.chance(0.5) => (800, 750),
        Framing::Rolled => (whole(dice, 600, 760), whole(dice, 640, 750)),
        Framing::Plain => (whole(dice, 300, 390), whole(dice, 300, 390)),
        Framing::Crop => (whole(dice, 180, 210), whole(dice, 180, 215)),
    }
}

/// Chooses what touches.
fn touch(wish: &Wish, design: &Design, dice: &mut Dice) -> Contact {
    const FAR: f64 = 1e4;
    let mut limits = Extent { left: -FAR, top: -FAR, right: FAR, bottom: FAR };
    let c = design.centre;
    let (middle, half, squareness) = match wish.framing {
        Framing::Rolled => {
            let top = design.tip + dice.between(0.0, 40.0);
            let bottom = if dice.chance(0.4) { dice.between(10.0, BELOW_JOINT) } else { -dice.between(-6.0, 75.0) };
            let half = design.rolled_half_width;
            // Under-rolled on one side, or cut at the bottom by the edge of the block or a lifted finger.
            if dice.chance(0.14) {
                let missing = dice.between(0.25, 0.5) * half;
                if dice.chance(0.5) { limits.left = -half + missing } else { limits.right = half - missing }
            }
            if dice.chance(0.10) {
                limits.bottom = c.y + dice.between(60.0, 130.0);
            }
            (Point::new(0.0, 0.5 * (top + bottom)), (half, 0.5 * (bottom - top)), dice.between(0.6, 1.0))
        }
        Framing::Plain => {
            let half = (dice.between(105.0, FLAT_HALF.0), dice.between(135.0, FLAT_HALF.1));
            let aside = c.x + dice.normal(0.0, 22.0).clamp(-40.0, 40.0);
            let (below, half) = match dice.between(0.0, 1.0) {
                // Only the tip touches, or mostly what lies below the pattern: common on small sensors.
                v if v < TIP_SHARE => {
                    let (top, bottom) = (design.tip - c.y, dice.within(TIP_BOTTOM));
                    (0.5 * (top + bottom), (half.0, 0.5 * (bottom - top)))
                }
                v if v < TIP_SHARE + LOW_SHARE => (dice.between(55.0, 125.0), (half.0, half.1.min(LOW_HALF))),
                _ => (dice.normal(12.0, 25.0).clamp(-40.0, 50.0), half),
            };
            (Point::new(aside, c.y + below), half, dice.between(0.0, 0.45))
        }
        Framing::Crop if dice.chance(0.45) => {
            // The figure reaches beyond the print in a corner or along an edge.
            let half = 0.5 * WIDEST_CROP * design.period.mean;
            let middle = crop_centre(design);
            let aside = |dice: &mut Dice| dice.normal(0.0, 0.16 * half);
            let middle = Point::new(middle.x + aside(dice), middle.y + aside(dice));
            (middle, (half * dice.between(0.95, 1.3), half * dice.between(0.95, 1.3)), dice.between(0.4, 1.0))
        }
        Framing::Crop => (c, (FAR, FAR), 0.0),
    };
    let ragged = SmoothField::new(dice, middle.x - 400.0, middle.y - 400.0, 800.0, 800.0, 55.0);
    Contact { middle, half, squareness, limits, ragged }
}

/// Chooses how the finger lies on the picture.
fn place(wish: &Wish, design: &Design, contact: &Contact, width: usize, height: usize, dice: &mut Dice) -> Placement {
    let (w, h) = (width as f64, height as f64);
    let middle = Point::new(0.5 * w, 0.5 * h);
    let (turn, scale, at, on, bend) = match wish.framing {
        Framing::Rolled => {
            // Larger pictures than the finger leave room to be off centre; a smaller one cuts what does not fit.
            let (spare_x, spare_y) = ((w - 2.0 * contact.half.0).max(0.0), (h - 2.0 * contact.half.1).max(0.0));
            let at = Point::new(
                middle.x + 0.3 * spare_x * dice.between(-1.0, 1.0),
                middle.y + spare_y * dice.between(-0.2, 0.4),
            );
            (dice.normal(0.0, 8.0), 1.0, at, contact.middle, dice.between(2.0, 6.0))
        }
        Framing::Plain => {
            let at = Point::new(middle.x + dice.normal(0.0, 18.0), middle.y + dice.normal(8.0, 18.0));
            (dice.normal(0.0, 13.0).clamp(-35.0, 35.0), 1.0, at, contact.middle, dice.between(2.5, 7.0))
        }
        Framing::Crop => {
            let periods = dice.between(NARROWEST_CROP, WIDEST_CROP);
            let scale = w.min(h) / (periods * design.period.mean);
            let c = crop_centre(design);
            let on = Point::new(c.x + dice.normal(0.0, 9.0), c.y + dice.normal(0.0, 9.0));
            (dice.normal(0.0, 5.0).clamp(-12.0, 12.0), scale, middle, on, dice.between(1.5, 4.0))
        }
    };
    let field = |dice: &mut Dice| SmoothField::new(dice, -500.0, -500.0, 1000.0, 1000.0, 110.0);
    Placement {
        scale,
        turn: chance::sin_cos(turn.to_radians()),
        at,
        on,
        edge_stretch: (if wish.framing == Framing::Rolled { dice.between(0.0, 0.07) } else { 0.0 }, 270.0),
        bend: (field(dice), field(dice), bend),
    }
}

/// Carries points and field to the picture.
fn carry_truth(
    wish: &Wish,
    design: &Design,
    reading: &RidgeReading,
    contact: &Contact,
    placement: &Placement,
    width: usize,
    height: usize,
) -> Truth {
    let field = carry_field(design, contact, placement, width, height);
    let carry = |q: Point| {
        let at = placement.to_picture(q);
        let printed = is_printed(at, 1.0, design, contact, placement, width, height);
        TruePoint {
            at,
            direction: point_direction(design, placement, q),
            printed,
            near_edge: !printed && near_print(at, design, contact, placement, width, height),
            doubtful: false,
            tight: false,
        }
    };
    let mut cores: Vec<TruePoint> = design.flow.cores().into_iter().map(carry).collect();
    let mut deltas: Vec<TruePoint> = design.flow.deltas().into_iter().map(carry).collect();
    deltas.sort_by(|a, b| a.at.x.total_cmp(&b.at.x));
    let tight = 2.0 * design.period.mean * placement.scale;
    for i in 0..cores.len() {
        cores[i].tight = (0..cores.len()).any(|j| j != i && cores[i].at.distance(cores[j].at) < tight);
    }
    for core in &mut cores {
        for delta in &mut deltas {
            if core.at.distance(delta.at) < tight {
                (core.doubtful, delta.doubtful) = (true, true);
            }
        }
    }
    let (mut sum, mut count) = (0.0, 0.0f64);
    for (&period, _) in field.period.iter().zip(&field.foreground).filter(|(_, on)| **on) {
        sum += f64::from(period);
        count += 1.0;
    }
    Truth {
        kind: wish.kind,
        general: wish.kind.general(),
        subclass: wish.kind.subclass(),
        tracing: reading.tracing,
        ridges_between: reading.ridges_between,
        ridge_count: reading.ridge_count,
        readings: reading.readings.clone(),
        count_line: reading.count_line.map(|(a, b)| [placement.to_picture(a), placement.to_picture(b)]),
        counted: reading.counted.iter().map(|p| placement.to_picture(*p)).collect(),
        trace: reading.trace.iter().map(|&q| placement.to_picture(q)).collect(),
        recurves_cut: reading.recurves_cut,
        cores,
        deltas,
        ridge_period: if count > 0.0 { sum / count } else { design.period.mean * placement.scale },
        field,
        ppi: 500.0 * placement.scale,
        turn: chance::atan2(placement.turn.0, placement.turn.1),
        quality: wish.quality,
        framing: wish.framing,
    }
}

/// Places around a point, `ridges` ridge periods away.
fn around(p: Point, ridges: f64, design: &Design, placement: &Placement) -> impl Iterator<Item = Point> + use<> {
    let radius = ridges * design.period.mean * placement.scale;
    (0..8).map(move |i| {
        let (s, c) = chance::sin_cos(f64::from(i) * PI / 4.0);
        Point::new(p.x + radius * c, p.y - radius * s)
    })
}

/// Whether a place of the picture and what lies `ridges` ridges around it is printed.
fn is_printed(
    p: Point,
    ridges: f64,
    design: &Design,
    contact: &Contact,
    placement: &Placement,
    width: usize,
    height: usize,
) -> bool {
    let inside = |p: Point| p.x >= 0.0 && p.y >= 0.0 && p.x <= (width - 1) as f64 && p.y <= (height - 1) as f64;
    let mut places = around(p, ridges, design, placement).chain([p]);
    places.all(|q| inside(q) && contact.shape(placement.to_finger(q)) < 1.0)
}

/// Whether anything within three ridges of a place is printed.
fn near_print(
    p: Point,
    design: &Design,
    contact: &Contact,
    placement: &Placement,
    width: usize,
    height: usize,
) -> bool {
    [1.0, 2.0, 3.0].iter().any(|ridges| {
        around(p, *ridges, design, placement).any(|q| is_printed(q, 0.0, design, contact, placement, width, height))
    })
}

/// Orientation of the picture at one of its places.
fn picture_flow(design: &Design, placement: &Placement, p: Point) -> (DoubleAngle, [f64; 4], Point) {
    let q = placement.to_finger(p);
    let j = placement.derivative(p);
    let on_finger = design.flow.double_angle(q);
    (on_finger.mapped(j[3], -j[1], -j[2], j[0]), j, q)
}

fn carry_field(design: &Design, contact: &Contact, placement: &Placement, width: usize, height: usize) -> TrueField {
    let shape = (height.div_ceil(TrueField::CELL), width.div_ceil(TrueField::CELL));
    let mut field = TrueField {
        orientation: Array2::zeros(shape),
        period: Array2::zeros(shape),
        foreground: Array2::from_elem(shape, false),
    };
    for r in 0..shape.0 {
        for c in 0..shape.1 {
            let centre = |i: usize| (i as f64 + 0.5) * TrueField::CELL as f64 - 0.5;
            let p = Point::new(centre(c), centre(r));
            if contact.shape(placement.to_finger(p)) >= 1.0 {
                continue;
            }
            let (double, [a, b, c_, d], q) = picture_flow(design, placement, p);
            field.foreground[[r, c]] = true;
            field.orientation[[r, c]] = double.orientation() as f32;
            // The spacing along the normal n of the finger's ridges becomes period / |J' n| on the picture.
            let (tx, ty) = design.flow.double_angle(q).tangent();
            let (nx, ny) = (-ty, tx);
            let (mx, my) = (a * nx + c_ * ny, b * nx + d * ny);
            field.period[[r, c]] = (design.period.at(q) / (mx * mx + my * my).sqrt()) as f32;
        }
    }
    field
}

/// Direction of a core's opening or of one of a delta's arms: where the flow around the point runs along the spoke.
fn point_direction(design: &Design, placement: &Placement, q: Point) -> f64 {
    const RADIUS: f64 = 7.0;
    const TRIES: usize = 180;
    let turn = chance::atan2(placement.turn.0, placement.turn.1);
    // Around a core exactly one direction runs along its spoke; around a delta three do, any of which will serve.
    let best = (0..TRIES)
        .map(|i| i as f64 * 2.0 * PI / TRIES as f64)
        .map(|direction| {
            let (s, c) = chance::sin_cos(direction);
            let p = Point::new(q.x + RADIUS * c, q.y - RADIUS * s);
            let (tx, ty) = design.flow.double_angle(p).tangent();
            ((tx * s + ty * c).abs(), direction)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(0.0, |(_, direction)| direction);
    wrap_direction(best + turn)
}
