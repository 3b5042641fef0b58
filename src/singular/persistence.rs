//! Points followed through scales: what survives heavy smoothing is real, what dies early needs other evidence.
//!
//! Smoothing can remove a core only together with a delta (or push it over the border), because the turn along any
//! larger curve stays the same. The scale at which a point disappears going up is its persistence (the idea of
//! scale-space linking: Witkin 1983; of persistence: Edelsbrunner, Letscher and Zomorodian 2002).

use super::index::{self, Turn};
use crate::field::RidgeField;
use crate::geometry::Point;
use ndarray::Array2;

/// Settings of the scale walk.
#[derive(Debug, Clone)]
pub struct PersistenceSettings {
    /// Smoothing widths, finest first, standard deviation in pixels at 500 ppi. A factor of about 1.6 between
    /// neighbours keeps each step's shift below the reach. Without any no point is found.
    pub sigmas_px: Vec<f32>,
    /// A point may shift between neighbouring scales by this many of the coarser sigma ...
    pub reach_sigmas: f64,
    /// ... plus this many pixels.
    pub reach_px: f64,
}

impl Default for PersistenceSettings {
    fn default() -> Self {
        Self { sigmas_px: vec![3.0, 5.0, 8.0, 13.0, 20.0], reach_sigmas: 1.2, reach_px: 5.0 }
    }
}

/// Core or delta.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PointKind {
    /// The orientation turns by plus half a turn.
    Core,
    /// The orientation turns by minus half a turn.
    Delta,
}

/// One point followed through scales.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// Core or delta.
    pub kind: PointKind,
    /// Coarsest scale (index into the settings) at which the point exists.
    pub birth: usize,
    /// Finest scale reached; 0 where all is well.
    pub finest: usize,
    /// Place at the finest scale reached, working pixels.
    pub at: Point,
    /// Place at the coarsest scale, working pixels.
    pub at_birth: Point,
}

/// Follows all points of a field from the coarsest scale to the finest. `scales` holds its doubled-angle vectors at the scales of the
/// settings, [`RidgeField::smoothed`].
pub fn chains(field: &RidgeField, scales: &[(Array2<f32>, Array2<f32>)], settings: &PersistenceSettings) -> Vec<Chain> {
    let mut chains: Vec<Chain> = Vec::new();
    for (level, (cos2, sin2)) in scales.iter().enumerate().rev() {
        let turns = index::turns(cos2, sin2, &field.foreground);
        let reach = settings
            .sigmas_px
            .get(level + 1)
            .map_or(0.0, |&coarser| f64::from(coarser) * settings.reach_sigmas + settings.reach_px);
        link(&mut chains, field, &turns, level, reach);
    }
    chains.sort_by(|a, b| {
        (b.birth, a.kind).cmp(&(a.birth, b.kind)).then(a.at.y.total_cmp(&b.at.y)).then(a.at.x.total_cmp(&b.at.x))
    });
    chains
}

/// Continues the chains of the next coarser level with this level's turns, nearest pairs first; the rest are born here.
fn link(chains: &mut Vec<Chain>, field: &RidgeField, turns: &[Turn], level: usize, reach: f64) {
    let points: Vec<(PointKind, Point)> = turns.iter().flat_map(|t| unit_points(field, t)).collect();
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (i, chain) in chains.iter().enumerate().filter(|(_, c)| c.finest == level + 1) {
        for (j, (kind, at)) in points.iter().enumerate() {
            let distance = chain.at.distance(*at);
            if *kind == chain.kind && distance <= reach {
                pairs.push((distance, i, j));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut taken = vec![false; points.len()];
    for (_, i, j) in pairs {
        if chains[i].finest == level + 1 && !taken[j] {
            taken[j] = true;
            chains[i].finest = level;
            chains[i].at = points[j].1;
        }
    }
    for ((kind, at), _) in points.into_iter().zip(taken).filter(|(_, taken)| !taken) {
        chains.push(Chain { kind, birth: level, finest: level, at, at_birth: at });
    }
}

/// A square with a whole turn counts as two points side by side.
fn unit_points(field: &RidgeField, turn: &Turn) -> impl Iterator<Item = (PointKind, Point)> {
    let kind = if turn.half_turns > 0 { PointKind::Core } else { PointKind::Delta };
    let centre = field.centre(f64::from(turn.row), f64::from(turn.column));
    let count = turn.half_turns.unsigned_abs() as usize;
    (0..count).map(move |i| (kind, Point::new(centre.x + 2.0 * i as f64 - (count as f64 - 1.0), centre.y)))
}
