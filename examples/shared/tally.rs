//! One drawn print screened and compared with its truth.

use super::points::{self, Matched};
use super::{Class, Drawn, class};
use recurve::Screener;
use recurve::draw::truth_file::TruthLine;
use recurve::draw::{Kind, TrueField};
use recurve::geometry::{Point, orientation_difference};
use recurve::proposal::{General, Proposal, Reading, Subclass};
use recurve::screener::Examination;
use recurve::singular::PointKind;

/// What came of one drawn print.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The seed that draws it again.
    pub seed: u64,
    /// What was drawn.
    pub kind: Kind,
    /// The proposed class with its probability; none when abstained.
    pub call: Option<(Class, f64)>,
    /// Whether the true class is the call or among the references.
    pub named: bool,
    /// Cores against the truth, what is doubtful counting neither way.
    pub cores: Matched,
    /// Deltas likewise.
    pub deltas: Matched,
    /// Points of a core and a delta that nearly cancel, left out of the two above.
    pub doubtful: usize,
    /// Root mean square error of the orientation where both the truth and the program see print, degrees; none where they
    /// share no cell.
    pub orientation_deg: Option<f64>,
    /// Share of the picture's cells that are taken for print wrongly, or wrongly not.
    pub foreground_wrong: f64,
}

impl Outcome {
    /// Whether the class proposed is the true one; an abstention is not.
    pub fn right(&self) -> bool {
        self.call.is_some_and(|(c, _)| c == class(self.kind))
    }

    /// Whether arch, loop or whorl is right.
    pub fn right_of_three(&self) -> bool {
        self.call.is_some_and(|(c, _)| broad(c) == broad(class(self.kind)))
    }

    /// Whether every printed point was found and nothing else marked.
    pub fn whole(&self) -> bool {
        self.cores.clean() && self.deltas.clean()
    }
}

/// Arch, loop or whorl.
pub fn broad(class: Class) -> &'static str {
    match class {
        Class::PlainArch | Class::TentedArch => "arch",
        Class::LeftLoop | Class::RightLoop => "loop",
        Class::Whorl => "whorl",
    }
}

/// The class of a reading; none for codes that are no pattern.
pub fn class_of(reading: &Reading) -> Option<Class> {
    match (reading.general, reading.subclass) {
        (General::Au, Some(Subclass::Ta)) => Some(Class::TentedArch),
        (General::Au, _) => Some(Class::PlainArch),
        (General::Ls, _) => Some(Class::LeftLoop),
        (General::Rs, _) => Some(Class::RightLoop),
        (General::Wu, _) => Some(Class::Whorl),
        _ => None,
    }
}

/// The proposed class with its probability: that of all readings of the class together, whatever kind of whorl or tracing
/// they name.
pub fn call(proposal: &Proposal) -> Option<(Class, f64)> {
    let class = class_of(proposal.pattern.as_ref()?)?;
    let readings = proposal.pattern.iter().chain(&proposal.references);
    Some((class, readings.filter(|r| class_of(r) == Some(class)).map(|r| r.probability).sum()))
}

/// Whether `wanted` holds for the proposed class or one of the references.
pub fn named(proposal: &Proposal, wanted: impl Fn(Class) -> bool) -> bool {
    proposal.pattern.iter().chain(&proposal.references).filter_map(class_of).any(wanted)
}

/// Screens a drawn print and compares.
pub fn look(screener: &Screener, drawn: &Drawn, seed: u64) -> Result<Outcome, recurve::Error> {
    Ok(judge(&screener.examine(&drawn.print)?, drawn, seed))
}

/// Compares an examination with the truth.
pub fn judge(seen: &Examination, drawn: &Drawn, seed: u64) -> Outcome {
    let truth = &drawn.truth;
    let line = TruthLine::of(truth, "drawn", &drawn.print.source, None, seed);
    let against = |kind| points::compare(&seen.proposal, &line, kind).unwrap_or_default();
    let (orientation_deg, foreground_wrong) = compare_field(seen, &truth.field);
    Outcome {
        seed,
        kind: truth.kind,
        call: call(&seen.proposal),
        named: named(&seen.proposal, |c| c == class(truth.kind)),
        cores: against(PointKind::Core),
        deltas: against(PointKind::Delta),
        doubtful: truth.cores.iter().chain(&truth.deltas).filter(|p| p.printed && p.doubtful).count(),
        orientation_deg,
        foreground_wrong,
    }
}

/// Orientation error in degrees and share of wrong foreground, on the cells of the truth.
fn compare_field(seen: &Examination, truth: &TrueField) -> (Option<f64>, f64) {
    let (mut square, mut shared, mut wrong) = (0.0, 0usize, 0usize);
    for ((row, column), &printed) in truth.foreground.indexed_iter() {
        let at = |i: usize| (i as f64 + 0.5) * TrueField::CELL as f64 - 0.5;
        let place = seen.to_original.invert(Point::new(at(column), at(row)));
        let field = seen.field.as_ref().filter(|f| f.on_print(place));
        wrong += usize::from(field.is_some() != printed);
        if let Some(field) = field.filter(|_| printed) {
            let angle = seen.to_original.direction(field.orientation_at(place));
            let error = orientation_difference(angle, f64::from(truth.orientation[[row, column]]));
            square += error * error;
            shared += 1;
        }
    }
    let rms = (shared > 0).then(|| (square / shared as f64).sqrt().to_degrees());
    (rms, wrong as f64 / truth.foreground.len().max(1) as f64)
}
