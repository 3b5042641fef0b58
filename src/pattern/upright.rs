//! Which way up a print lies, from its cores and deltas.
//!
//! Left and right delta, left and right slant have a meaning only on an upright print. On a finger that points up the deltas lie below the
//! cores and two deltas side by side (handbook, chapter II: left and right delta; the turns from which a print is turned are our own). A
//! mirrored print cannot be told from the other hand's; who knows says so ([`crate::intake::IntakeSettings::mirrored`]).

use crate::geometry::{Point, direction_difference};
use crate::singular::{Candidate, PointKind, Singularities};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_3, PI};

/// How a print lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lie {
    /// Turn of the finger's tip away from the top of the image, radians counter-clockwise as seen, -pi to pi.
    pub turn: f64,
    /// Quarter turns counter-clockwise that bring it upright, 0 to 3.
    pub quarters: u8,
}

/// Only points as sure as this say how a print lies.
const SURE: f64 = 0.8;
/// Two deltas stand apart, and the cores clear of the line between them, by so many ridge periods.
const APART: f64 = 6.0;
const CLEAR: f64 = 2.5;
/// An inner delta close by the cores, as of a central pocket loop, may stand anywhere about them. Where the nearer of two deltas lies less than
/// this far from the cores, of the other's distance, and the other below them by so much of its own, the print stands as it should.
const ALIKE: f64 = 0.55;
const BELOW: f64 = 0.25;
/// A delta so many ridge periods above the core of a loop that opens upward shows the print upside down.
const ABOVE: f64 = 3.0;
/// A print that lies askew by less than this is read as it lies, radians (60 degrees): whorls are drawn out slantwise on many fingers.
const ASKEW: f64 = FRAC_PI_3;

/// How the print lies; none where its points do not say. A loop tells only whether it stands on its head, because its own slant hides a
/// smaller turn.
pub fn lie(found: &Singularities, period: f64) -> Option<Lie> {
    let of = |kind| found.chosen(kind).filter(|c| c.confidence >= SURE).collect::<Vec<&Candidate>>();
    let (cores, deltas) = (of(PointKind::Core), of(PointKind::Delta));
    match (cores.as_slice(), deltas.as_slice()) {
        ([], _) | (_, []) => None,
        ([core], [delta]) => {
            let upward = direction_difference(core.directions[0], FRAC_PI_2).abs() < FRAC_PI_3;
            (upward && core.at.y - delta.at.y > ABOVE * period).then_some(Lie { turn: PI, quarters: 2 })
        }
        (_, [_]) => None,
        (_, deltas) => by_deltas(&cores, deltas, period),
    }
}

/// Upright is square to the line between the deltas that lie farthest apart, on the side of the cores.
fn by_deltas(cores: &[&Candidate], deltas: &[&Candidate], period: f64) -> Option<Lie> {
    let pairs = deltas.iter().enumerate().flat_map(|(i, a)| deltas[i + 1..].iter().map(move |b| (a.at, b.at)));
    let (a, b) = pairs.max_by(|p, q| p.0.distance(p.1).total_cmp(&q.0.distance(q.1)))?;
    let n = cores.len() as f64;
    let centre =
        Point::new(cores.iter().map(|c| c.at.x).sum::<f64>() / n, cores.iter().map(|c| c.at.y).sum::<f64>() / n);
    let (_, aside) = super::recurve::along(a, centre, a.direction_to(b));
    if a.distance(b) < APART * period || aside.abs() < CLEAR * period {
        return None;
    }
    let (near, far) = if a.distance(centre) < b.distance(centre) { (a, b) } else { (b, a) };
    if near.distance(centre) < ALIKE * far.distance(centre) && far.y - centre.y > BELOW * far.distance(centre) {
        return None;
    }
    let up = a.direction_to(b) + FRAC_PI_2 * aside.signum();
    let turn = direction_difference(up, FRAC_PI_2);
    let quarters = if turn.abs() < ASKEW { 0 } else { (-turn / FRAC_PI_2).round().rem_euclid(4.0) as u8 };
    Some(Lie { turn, quarters })
}
