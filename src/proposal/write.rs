//! From what was found to the proposal: coordinates back to the original image, readings ordered, reasons in words.

use super::notation;
use super::{
    ADVISORY, CoreMark, DeltaMark, FieldFacts, General, ImageFacts, LEAST_REFERENCE_PROBABILITY, LoopFacts, Proposal,
    Reading, Reason, SCHEMA, Side, Status, Subclass, WhorlFacts,
};
use crate::field::RidgeField;
use crate::geometry::{Frame, Point};
use crate::impression::Impression;
use crate::pattern::decide::Pattern;
use crate::singular::{Candidate, PointKind, Singularities};

/// Radius that holds a point of a round normal distribution with 95 % probability, in standard deviations: the square
/// root of the 95 % point of chi-squared with two degrees of freedom.
const RADIUS_95: f64 = 2.447_7;

/// A proposal with the facts of the image and nothing else, abstaining for `reasons`.
pub fn abstention(print: &Impression, reasons: Vec<Reason>) -> Proposal {
    let (width_px, height_px) = print.original_size;
    let remarks = print.remarks.iter().map(|text| Reason::new("image", text.clone()));
    Proposal {
        schema: SCHEMA.into(),
        advisory: ADVISORY.into(),
        source: print.source.clone(),
        part: print.part.clone(),
        finger: print.finger,
        image: ImageFacts { width_px, height_px, ppi: ppi_as_given(print), ppi_from: print.ppi_from },
        field: None,
        cores: Vec::new(),
        deltas: Vec::new(),
        off_print: Vec::new(),
        status: Status::Abstained,
        pattern: None,
        references: Vec::new(),
        loop_: None,
        whorl: None,
        card_notation: None,
        ncic: None,
        reasons: reasons.into_iter().chain(remarks).collect(),
        seconds: None,
    }
}

/// Pixels per inch of the image as it was given, whatever it was brought to for working; `None` when unknown.
fn ppi_as_given(print: &Impression) -> Option<f64> {
    print.ppi.map(|ppi| round(ppi * print.to_original.scale(), 2))
}

/// The field in three numbers; lengths in pixels of the original image.
pub fn field_facts(field: &RidgeField, to_original: &Frame) -> FieldFacts {
    FieldFacts {
        foreground_fraction: round(field.foreground_fraction(), 4),
        ridge_period_px: round(field.median_period() * to_original.scale(), 2),
        coherence: round(field.mean_coherence(), 4),
    }
}

/// The chosen cores, most certain first, in pixels of the original image.
pub fn core_marks(found: &Singularities, to_original: &Frame) -> Vec<CoreMark> {
    let mut marks: Vec<CoreMark> = found
        .chosen(PointKind::Core)
        .map(|c| {
            let at = to_original.apply(c.at);
            CoreMark {
                x: round(at.x, 1),
                y: round(at.y, 1),
                direction_deg: degrees(c.directions[0], to_original),
                radius_px: radius(c, to_original),
                confidence: round(c.confidence, 3),
            }
        })
        .collect();
    marks.sort_by(|a, b| b.confidence.total_cmp(&a.confidence).then(a.y.total_cmp(&b.y)).then(a.x.total_cmp(&b.x)));
    marks
}

/// The chosen deltas in pixels of the original image, from left to right on the print that `given` leads from to the original, as its
/// picture shows it.
pub fn delta_marks(found: &Singularities, to_original: &Frame, given: &Frame) -> Vec<DeltaMark> {
    let mut marks: Vec<DeltaMark> = found
        .chosen(PointKind::Delta)
        .map(|d| {
            let at = to_original.apply(d.at);
            let mut directions_deg = d.directions.map(|a| degrees(a, to_original));
            directions_deg.sort_by(f64::total_cmp);
            DeltaMark {
                x: round(at.x, 1),
                y: round(at.y, 1),
                directions_deg,
                radius_px: radius(d, to_original),
                confidence: round(d.confidence, 3),
            }
        })
        .collect();
    let shown = |mark: &DeltaMark| given.invert(Point::new(mark.x, mark.y));
    marks.sort_by(|a, b| shown(a).x.total_cmp(&shown(b).x).then(a.y.total_cmp(&b.y)));
    marks
}

fn radius(c: &Candidate, to_original: &Frame) -> f64 {
    round(RADIUS_95 * c.sigma_px * to_original.scale(), 1)
}

fn degrees(angle: f64, to_original: &Frame) -> f64 {
    round(to_original.direction(angle).to_degrees(), 1) % 360.0
}

/// The reading of a pattern, without what a later step settles (whorl subtype, tracing).
pub fn reading(pattern: Pattern, probability: f64) -> Reading {
    let (general, subclass) = match pattern {
        Pattern::PlainArch => (General::Au, Some(Subclass::Pa)),
        Pattern::TentedArch => (General::Au, Some(Subclass::Ta)),
        Pattern::LeftLoop => (General::Ls, None),
        Pattern::RightLoop => (General::Rs, None),
        Pattern::Whorl => (General::Wu, None),
    };
    Reading { general, subclass, tracing: None, probability }
}

/// Fills the proposal in from the probability of each pattern: preferred reading, references, marks.
pub fn settle(proposal: &mut Proposal, preferred: Pattern, probabilities: &[f64; 5]) {
    let mut order: Vec<usize> = (0..Pattern::ALL.len()).collect();
    let first = |i: usize| Pattern::ALL[i] != preferred;
    order
        .sort_by(|&a, &b| (first(a), probabilities[b]).partial_cmp(&(first(b), probabilities[a])).unwrap_or(a.cmp(&b)));
    // Rounded down, so that the sum never exceeds one.
    let share = |i: usize| (probabilities[i] * 1e4).floor() / 1e4;
    let best = reading(Pattern::ALL[order[0]], share(order[0]));
    proposal.status = Status::Proposed;
    proposal.references = order[1..]
        .iter()
        .filter(|&&i| share(i) >= LEAST_REFERENCE_PROBABILITY)
        .map(|&i| reading(Pattern::ALL[i], share(i)))
        .collect();
    proposal.loop_ = match best.general {
        General::Ls => Some(Side::Left),
        General::Rs => Some(Side::Right),
        _ => None,
    }
    .map(|side| LoopFacts { side, hand: proposal.finger.map(|f| notation::hand(side, f)), ridge_count: None });
    proposal.whorl = (best.general == General::Wu).then_some(WhorlFacts {
        recurves_cut: None,
        clearance_ridges: None,
        tracing: None,
    });
    proposal.card_notation = notation::card_notation(&best, proposal.loop_.as_ref(), proposal.finger);
    proposal.ncic = notation::ncic(&best);
    proposal.pattern = Some(best);
}

/// Rounds to `digits` decimals, so that the same input gives the same text.
pub fn round(value: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    let rounded = (value * scale).round() / scale;
    if rounded == 0.0 { 0.0 } else { rounded }
}
