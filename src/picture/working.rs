//! How ridges were counted and traced, as lines and ticks.

use super::overlay::{Overlay, Role};
use crate::geometry::Point;
use crate::pattern::reading::RidgeReading;
use std::f64::consts::FRAC_PI_2;

/// Every `n`-th point of a way is enough for a drawing, and its last.
fn thinned(points: &[Point], n: usize) -> Vec<Point> {
    points.iter().copied().step_by(n).chain(points.last().copied()).collect()
}

/// The working behind a proposal: the count line with each counted ridge ticked; the line between the deltas with the recurves it cuts;
/// the two recurves that speak for or against a double loop; the looping ridge that speaks for a loop where a print looks like a tented arch; the appendages that spoil a pocket; angle, upthrust and recurve at the centre of an arch; the traced ridge with the ridges
/// between it and the right delta numbered; a point that all this stands on and that is too doubtful to be marked. Places are working pixels.
pub fn working(reading: &RidgeReading) -> Vec<Overlay> {
    let mut out = Vec::new();
    for line in reading.type_lines.iter().flat_map(|t| t.lines.iter().flatten()) {
        out.extend(line.pieces.iter().map(|piece| Overlay::line(Role::TypeLine, thinned(piece, 3))));
    }
    if let Some(line) = reading.counted.as_ref().map(|c| &c.shown) {
        let across = line.delta.at.direction_to(line.core.at) + FRAC_PI_2;
        out.push(Overlay::line(Role::CountLine, vec![line.delta.at, line.core.at]));
        for (ridge, number) in line.ridges.iter().zip(&line.numbers) {
            out.push(Overlay::tick(Role::CountLine, ridge.at, across, Some(*number)));
        }
        for leg in &line.core.recurve.legs {
            out.push(Overlay::line(Role::Recurve, thinned(&leg.points, 3)));
        }
    }
    if let Some(ridge) = reading.shown_looping_ridge() {
        out.push(Overlay::line(Role::LoopingRidge, thinned(ridge, 3)));
    }
    if let Some(tent) = &reading.tent {
        let recurve = tent.recurve.iter().flat_map(|recurve| &recurve.legs).map(|leg| &leg.points);
        out.extend(recurve.map(|ridge| Overlay::line(Role::Recurve, thinned(ridge, 3))));
        let angle = tent.definite_angle().into_iter().flat_map(|angle| &angle.legs);
        let ridges = angle.chain(tent.upthrust.iter().map(|upthrust| &upthrust.ridge));
        out.extend(ridges.map(|ridge| Overlay::line(Role::Tent, thinned(ridge, 3))));
    }
    if let Some(pocket) = reading.pocket.as_ref().filter(|pocket| pocket.is_spoiled()) {
        for stalk in &pocket.spoiled {
            let across = stalk.tip.direction_to(stalk.ridge.last().copied().unwrap_or(pocket.delta)) + FRAC_PI_2;
            out.push(Overlay::line(Role::Appendage, stalk.ridge.clone()));
            out.push(Overlay::tick(Role::Appendage, stalk.tip, across, None));
        }
    }
    if let Some(line) = reading.whorl.as_ref().and_then(|w| w.delta_line) {
        let (left, right) = line.ends;
        out.push(Overlay::line(Role::DeltaLine, vec![left, right]));
        for (at, path) in &reading.cut {
            out.push(Overlay::line(Role::CutRecurve, thinned(path, 3)));
            out.push(Overlay::tick(Role::CutRecurve, *at, left.direction_to(right) + FRAC_PI_2, None));
        }
    }
    if let Some((loops, _)) = reading.decisive_loops() {
        out.extend(loops.ridges.iter().map(|ridge| Overlay::line(Role::Recurve, thinned(ridge, 3))));
    }
    if let Some(traced) = reading.tracings.as_ref().and_then(|t| t.preferred.as_ref()) {
        out.push(Overlay::line(Role::TracedRidge, thinned(&traced.path, 3)));
        if let (Some(from), Some(right)) = (traced.path.last(), reading.tracings.as_ref().and_then(|t| t.right)) {
            out.push(Overlay::line(Role::BetweenLine, vec![*from, right.at]));
            let across = from.direction_to(right.at) + FRAC_PI_2;
            for (i, ridge) in traced.ridges.iter().enumerate() {
                out.push(Overlay::tick(Role::BetweenLine, ridge.at, across, Some(i as u16 + 1)));
            }
        }
    }
    for point in &reading.unmarked {
        let text = format!("{}? {:.0} %", point.name(), 100.0 * point.confidence);
        out.push(Overlay::label(Role::CountLine, point.at, text));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pattern::reading::Unmarked;
    use crate::picture::overlay::Shape;
    use crate::singular::PointKind;

    #[test]
    fn a_point_too_doubtful_to_be_marked_is_named_where_the_working_starts_from_it() {
        let at = Point::new(40.0, 60.0);
        let unmarked = vec![Unmarked { kind: PointKind::Delta, at, confidence: 0.28 }];
        let shown = working(&RidgeReading { unmarked, ..Default::default() });
        let label = Shape::Label { at, text: "delta? 28 %".into() };
        assert!(shown.len() == 1 && shown[0].shape == label, "{shown:?}");
    }
}
