//! Which way up a print lies, from its cores and deltas.
//!
//! Left and right delta, left and right slant have a meaning only on an upright print. On a finger that points up the deltas lie below the
//! cores and two deltas side by side (handbook, chapter II: left and right delta; the turns from which a print is turned are our own). A
//! mirrored print cannot be told from the other hand's.

use crate::geometry::{Frame, Point, direction_difference};
use crate::impression::Impression;
use crate::singular::{Candidate, PointKind, Singularities};
use ndarray::Axis;
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
    let up = a.direction_to(b) + FRAC_PI_2 * aside.signum();
    let turn = direction_difference(up, FRAC_PI_2);
    let quarters = if turn.abs() < ASKEW { 0 } else { (-turn / FRAC_PI_2).round().rem_euclid(4.0) as u8 };
    Some(Lie { turn, quarters })
}

/// The print turned counter-clockwise as seen by so many quarters; places on it still lead back to the original image.
pub fn turned(print: &Impression, quarters: u8) -> Impression {
    let (rows, columns) = print.pixels.dim();
    let (width, height) = (columns as f64, rows as f64);
    let mut pixels = print.pixels.view();
    // The way back, and which axes run backward.
    let (frame, backward): (Frame, &[usize]) = match quarters % 4 {
        0 => (Frame::IDENTITY, &[]),
        1 => (Frame::new(1.0, -FRAC_PI_2, width - 1.0, 0.0), &[0]),
        2 => (Frame::new(1.0, PI, width - 1.0, height - 1.0), &[0, 1]),
        _ => (Frame::new(1.0, FRAC_PI_2, 0.0, height - 1.0), &[1]),
    };
    if quarters % 2 == 1 {
        pixels = pixels.reversed_axes();
    }
    for axis in backward {
        pixels.invert_axis(Axis(*axis));
    }
    Impression {
        pixels: pixels.as_standard_layout().into_owned(),
        to_original: frame.then(&print.to_original),
        source: print.source.clone(),
        part: print.part.clone(),
        remarks: print.remarks.clone(),
        ..*print
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_on_a_turned_print_lead_back() {
        let gray: Vec<u8> = (0..12).map(|i| 20 * i).collect();
        let print = Impression::from_gray8(4, 3, &gray, None).unwrap();
        for quarters in 0..4 {
            let turned = turned(&print, quarters);
            assert_eq!(turned.pixels.dim(), if quarters % 2 == 0 { (3, 4) } else { (4, 3) });
            for ((row, column), value) in turned.pixels.indexed_iter() {
                let at = turned.to_original.apply(Point::new(column as f64, row as f64));
                assert_eq!(*value, print.pixels[[at.y.round() as usize, at.x.round() as usize]], "{quarters}");
            }
        }
        // Counter-clockwise as seen: the upper right corner comes to the upper left.
        assert_eq!(turned(&print, 1).pixels[[0, 0]], print.pixels[[0, 3]]);
    }
}
