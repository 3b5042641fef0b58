//! A point's place below a pixel, its uncertainty, and its directions.
//!
//! Near a core or delta the doubled-angle vector is linear in the place: written as a complex number it is
//! `a z + b conj(z) + c`, with `|a| > |b|` at a core (it turns with the place) and `|b| > |a|` at a delta (it turns
//! against it). The fit gives the zero; its residual gives the covariance. Directions come from the average over a ring,
//! where ridges are radial: once around a core, three times around a delta (Nilsson and Bigun 2003 use the same symmetry
//! as a filter).

use super::persistence::PointKind;
use crate::field::RidgeField;
use crate::geometry::{Point, wrap_direction};
use ndarray::Array2;
use std::f64::consts::TAU;

/// Settings of the refinement.
#[derive(Debug, Clone)]
pub struct RefineSettings {
    /// Radius of the disc that is fitted, pixels at 500 ppi; about one ridge period.
    pub disc_px: f64,
    /// Farthest move from the start, pixels; farther is not trusted and the start kept.
    pub farthest_px: f64,
    /// Inner radius of the ring that gives the directions, pixels.
    pub ring_inner_px: f64,
    /// Outer radius of the ring, pixels; the standard reads a core's direction at 1.63 mm, 32 pixels at 500 ppi
    /// (ANSI/NIST-ITL 1-2011, field 9.320), a wider ring would meet the next point in many whorls.
    pub ring_outer_px: f64,
    /// Cells within this distance carry the same noise: pixels at 500 ppi.
    pub noise_length_px: f64,
    /// Least uncertainty reported, standard deviation in pixels.
    pub least_sigma_px: f64,
}

impl Default for RefineSettings {
    fn default() -> Self {
        Self {
            disc_px: 10.0,
            farthest_px: 8.0,
            ring_inner_px: 7.0,
            ring_outer_px: 26.0,
            noise_length_px: 8.0,
            least_sigma_px: 0.7,
        }
    }
}

/// A refined point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Refined {
    /// Place in working pixels.
    pub at: Point,
    /// Standard deviation of the place in working pixels (root mean square over both axes).
    pub sigma_px: f64,
    /// Directions in which ridges are radial, radians: one (repeated) at a core, three at a delta.
    pub directions: [f64; 3],
    /// Root mean square difference between the flow on the ring and the ideal point's, radians of orientation.
    pub ring_error: f64,
}

/// Refines one point on lightly smoothed doubled-angle vectors (`cos2`, `sin2` as from [`RidgeField::smoothed`]).
pub fn refine(
    field: &RidgeField,
    cos2: &Array2<f32>,
    sin2: &Array2<f32>,
    kind: PointKind,
    start: Point,
    settings: &RefineSettings,
) -> Refined {
    let (at, sigma_px) = zero_of_linear_fit(field, cos2, sin2, kind, start, settings)
        .filter(|(p, _)| p.distance(start) <= settings.farthest_px)
        .unwrap_or((start, 0.5 * settings.farthest_px));
    let (directions, ring_error) = ring(field, cos2, sin2, kind, at, settings);
    Refined { at, sigma_px: sigma_px.max(settings.least_sigma_px), directions, ring_error }
}

