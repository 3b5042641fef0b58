//! Enclosures: valleys around a core that no way leaves without crossing a ridge.
//!
//! Out of a recurve a valley leads between the legs; out of a closed circuit none does, whatever its shape; out of a spiral only
//! one that winds around the core. A pocket of a ridge or two shows this where the flow, an average over more than that, shows
//! nothing.

use crate::field::RidgeField;
use crate::geometry::Point;

/// How firmly the valleys around a core are enclosed: the height, against the typical ridge there, of the highest place that the best
/// enclosed valley must pass on its way out. About 1 within a closed ridge, about -1 where every valley leads out unnarrowed, 0 where
/// there is no valley.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Enclosure {
    /// Every way out is tried.
    pub any_way: f64,
    /// Ways that wind around the core behind it are not.
    pub without_winding: f64,
}

/// Out is so far from the core, ridge periods.
const OUT: f64 = 4.0;
/// Valleys are taken that lie so near the core: from behind to ahead in the direction in which it opens, and on either side, ridge
/// periods.
const BEHIND: f64 = 0.5;
const AHEAD: f64 = 2.0;
const ASIDE: f64 = 0.75;
/// A valley is at least this deep against the typical ridge.
const DEEP: f32 = 0.3;
/// Less than the first is no valley of its own, less than the second a pore or the end of a valley, enclosed by no ridge; square ridge
/// periods.
const LEAST_AREAS: [f64; 2] = [0.5, 1.2];
/// From this height on what encloses a valley is called a ridge: no typical loop of the handbook reaches it.
pub const CLOSED: f64 = 0.4;
/// Heights are cut to this.
const MOST: f64 = 1.2;
/// The ray behind which a way winds starts so far ahead of the core, ridge periods: the middle of a pocket lies ahead of its core.
const RAY_AHEAD: f64 = 1.5;

/// Measures the enclosure at a core that opens in a direction (radians).
pub fn enclosure(field: &RidgeField, core: Point, opening: f64, period: f64) -> Enclosure {
    let window = Window::around(field, core, period);
    if window.typical <= 0.0 {
        return Enclosure::default();
    }
    // Along the opening and square to it, from a place.
    let (sine, cosine) = opening.sin_cos();
    let seen_from = |from: Point, p: Point| {
        let (right, down) = (p.x - from.x, p.y - from.y);
        (right * cosine - down * sine, right * sine + down * cosine)
    };
    let near = window.flags(|p| {
        let (ahead, aside) = seen_from(core, p);
        (-BEHIND * period..=AHEAD * period).contains(&ahead) && aside.abs() <= ASIDE * period
    });
    let out = window.flags(|p| core.distance(p) >= OUT * period);
    // Nothing is asked of what lies farther out than a pixel and its diagonal neighbour.
    let order = window.by_depth(|p| core.distance(p) < OUT * period + 1.5);
    let middle = core.step(opening, RAY_AHEAD * period);
    // Behind the middle, on which hand of the ray; none ahead of it.
    let hand = |pixel: usize| {
        let (ahead, aside) = seen_from(middle, window.place(pixel));
        (ahead < 0.0).then_some(aside > 0.0)
    };
    let hands: Vec<Option<bool>> = (0..window.depth.len()).map(hand).collect();
    let crosses = |a: usize, b: usize| matches!((hands[a], hands[b]), (Some(a), Some(b)) if a != b);
    let least = LEAST_AREAS.map(|area| (area * period * period) as usize);
    let height = |cut: &dyn Fn(usize, usize) -> bool| {
        window
            .way_out(&order, (&near, &out), least, cut)
            .map_or(0.0, |d| f64::from(d / window.typical).clamp(-MOST, MOST))
    };
    Enclosure { any_way: height(&|_, _| false), without_winding: height(&crosses) }
}

/// The print around a core.
struct Window {
    side: usize,
    corner: Point,
    /// Depth of the print: ridges positive.
    depth: Vec<f32>,
    typical: f32,
}

impl Window {
    fn around(field: &RidgeField, core: Point, period: f64) -> Self {
        let half = (OUT * period).ceil() + 1.0;
        let corner = Point::new(core.x.round() - half, core.y.round() - half);
        let side = 2 * half as usize + 1;
        let at = |x: usize, y: usize| {
            let place = [(corner.y + y as f64) as isize, (corner.x + x as f64) as isize].map(usize::try_from);
            let [Ok(row), Ok(column)] = place else { return 0.0 };
            -field.print_in_bends([row, column])
        };
        let depth: Vec<f32> = (0..side * side).map(|i| at(i % side, i / side)).collect();
        let typical = (depth.iter().map(|d| d * d).sum::<f32>() / depth.len() as f32).sqrt();
        Self { side, corner, depth, typical }
    }

    fn place(&self, pixel: usize) -> Point {
        Point::new(self.corner.x + (pixel % self.side) as f64, self.corner.y + (pixel / self.side) as f64)
    }

    fn flags(&self, of: impl Fn(Point) -> bool) -> Vec<bool> {
        (0..self.depth.len()).map(|i| of(self.place(i))).collect()
    }

