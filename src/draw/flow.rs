//! The flow of the ridges: a closed form of the whole print, bent away from being conformal.
//!
//! The *finger frame* used here and in [`super::ridges`] has its origin in the middle of the joint crease, x to the right
//! and y down (so a print lies at negative y), in pixels at 500 ppi.

use super::chance::{self, CoarseGrid, SmoothField, bell};
use crate::geometry::{Point, wrap_direction, wrap_orientation};
use std::f64::consts::PI;

/// Ridge orientation of a whole print in closed form, radians in `[0, pi)`.
///
/// With `z` the place above the joint crease as a complex number, `R` = `half_width`, cores `c` and deltas `d`, and `*`
/// the mirror image in the crease:
/// `theta(z) = 1/2 { arg(R^2 - z^2) + sum_c [arg(z-c) + arg(z-c*)] - sum_d [arg(z-d) + arg(z-d*)] }`.
/// Without points this is a family of half-ellipses with foci at `-R` and `R` on the crease: flat at the joint, round at
/// the tip. Around a core the orientation turns by half a turn, around a delta by half a turn the other way. All points
/// are in the finger frame: origin in the middle of the crease, x right, y **down**.
///
/// References: the zero-pole model of Sherlock and Monro (1993); the mirrored points make it one of the family of
/// quadratic differentials studied for fingerprints by Huckemann, Hotz and Munk (2008).
///
/// ```
/// use recurve::draw::orientation;
/// use recurve::geometry::Point;
/// // Far above the crease on the finger's axis an arch runs level.
/// let level = orientation(Point::new(0.0, -300.0), 250.0, &[], &[]);
/// assert!(level < 1e-9 || (std::f64::consts::PI - level) < 1e-9);
/// ```
pub fn orientation(at: Point, half_width: f64, cores: &[Point], deltas: &[Point]) -> f64 {
    let form =
        ClosedForm { half_width, stretch: 1.0, cores: cores.to_vec(), deltas: deltas.to_vec(), slight: Vec::new() };
    form.double_angle(at).orientation()
}

/// A unit vector at twice an orientation's angle.
#[derive(Debug, Clone, Copy)]
pub(super) struct DoubleAngle {
    /// Cosine of twice the orientation.
    pub cos2: f64,
    /// Sine of twice the orientation.
    pub sin2: f64,
}

impl DoubleAngle {
    /// Of length one, or level where the vector vanishes (on a singular point).
    pub fn unit(cos2: f64, sin2: f64) -> Self {
        let length = (cos2 * cos2 + sin2 * sin2).sqrt();
        if length > 1e-12 { Self { cos2: cos2 / length, sin2: sin2 / length } } else { Self { cos2: 1.0, sin2: 0.0 } }
    }

    /// The orientation, radians in `[0, pi)`.
    pub fn orientation(self) -> f64 {
        wrap_orientation(0.5 * chance::atan2(self.sin2, self.cos2))
    }

    /// Turned by an angle, radians counter-clockwise as seen.
    pub fn turned(self, by: f64) -> Self {
        let (s, c) = chance::sin_cos(2.0 * by);
        Self { cos2: self.cos2 * c - self.sin2 * s, sin2: self.sin2 * c + self.cos2 * s }
    }

    /// A unit tangent in image coordinates (x right, y down), of undetermined sign.
    pub fn tangent(self) -> (f64, f64) {
        let c = (0.5 * (1.0 + self.cos2)).max(0.0).sqrt();
        let s = (0.5 * (1.0 - self.cos2)).max(0.0).sqrt();
        (c, if self.sin2 >= 0.0 { -s } else { s })
    }

    /// Carried through a linear map of the plane given in image coordinates (x right, y down) as rows `[a b; c d]`.
    pub fn mapped(self, a: f64, b: f64, c: f64, d: f64) -> Self {
        // The tensor t t' of the tangent does not know its sign, so no root has to be chosen.
        let (xx, xy, yy) = (0.5 * (1.0 + self.cos2), -0.5 * self.sin2, 0.5 * (1.0 - self.cos2));
        let new_xx = a * a * xx + 2.0 * a * b * xy + b * b * yy;
        let new_xy = a * c * xx + (a * d + b * c) * xy + b * d * yy;
        let new_yy = c * c * xx + 2.0 * c * d * xy + d * d * yy;
        Self::unit(new_xx - new_yy, -2.0 * new_xy)
    }
}

