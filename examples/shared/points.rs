//! Found cores and deltas against true ones, by one rule for drawn and real prints.
//!
//! A mark finds a true point when it lies within the reach, widened by what the reader's own uncertainty exceeds
//! [`FREE_UNCERTAINTY_PX`]; nearest pairs first, each mark and each point once. Of two cores marked tight (a concentric or
//! tightly wound centre, which the standard lets count as one) a single mark between them finds both. A mark near a place
//! where the truth is doubtful (a delta on the very border of the print) counts neither way.

use recurve::draw::truth_file::{EdgeHint, TruthLine, TruthMark};
use recurve::geometry::Point;
use recurve::proposal::Proposal;
use recurve::singular::PointKind;

/// Reach within which a mark finds a point, pixels at 500 ppi: just over one ridge period.
pub const REACH_PX: f64 = 10.0;
/// A reader's uncertainty up to this does not widen the reach, pixels.
const FREE_UNCERTAINTY_PX: f64 = 3.0;
/// Around a doubtful place a mark counts neither way within so many reaches.
const DOUBTFUL_REACHES: f64 = 2.0;

/// How the marks of one kind on one print, or on many, compare with the truth.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Matched {
    /// Distance of each true point that was found, pixels.
    pub distances: Vec<f64>,
    /// Marks where no point is.
    pub spurious: usize,
    /// True points without a mark.
    pub missed: usize,
}

impl Matched {
    /// Whether every point was found and nothing else marked.
    pub fn clean(&self) -> bool {
        self.spurious == 0 && self.missed == 0
    }

    /// Adds another print's.
    pub fn add(&mut self, other: &Matched) {
        self.distances.extend(&other.distances);
        self.spurious += other.spurious;
        self.missed += other.missed;
    }

    /// True points.
    pub fn truths(&self) -> usize {
        self.distances.len() + self.missed
    }

    /// Marks that count.
    pub fn marks(&self) -> usize {
        self.distances.len() + self.spurious
    }

    /// Median distance of the found points, pixels.
    pub fn median(&self) -> Option<f64> {
        let mut sorted = self.distances.clone();
        sorted.sort_by(f64::total_cmp);
        sorted.get(sorted.len() / 2).copied()
    }
}

/// Compares the marks of a proposal with a line of truth; `None` where the truth has no points marked.
pub fn compare(proposal: &Proposal, truth: &TruthLine, kind: PointKind) -> Option<Matched> {
    let (word, marks) = match kind {
        PointKind::Core => ("core", &truth.cores),
        PointKind::Delta => ("delta", &truth.deltas),
    };
    let hints: Vec<&EdgeHint> = truth.edge_hint.iter().filter(|h| h.what.contains(word)).collect();
    let reach = REACH_PX * truth.ppi.unwrap_or(500.0) / 500.0;
    Some(matched(&found(proposal, kind), marks.as_ref()?, &hints, reach))
}

/// The marks of a proposal.
pub fn found(proposal: &Proposal, kind: PointKind) -> Vec<Point> {
    match kind {
        PointKind::Core => proposal.cores.iter().map(|c| Point::new(c.x, c.y)).collect(),
        PointKind::Delta => proposal.deltas.iter().map(|d| Point::new(d.x, d.y)).collect(),
    }
}

/// Compares marks with true points.
pub fn matched(found: &[Point], truth: &[TruthMark], hints: &[&EdgeHint], reach: f64) -> Matched {
    if let Some(both) = one_mark_for_a_tight_pair(found, truth, reach) {
        return both;
    }
    let distance = |f: &Point, t: &TruthMark| f.distance(Point::new(t.x, t.y));
    let mut pairs = Vec::new();
    for (i, f) in found.iter().enumerate() {
        for (j, t) in truth.iter().enumerate() {
            if distance(f, t) <= reach + (t.r - FREE_UNCERTAINTY_PX).max(0.0) {
                pairs.push((distance(f, t), i, j));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let (mut used, mut seen, mut distances) = (vec![false; found.len()], vec![false; truth.len()], Vec::new());
    for (d, i, j) in pairs {
        if !used[i] && !seen[j] {
            (used[i], seen[j]) = (true, true);
            distances.push(d);
        }
    }
    let doubtful = |f: &Point| hints.iter().any(|h| f.distance(Point::new(h.x, h.y)) <= DOUBTFUL_REACHES * reach + h.r);
    let spurious = found.iter().zip(&used).filter(|(f, used)| !**used && !doubtful(f)).count();
    Matched { distances, spurious, missed: seen.iter().filter(|s| !**s).count() }
}

fn one_mark_for_a_tight_pair(found: &[Point], truth: &[TruthMark], reach: f64) -> Option<Matched> {
    let tight: Vec<Point> = truth.iter().filter(|t| t.tight).map(|t| Point::new(t.x, t.y)).collect();
    let ([a, b], [mark]) = (tight.as_slice(), found) else { return None };
    let d = mark.distance(a.lerp(*b, 0.5));
    let within = d <= reach + 0.5 * a.distance(*b);
    within.then(|| Matched { distances: vec![d, d], spurious: 0, missed: truth.len() - 2 })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: f64, r: f64, tight: bool) -> TruthMark {
        TruthMark { x, y: 0.0, r, tight, direction_deg: None }
    }

    fn marks(xs: &[f64]) -> Vec<Point> {
        xs.iter().map(|x| Point::new(*x, 0.0)).collect()
    }

    #[test]
    fn each_point_is_found_once_and_the_nearest_pair_goes_first() {
        let m = matched(&marks(&[4.0, 1.0, 60.0]), &[at(0.0, 0.0, false), at(100.0, 0.0, false)], &[], 10.0);
        assert_eq!(m, Matched { distances: vec![1.0], spurious: 2, missed: 1 });
        assert!(!m.clean());
    }

    #[test]
    fn a_readers_uncertainty_beyond_three_pixels_widens_the_reach() {
        let near = |r| matched(&marks(&[14.0]), &[at(0.0, r, false)], &[], 10.0).missed;
        assert_eq!((near(3.0), near(6.0), near(7.0)), (1, 1, 0));
    }

    #[test]
    fn one_mark_between_two_tight_cores_finds_both_but_one_mark_between_two_wide_ones_does_not() {
        let tight = matched(&marks(&[7.0]), &[at(0.0, 0.0, true), at(14.0, 0.0, true)], &[], 10.0);
        assert_eq!((tight.truths(), tight.missed, tight.median()), (2, 0, Some(0.0)));
        let wide = matched(&marks(&[7.0]), &[at(0.0, 0.0, false), at(14.0, 0.0, false)], &[], 10.0);
        assert_eq!(wide.missed, 1);
    }

    #[test]
    fn a_mark_at_a_doubtful_place_counts_neither_way() {
        let hint = EdgeHint { what: "right delta".into(), x: 50.0, y: 0.0, r: 5.0 };
        assert!(matched(&marks(&[74.0]), &[], &[&hint], 10.0).clean());
        assert_eq!(matched(&marks(&[76.0]), &[], &[&hint], 10.0).spurious, 1);
    }
}
