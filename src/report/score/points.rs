//! Which reported points are true ones.

use crate::draw::truth_file::{EdgeHint, TruthMark};

/// What came of pairing.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Pairing {
    /// Distance in pixels of every true point that was found.
    pub distances: Vec<f64>,
    /// Reported points that are no true ones.
    pub spurious: usize,
    /// True points that were not reported.
    pub missed: usize,
}

/// An annotator's radius up to this many pixels adds nothing to the tolerance.
const FREE_RADIUS: f64 = 3.0;

/// Pairs reported with true points, nearest first, each used once.
///
/// Two cores marked tight are both found by one reported core between them. A report near a hint counts neither way.
pub(super) fn pair(found: &[(f64, f64)], truth: &[TruthMark], tolerance: f64, hints: &[&EdgeHint]) -> Pairing {
    let distance = |f: &(f64, f64), x: f64, y: f64| (f.0 - x).hypot(f.1 - y);
    let tight: Vec<&TruthMark> = truth.iter().filter(|t| t.tight).collect();
    if let ([a, b], [one]) = (tight.as_slice(), found) {
        let reach = tolerance + (a.x - b.x).hypot(a.y - b.y) / 2.0;
        let d = distance(one, (a.x + b.x) / 2.0, (a.y + b.y) / 2.0);
        if d <= reach {
            return Pairing { distances: vec![d, d], spurious: 0, missed: truth.len() - 2 };
        }
    }
    let mut pairs: Vec<(f64, usize, usize)> = found
        .iter()
        .enumerate()
        .flat_map(|(i, f)| truth.iter().enumerate().map(move |(j, t)| (distance(f, t.x, t.y), i, j)))
        .collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let (mut used_found, mut used_truth) = (vec![false; found.len()], vec![false; truth.len()]);
    let mut pairing = Pairing::default();
    for (d, i, j) in pairs {
        if !used_found[i] && !used_truth[j] && d <= tolerance + (truth[j].r - FREE_RADIUS).max(0.0) {
            (used_found[i], used_truth[j]) = (true, true);
            pairing.distances.push(d);
        }
    }
    let hinted = |f: &(f64, f64)| hints.iter().any(|h| distance(f, h.x, h.y) <= 2.0 * tolerance + h.r);
    pairing.spurious = found.iter().zip(&used_found).filter(|(f, used)| !**used && !hinted(f)).count();
    pairing.missed = used_truth.iter().filter(|used| !**used).count();
    pairing
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(x: f64, y: f64, r: f64, tight: bool) -> TruthMark {
        TruthMark { x, y, r, tight, direction_deg: None }
    }

    #[test]
    fn the_nearest_pair_is_made_first_and_each_point_is_used_once() {
        let truth = [mark(0.0, 0.0, 0.0, false), mark(12.0, 0.0, 0.0, false)];
        // The first report lies 8 px from the left point and 4 px from the right one, the second 3 px from the right one.
        let pairing = pair(&[(8.0, 0.0), (12.0, 3.0)], &truth, 10.0, &[]);
        assert_eq!(pairing.distances, [3.0, 8.0]);
        assert_eq!((pairing.spurious, pairing.missed), (0, 0));
    }

    #[test]
    fn one_core_between_two_tight_ones_finds_both() {
        let truth = [mark(0.0, 0.0, 3.0, true), mark(0.0, 14.0, 3.0, true)];
        let pairing = pair(&[(0.0, 7.0)], &truth, 10.0, &[]);
        assert_eq!(pairing, Pairing { distances: vec![0.0, 0.0], spurious: 0, missed: 0 });
    }

    #[test]
    fn a_report_near_a_hint_is_neither_right_nor_wrong() {
        let hint = EdgeHint { what: "right delta".into(), x: 100.0, y: 100.0, r: 10.0 };
        assert_eq!(pair(&[(100.0, 129.0)], &[], 10.0, &[&hint]).spurious, 0);
        assert_eq!(pair(&[(100.0, 131.0)], &[], 10.0, &[&hint]).spurious, 1);
    }
}