/// The closed form with its points.
#[derive(Debug, Clone)]
pub(super) struct ClosedForm {
    /// Half the distance between the foci on the crease, pixels.
    pub half_width: f64,
    /// How much taller than the conformal form the print is, 1.0 to 1.4.
    pub stretch: f64,
    /// Cores in the finger frame.
    pub cores: Vec<Point>,
    /// Deltas in the finger frame.
    pub deltas: Vec<Point>,
    /// A core and a delta so near to each other that no ridge runs between them, in the finger frame: they bend a few ridges of an arch,
    /// and nobody marks them.
    pub slight: Vec<(Point, Point)>,
}

/// Product of two complex numbers.
fn times(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

impl ClosedForm {
    /// The place as a complex number in the unstretched plane above the crease, in half-widths.
    fn complex(&self, p: Point) -> (f64, f64) {
        (p.x / self.half_width, -p.y / (self.stretch * self.half_width))
    }

    /// `(z - p)(z - p*)` for a point and its mirror image.
    fn pair(z: (f64, f64), p: (f64, f64)) -> (f64, f64) {
        times((z.0 - p.0, z.1 - p.1), (z.0 - p.0, z.1 + p.1))
    }

    /// Product whose argument is twice the orientation in the unstretched plane, `leave_out` a core apart.
    fn product(&self, z: (f64, f64), left_out: &[Point]) -> (f64, f64) {
        let square = times(z, z);
        let mut w = (1.0 - square.0, -square.1);
        for &core in &self.cores {
            let c = self.complex(core);
            // A core left out still has its mirror image.
            let factor = if left_out.contains(&core) { (z.0 - c.0, z.1 + c.1) } else { Self::pair(z, c) };
            w = times(w, factor);
        }
        for &delta in &self.deltas {
            let factor = Self::pair(z, self.complex(delta));
            w = times(w, (factor.0, -factor.1));
        }
        for &(core, delta) in &self.slight {
            let (core, delta) = (Self::pair(z, self.complex(core)), Self::pair(z, self.complex(delta)));
            w = times(w, times(core, (delta.0, -delta.1)));
        }
        w
    }

    /// Twice the orientation at a place.
    pub fn double_angle(&self, p: Point) -> DoubleAngle {
        let w = self.product(self.complex(p), &[]);
        let flat = DoubleAngle::unit(w.0, w.1);
        if self.stretch == 1.0 { flat } else { flat.mapped(1.0, 0.0, 0.0, self.stretch) }
    }

    /// The argument that all factors but the given cores' own have at a place: the direction into which a single core there
    /// opens; for two cores about their middle, twice the angle at which ridges cross the spokes.
    pub fn argument_without(&self, at: Point, cores: &[Point]) -> f64 {
        let w = self.product(self.complex(at), cores);
        wrap_direction(chance::atan2(w.1, w.0))
    }
}

/// A local turn of the flow.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turn {
    /// Where it is strongest.
    pub at: Point,
    /// Radians counter-clockwise as seen.
    pub by: f64,
    /// Standard deviation of its bell, pixels.
    pub reach: f64,
}

/// A rise of the ridges in the middle of an arch, after the arch form of Cappelli and others (2002).
#[derive(Debug, Clone, Copy)]
pub(super) struct Rise {
    /// Where the ridges rise over.
    pub at: Point,
    /// Greatest slope added, radians.
    pub slope: f64,
    /// Distance from the axis at which the slope is greatest, pixels; of a pointed rise the deviation with which it dies down.
    pub half_width: f64,
    /// Of a pointed rise, whose sides run straight: half the width of its top, pixels.
    pub top: Option<f64>,
    /// Standard deviation of the rise in height, pixels.
    pub height: f64,
}

impl Rise {
    fn turn(&self, p: Point) -> f64 {
        let u = (p.x - self.at.x) / self.half_width;
        let v = (p.y - self.at.y) / self.height;
        if let Some(top) = self.top {
            let out = p.x - self.at.x;
            return -self.slope * out / (out * out + top * top).sqrt() * bell(u * u) * bell(v * v);
        }
        // u exp((1 - u^2) / 2) has its greatest value 1 at u = 1.
        -self.slope * u * chance::exp(0.5 - 0.5 * (u * u).min(60.0)) * bell(v * v)
    }
}

