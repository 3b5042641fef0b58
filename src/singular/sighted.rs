//! The network's points among those that the flow shows.
//!
//! A point that the network sees where the flow turns is that turn, and the network's place is the truer one; a point that it
//! sees where the flow, smoothed too far, does not turn is a candidate of its own.

use super::{Candidate, PointKind};
use crate::geometry::{Point, direction_difference};
use crate::network::{Mark, Peak, Sight};
use std::f64::consts::{FRAC_PI_2, PI};

/// Settings of the join.
#[derive(Debug, Clone)]
pub struct SightedSettings {
    /// A turn of the flow this near to a seen point is that point, ridge periods.
    pub same_periods: f64,
    /// Standard deviation of a seen place on each axis, pixels: of a firm point on a clear print, and what is added where nothing is seen
    /// and where nothing is clear. Drawn prints: 1.5 px in the mean of good ones, 2.4 to 4 of poor ones.
    pub sigma_px: [f64; 3],
    /// Points seen fainter than this are no candidates of their own, 0 to 1.
    pub faintest_alone: f64,
    /// Points that appear together in the flow are real together or not at all, unless their strengths differ by more than this.
    pub pair_apart: f64,
}

impl Default for SightedSettings {
    fn default() -> Self {
        Self { same_periods: 2.0, sigma_px: [1.2, 1.6, 1.6], faintest_alone: 0.1, pair_apart: 0.5 }
    }
}

/// The kind of point of a mark.
fn kind(mark: Mark) -> PointKind {
    match mark {
        Mark::LoopCore | Mark::UpturnedCore => PointKind::Core,
        Mark::Delta => PointKind::Delta,
    }
}

/// Whether a core's opening and its mark agree; a delta's always do.
fn agrees(mark: Mark, direction: f64) -> bool {
    let off = |toward: f64| direction_difference(direction, toward).abs();
    match mark {
        Mark::LoopCore => off(1.5 * PI) <= FARTHEST_OFF,
        Mark::UpturnedCore => off(FRAC_PI_2) <= FARTHEST_OFF,
        Mark::Delta => true,
    }
}

/// A core that opens this far off its mark's direction is another core, radians: a right angle and some doubt.
const FARTHEST_OFF: f64 = 2.0;

/// Joins what is seen with the candidates: marks those that are seen, moves them, and adds the rest by `new`.
pub(super) fn join(
    candidates: &mut Vec<Candidate>,
    sight: &Sight,
    period: f64,
    settings: &SightedSettings,
    new: impl Fn(PointKind, Point) -> Candidate,
) {
    let mut links: Vec<(f64, usize, usize)> = Vec::new();
    for (i, c) in candidates.iter().enumerate() {
        for (j, peak) in sight.peaks.iter().enumerate() {
            let distance = c.at.distance(peak.at) / period;
            if kind(peak.mark) == c.kind && distance <= settings.same_periods && agrees(peak.mark, c.directions[0]) {
                links.push((distance, i, j));
            }
        }
    }
    links.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut taken = vec![false; sight.peaks.len()];
    let mut met = vec![false; candidates.len()];
    for (_, i, j) in links {
        if !met[i] && !taken[j] {
            (met[i], taken[j]) = (true, true);
            let (c, peak) = (&mut candidates[i], &sight.peaks[j]);
            c.sight = peak.strength;
            c.at = peak.at;
            c.sigma_px = sigma(c, settings);
        }
    }
    for i in 0..candidates.len() {
        if let Some(p) = candidates[i].partner
            && (candidates[i].sight - candidates[p].sight).abs() > settings.pair_apart
        {
            (candidates[i].partner, candidates[p].partner) = (None, None);
        }
    }
    let alone = sight.peaks.iter().zip(&taken).filter(|(p, taken)| !**taken && p.strength >= settings.faintest_alone);
    candidates.extend(alone.map(|(peak, _)| {
        let mut c = turned(new(kind(peak.mark), peak.at), peak);
        c.sight = peak.strength;
        c.sigma_px = sigma(&c, settings);
        c
    }));
}

fn sigma(c: &Candidate, settings: &SightedSettings) -> f64 {
    let [clear, unseen, unclear] = settings.sigma_px;
    clear + unseen * (1.0 - c.sight) + unclear * (1.0 - c.clarity)
}

/// A core opens the way its mark says: where the turn of the flow has been smoothed away, the ring around it tells nothing.
fn turned(mut c: Candidate, peak: &Peak) -> Candidate {
    if !agrees(peak.mark, c.directions[0]) {
        c.directions = [if peak.mark == Mark::LoopCore { 1.5 * PI } else { FRAC_PI_2 }; 3];
    }
    c.at = peak.at;
    c
}