/// Least squares for `v = a z + b conj(z) + c` in a disc; `z` is the offset with y up.
fn zero_of_linear_fit(
    field: &RidgeField,
    cos2: &Array2<f32>,
    sin2: &Array2<f32>,
    kind: PointKind,
    start: Point,
    settings: &RefineSettings,
) -> Option<(Point, f64)> {
    // Real form: each component of v is linear in (x, y): v = g0 + gx x + gy y.
    let (mut n, mut sx, mut sy, mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    let mut sums = [[0.0f64; 3]; 2];
    let mut samples: Vec<(f64, f64, [f64; 2])> = Vec::new();
    for_cells_near(field, start, settings.disc_px, |r, c, dx, dy| {
        let v = [f64::from(cos2[[r, c]]), f64::from(sin2[[r, c]])];
        n += 1.0;
        sx += dx;
        sy += dy;
        sxx += dx * dx;
        sxy += dx * dy;
        syy += dy * dy;
        for (sum, v) in sums.iter_mut().zip(v) {
            sum[0] += v;
            sum[1] += v * dx;
            sum[2] += v * dy;
        }
        samples.push((dx, dy, v));
    });
    if n < 6.0 {
        return None;
    }
    let normal = [[n, sx, sy], [sx, sxx, sxy], [sy, sxy, syy]];
    let [c, s] = [solve3(normal, sums[0])?, solve3(normal, sums[1])?];
    let determinant = c[1] * s[2] - c[2] * s[1];
    // With y up the pattern turns with the place at a core: the determinant is positive there.
    if (kind == PointKind::Core) != (determinant > 0.0) || determinant.abs() < 1e-12 {
        return None;
    }
    let x = (-c[0] * s[2] + s[0] * c[2]) / determinant;
    let y = (-s[0] * c[1] + c[0] * s[1]) / determinant;
    let residual: f64 = samples
        .iter()
        .map(|(dx, dy, v)| {
            let e = [v[0] - c[0] - c[1] * dx - c[2] * dy, v[1] - s[0] - s[1] * dx - s[2] * dy];
            e[0] * e[0] + e[1] * e[1]
        })
        .sum::<f64>()
        / (2.0 * n - 6.0).max(1.0);
    // Cells closer than the noise length are not independent witnesses.
    let cell_area = (field.cell * field.cell) as f64;
    let independent = (n * cell_area / (settings.noise_length_px.powi(2))).max(1.0);
    let slope = determinant.abs().sqrt();
    let sigma = (residual / independent).sqrt() / slope;
    Some((Point::new(start.x + x, start.y - y), sigma))
}

/// The directions in which ridges are radial and how well the ring fits the ideal point.
fn ring(
    field: &RidgeField,
    cos2: &Array2<f32>,
    sin2: &Array2<f32>,
    kind: PointKind,
    at: Point,
    settings: &RefineSettings,
) -> ([f64; 3], f64) {
    let sense = if kind == PointKind::Core { 1.0 } else { -1.0 };
    let (mut re, mut im) = (0.0, 0.0);
    let mut samples = Vec::new();
    for_cells_near(field, at, settings.ring_outer_px, |r, c, dx, dy| {
        let radius = dx.hypot(dy);
        let length = f64::from(cos2[[r, c]].hypot(sin2[[r, c]]));
        if radius < settings.ring_inner_px || length < 1e-6 {
            return;
        }
        // v exp(-+ i phi) is the same all around an ideal point.
        let angle = f64::from(sin2[[r, c]]).atan2(f64::from(cos2[[r, c]])) - sense * dy.atan2(dx);
        let weight = length / radius;
        re += weight * angle.cos();
        im += weight * angle.sin();
        samples.push((angle, weight));
    });
    let offset = im.atan2(re);
    let (mut error, mut mass) = (0.0, 0.0);
    for (angle, weight) in samples {
        let d = 0.5 * crate::geometry::direction_difference(angle, offset);
        error += weight * d * d;
        mass += weight;
    }
    let directions = match kind {
        PointKind::Core => [wrap_direction(offset); 3],
        PointKind::Delta => {
            let mut three: [f64; 3] = std::array::from_fn(|k| wrap_direction((offset + TAU * k as f64) / 3.0));
            three.sort_by(f64::total_cmp);
            three
        }
    };
    (directions, if mass > 0.0 { (error / mass).sqrt() } else { std::f64::consts::FRAC_PI_4 })
}

/// Visits foreground cells within `radius` pixels: row, column, offset right, offset up.
pub(super) fn for_cells_near(
    field: &RidgeField,
    at: Point,
    radius: f64,
    mut visit: impl FnMut(usize, usize, f64, f64),
) {
    let (row, column) = field.node(at);
    let cells = radius / field.cell as f64;
    let clamp = |v: f64, n: usize| v.clamp(0.0, n as f64) as usize;
    let (rows, columns) = field.foreground.dim();
    for r in clamp((row - cells).ceil(), rows)..clamp((row + cells).floor() + 1.0, rows) {
        for c in clamp((column - cells).ceil(), columns)..clamp((column + cells).floor() + 1.0, columns) {
            let p = field.centre(r as f64, c as f64);
            let (dx, dy) = (p.x - at.x, at.y - p.y);
            if field.foreground[[r, c]] && dx.hypot(dy) <= radius {
                visit(r, c, dx, dy);
            }
        }
    }
}

fn solve3(m: [[f64; 3]; 3], v: [f64; 3]) -> Option<[f64; 3]> {
    let det3 = |a: [[f64; 3]; 3]| {
        a[0][0] * (a[1][1] * a[2][2] - a[1][2] * a[2][1]) - a[0][1] * (a[1][0] * a[2][2] - a[1][2] * a[2][0])
            + a[0][2] * (a[1][0] * a[2][1] - a[1][1] * a[2][0])
    };
    let whole = det3(m);
    if whole.abs() < 1e-9 {
        return None;
    }
    Some(std::array::from_fn(|k| {
        let mut replaced = m;
        for (row, value) in replaced.iter_mut().zip(v) {
            row[k] = value;
        }
        det3(replaced) / whole
    }))
}