/// Legs of a loop that run straighter than the parabolas of the closed form, as on skin: the ridge orientation about a core, seen
/// from its opening, lags behind half the angle and makes up for it over the top (Vizcaya and Gerhardt 1996 bend the angle likewise, in
/// straight pieces). The turn around the core stays half a turn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hairpin {
    /// The core.
    pub at: Point,
    /// Direction into which it opens, radians.
    pub opening: f64,
    /// Twice the lag as sines of the angle seen from the opening, of its double and its threefold. All 0: a parabola; the orientation is monotone
    /// while `1 - s1 cos x - 2 s2 cos 2x - 3 s3 cos 3x` stays positive.
    pub lag: [f64; 3],
    /// Below this distance it fades toward its core, pixels.
    pub from: f64,
}

/// Deviation of the bell with which a hairpin fades along the legs, pixels.
const HAIRPIN_TO: f64 = 95.0;
/// A hairpin that fades at this distance from its core, pixels, can be read from a coarse grid.
pub(super) const HAIRPIN_FROM: f64 = 9.0;

impl Hairpin {
    fn turn(&self, p: Point) -> f64 {
        let (dx, dy) = (p.x - self.at.x, self.at.y - p.y);
        let squared = dx * dx + dy * dy;
        let weight = (1.0 - bell(squared / (self.from * self.from))) * bell(squared / (HAIRPIN_TO * HAIRPIN_TO));
        if weight < 1e-3 {
            return 0.0;
        }
        let (s, c) = chance::sin_cos(self.opening);
        let sine = (dy * c - dx * s) / squared.sqrt();
        let cosine = (dx * c + dy * s) / squared.sqrt();
        let [one, two, three] = self.lag;
        -0.5 * weight * sine * (one + 2.0 * two * cosine + three * (3.0 - 4.0 * sine * sine))
    }

    /// Whether it bends the flow within less than the coarse grid shows.
    fn is_close(&self) -> bool {
        self.from < HAIRPIN_FROM
    }
}

/// Number of knots around a point.
const KNOTS: usize = 8;
/// The knots leave the closest neighbourhood of a point alone, so that the point stays where it is: pixels.
const KNOTS_FROM: f64 = 14.0;
/// The knots fade far away from their point: pixels.
const KNOTS_TO: f64 = 170.0;

/// Departures from the ideal angle around one point, after Vizcaya and Gerhardt (1996): piecewise linear in the angle
/// under which a place is seen from the point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Knots {
    departures: [f64; KNOTS],
}

impl Knots {
    /// Random knots of this deviation (radians); kept small enough that the angle stays monotone.
    pub fn random(dice: &mut chance::Dice, deviation: f64) -> Self {
        let limit = 0.45 * 2.0 * PI / KNOTS as f64;
        Self { departures: std::array::from_fn(|_| dice.normal(0.0, deviation).clamp(-limit, limit)) }
    }

    fn turn(&self, at: Point, p: Point) -> f64 {
        let (dx, dy) = (p.x - at.x, at.y - p.y);
        let squared = dx * dx + dy * dy;
        let weight = (1.0 - bell(squared / (KNOTS_FROM * KNOTS_FROM))) * bell(squared / (KNOTS_TO * KNOTS_TO));
        if weight < 1e-3 {
            return 0.0;
        }
        let u = (chance::atan2(dy, dx) / (2.0 * PI) + 1.0) * KNOTS as f64;
        let (i, t) = (u as usize, u - (u as usize) as f64);
        let (from, to) = (self.departures[i % KNOTS], self.departures[(i + 1) % KNOTS]);
        // Half: the closed form takes half the angle of each point.
        0.5 * weight * (from + t * (to - from))
    }
}

/// Radius around a point in which the random turn of the flow dies down to nothing, pixels.
const WOBBLE_FREE: f64 = 25.0;

/// The flow of one finger.
#[derive(Debug, Clone)]
pub(super) struct Flow {
    /// The closed form that the rest bends.
    pub form: ClosedForm,
    /// Local turns: axis of a loop, winding of a spiral.
    pub turns: Vec<Turn>,
    /// The rise of an arch.
    pub rise: Option<Rise>,
    /// Departures around each point, cores first, then deltas.
    pub knots: Vec<Knots>,
    /// Cores with straight legs.
    pub hairpins: Vec<Hairpin>,
    /// Smooth random turn and its deviation in radians.
    pub wobble: (SmoothField, f64),
    /// Smooth random displacement (right, down) and its deviation in pixels: what makes the flow non-conformal.
    pub warp: (SmoothField, SmoothField, f64),
}