    /// Pixels from the deepest valley to the highest ridge.
    fn by_depth(&self, of: impl Fn(Point) -> bool) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.depth.len()).filter(|&i| of(self.place(i))).collect();
        order.sort_unstable_by(|&a, &b| self.depth[a].total_cmp(&self.depth[b]).then(a.cmp(&b)));
        order
    }

    /// The greatest depth at which a flooded area that holds a `near` valley first joins one that holds an `out` pixel, when the print is
    /// flooded in this `order`, from its valleys up; areas with fewer pixels than `least` says are no valleys or enclosed by no ridge, and `cut` parts
    /// neighbours. The first such join where no valley is large enough.
    fn way_out(
        &self,
        order: &[usize],
        (near, out): (&[bool], &[bool]),
        least: [usize; 2],
        cut: &dyn Fn(usize, usize) -> bool,
    ) -> Option<f32> {
        let mut pools = Pools::new(self.depth.len());
        let (mut highest, mut first): (Option<f32>, Option<f32>) = (None, None);
        for &pixel in order {
            let depth = self.depth[pixel];
            pools.flood(pixel, near[pixel] && depth < -DEEP * self.typical, out[pixel]);
            let column = pixel % self.side;
            let beside = [
                (column > 0).then(|| pixel - 1),
                (column + 1 < self.side).then_some(pixel + 1),
                pixel.checked_sub(self.side),
                Some(pixel + self.side).filter(|n| *n < self.depth.len()),
            ];
            for next in beside.into_iter().flatten() {
                if pools.flooded(next)
                    && !cut(pixel, next)
                    && let Some(enclosed) = pools.join(pixel, next)
                {
                    first = first.or(Some(depth));
                    let depth = if enclosed >= least[1] { depth } else { depth.min(0.0) };
                    if enclosed >= least[0] {
                        highest = Some(highest.map_or(depth, |h| h.max(depth)));
                    }
                }
            }
        }
        highest.or(first)
    }
}

/// Areas that grow together (union-find: Tarjan 1975).
struct Pools {
    parent: Vec<usize>,
    size: Vec<usize>,
    near: Vec<bool>,
    out: Vec<bool>,
}

impl Pools {
    /// Not yet flooded.
    const DRY: usize = usize::MAX;

    fn new(pixels: usize) -> Self {
        Self {
            parent: vec![Self::DRY; pixels],
            size: vec![1; pixels],
            near: vec![false; pixels],
            out: vec![false; pixels],
        }
    }

    fn flood(&mut self, pixel: usize, near: bool, out: bool) {
        (self.parent[pixel], self.near[pixel], self.out[pixel]) = (pixel, near, out);
    }

    fn flooded(&self, pixel: usize) -> bool {
        self.parent[pixel] != Self::DRY
    }

    fn root(&mut self, mut pixel: usize) -> usize {
        while self.parent[pixel] != pixel {
            self.parent[pixel] = self.parent[self.parent[pixel]];
            pixel = self.parent[pixel];
        }
        pixel
    }

    /// Joins two areas; the size of the one near the core where that reaches out by this.
    fn join(&mut self, a: usize, b: usize) -> Option<usize> {
        let (a, b) = (self.root(a), self.root(b));
        if a == b {
            return None;
        }
        let escaped = [(a, b), (b, a)].into_iter().find(|&(i, o)| self.near[i] && !self.out[i] && self.out[o]);
        let size = escaped.map(|(inside, _)| self.size[inside]);
        let (large, small) = if self.size[a] >= self.size[b] { (a, b) } else { (b, a) };
        self.parent[small] = large;
        self.size[large] += self.size[small];
        self.near[large] |= self.near[small];
        self.out[large] |= self.out[small];
        size
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;
    use std::f64::consts::PI;

    const PERIOD: f64 = 9.0;
    const MIDDLE: Point = Point { x: 80.0, y: 80.0 };

    /// Waves of this many turns (right, down from the middle).
    fn field_of(turns: impl Fn(f64, f64) -> f64) -> RidgeField {
        let cells = (40, 40);
        let on = Array2::from_elem(cells, true);
        let mut field = RidgeField::from_vectors(Array2::ones(cells), Array2::zeros(cells), on, 4, PERIOD as f32);
        field.unfiltered = Array2::from_shape_fn((160, 160), |(y, x)| {
            (2.0 * PI * turns(x as f64 - MIDDLE.x, y as f64 - MIDDLE.y)).cos() as f32
        });
        field
    }

    fn of(field: &RidgeField) -> Enclosure {
        enclosure(field, MIDDLE, 1.5 * PI, PERIOD)
    }

    #[test]
    fn circles_enclose_recurves_do_not_and_a_spiral_lets_out_only_who_winds() {
        // Ridges half a period off the middle, so that a valley lies there.
        let circles = of(&field_of(|x, y| x.hypot(y) / PERIOD));
        assert!(circles.any_way > 0.8 && circles.without_winding > 0.8, "{circles:?}");
        let recurves = of(&field_of(|x, y| if y < 0.0 { x.hypot(y) / PERIOD } else { x.abs() / PERIOD }));
        assert!(recurves.any_way < -0.8 && recurves.without_winding < -0.8, "{recurves:?}");
        let spiral = of(&field_of(|x, y| x.hypot(y) / PERIOD + y.atan2(x) / (2.0 * PI)));
        assert!(spiral.any_way < 0.0 && spiral.without_winding > 0.8, "{spiral:?}");
    }
}