impl Flow {
    /// Direction into which a single core opens, before its own hairpin and the warp: the knots and the wobble leave the
    /// closest neighbourhood of a point alone.
    pub fn opening(&self, core: Point) -> f64 {
        let mut turn = self.rise.map_or(0.0, |rise| rise.turn(core));
        turn += self.turns.iter().map(|t| t.by * bell(t.at.distance_squared(core) / (t.reach * t.reach))).sum::<f64>();
        wrap_direction(self.form.argument_without(core, &[core]) + 2.0 * turn)
    }

    /// The turn by close hairpins at a place before the warp.
    fn close_turn(hairpins: &[Hairpin], p: Point) -> f64 {
        hairpins.iter().filter(|h| h.is_close()).map(|hairpin| hairpin.turn(p)).sum()
    }

    /// The turn added to the closed form at a place before the warp, close hairpins apart.
    fn slow_turn(&self, p: Point) -> f64 {
        let mut turn = self.rise.map_or(0.0, |rise| rise.turn(p));
        for t in &self.turns {
            let d = t.at.distance_squared(p);
            turn += t.by * bell(d / (t.reach * t.reach));
        }
        turn += self.hairpins.iter().filter(|h| !h.is_close()).map(|hairpin| hairpin.turn(p)).sum::<f64>();
        let mut free = self.wobble.1;
        let points = self.form.cores.iter().chain(&self.form.deltas);
        for (at, knots) in points.zip(&self.knots) {
            turn += knots.turn(*at, p);
            free *= 1.0 - bell(at.distance_squared(p) / (WOBBLE_FREE * WOBBLE_FREE));
        }
        turn + free * self.wobble.0.at(p.x, p.y)
    }

    /// Where a place of the finger lies in the plane of the closed form, with the map's derivative `[a b; c d]`.
    fn unwarp(&self, q: Point) -> (Point, [f64; 4]) {
        let (right, down, size) = (&self.warp.0, &self.warp.1, self.warp.2);
        let (u, ux, uy) = right.value_and_slope(q.x, q.y);
        let (v, vx, vy) = down.value_and_slope(q.x, q.y);
        (Point::new(q.x + size * u, q.y + size * v), [1.0 + size * ux, size * uy, size * vx, 1.0 + size * vy])
    }

    /// Twice the orientation at a place of the finger.
    pub fn double_angle(&self, q: Point) -> DoubleAngle {
        let (p, [a, b, c, d]) = self.unwarp(q);
        let before = self.form.double_angle(p).turned(self.slow_turn(p) + Self::close_turn(&self.hairpins, p));
        // The inverse of the derivative carries the tangent back; its determinant does not change an orientation.
        before.mapped(d, -b, -c, a)
    }

    /// The same flow with its slow parts, and the ridge period, evaluated once on a coarse grid over a box.
    pub fn tabulated(
        &self,
        origin: Point,
        height: f64,
        width: f64,
        step: f64,
        period: impl Fn(Point) -> f64,
    ) -> TabulatedFlow<'_> {
        let slow = CoarseGrid::new(origin.x, origin.y, width, height, step, |x, y| {
            let q = Point::new(x, y);
            let (p, [a, b, c, d]) = self.unwarp(q);
            let (sin, cos) = chance::sin_cos(2.0 * self.slow_turn(p));
            [sin, cos, p.x - x, p.y - y, a, b, c, d, period(q)].map(|v| v as f32)
        });
        TabulatedFlow { form: &self.form, hairpins: &self.hairpins, slow }
    }

    /// Where a point of the closed form lies on the finger.
    fn warped(&self, p: Point) -> Point {
        let mut q = p;
        for _ in 0..12 {
            let (at, _) = self.unwarp(q);
            q = Point::new(q.x + p.x - at.x, q.y + p.y - at.y);
        }
        q
    }

    /// Cores on the finger.
    pub fn cores(&self) -> Vec<Point> {
        self.form.cores.iter().map(|&p| self.warped(p)).collect()
    }

    /// Deltas on the finger.
    pub fn deltas(&self) -> Vec<Point> {
        self.form.deltas.iter().map(|&p| self.warped(p)).collect()
    }
}

/// A flow whose random parts are read from a coarse grid; the closed form itself and close hairpins stay exact.
pub(super) struct TabulatedFlow<'a> {
    form: &'a ClosedForm,
    hairpins: &'a [Hairpin],
    /// Sine and cosine of twice the turn, displacement, its derivative, and the ridge period.
    slow: CoarseGrid<9>,
}

impl TabulatedFlow<'_> {
    /// Twice the orientation and the ridge period at a place of the finger.
    pub fn double_angle(&self, q: Point) -> (DoubleAngle, f64) {
        let [sin, cos, right, down, a, b, c, d, period] = self.slow.at(q.x, q.y).map(f64::from);
        let p = Point::new(q.x + right, q.y + down);
        let flat = self.form.double_angle(p);
        let mut turned =
            DoubleAngle { cos2: flat.cos2 * cos - flat.sin2 * sin, sin2: flat.sin2 * cos + flat.cos2 * sin };
        let close = Flow::close_turn(self.hairpins, p);
        if close != 0.0 {
            turned = turned.turned(close);
        }
        (turned.mapped(d, -b, -c, a), period)
    }
}

impl Point {
    /// Square of the distance in pixels: no root, the same on every machine.
    fn distance_squared(self, other: Point) -> f64 {
        let (dx, dy) = (self.x - other.x, self.y - other.y);
        dx * dx + dy * dy
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::orientation_difference;

    /// Turns of the orientation around a circle, in half turns.
    fn index(around: Point, radius: f64, flow: impl Fn(Point) -> f64) -> f64 {
        let steps = 720;
        let at = |i: usize| flow(around.step(i as f64 * 2.0 * PI / steps as f64, radius));
        (0..steps).map(|i| orientation_difference(at(i + 1), at(i))).sum::<f64>() / PI
    }

    #[test]
    fn the_closed_form_turns_by_half_a_turn_around_each_point() {
        // The index of a core is +1/2 turn and that of a delta -1/2 turn (Poincare; Sherlock and Monro 1993).
        let (core, delta) = (Point::new(10.0, -250.0), Point::new(-120.0, -130.0));
        let flow = |p| orientation(p, 280.0, &[core], &[delta]);
        assert!((index(core, 20.0, flow) - 1.0).abs() < 1e-6);
        assert!((index(delta, 20.0, flow) + 1.0).abs() < 1e-6);
        assert!(index(Point::new(100.0, -300.0), 20.0, flow).abs() < 1e-6);
    }

    #[test]
    fn a_hairpins_legs_run_nearly_with_its_axis_and_turn_over_the_top() {
        let (at, opening) = (Point::new(10.0, -250.0), 1.5 * PI);
        let hairpin = Hairpin { at, opening, lag: [1.14, -0.33, 0.14], from: 4.0 };
        let turn = |seen: f64| hairpin.turn(at.step(opening + seen, 20.0));
        // By hand: square to the opening half of 1.14 less 0.14, or 29 degrees of a parabola's 45, but for a fiftieth that has faded at 20 px.
        assert!((turn(0.5 * PI) + 0.49).abs() < 0.01 && (turn(-0.5 * PI) - 0.49).abs() < 0.01);
        assert!(turn(0.0).abs() < 1e-9 && turn(PI).abs() < 1e-9);
        // The orientation is monotone, so the ridges have no second bend, and turns fastest over the top.
        let orientation = |seen: f64| 0.5 * seen + turn(seen);
        let pace = |k: i32| orientation(f64::from(k + 1) * PI / 180.0) - orientation(f64::from(k) * PI / 180.0);
        assert!((-180..180).all(|k| pace(k) > 0.0));
        assert!(pace(179) > 8.0 * pace(0));
    }

    #[test]
    fn ridges_run_level_along_the_crease() {
        let (core, delta) = (Point::new(10.0, -250.0), Point::new(-120.0, -130.0));
        for x in [-200.0, -50.0, 0.0, 90.0, 220.0] {
            let angle = orientation(Point::new(x, 0.0), 280.0, &[core], &[delta]);
            assert!(orientation_difference(angle, 0.0).abs() < 1e-9);
        }
    }
}
