//! The walk of one print through the rooms, a line a room.

use crate::error::Error;
use crate::field::spectrum::SpectrumAnalyser;
use crate::field::{self, FieldSettings, RidgeField};
use crate::geometry::Frame;
use crate::impression::Impression;
use crate::intake::{self, IntakeSettings};
use crate::pattern::decide::{self, DecisionModel, Pattern};
use crate::pattern::loop_or_tent::LoopOrTent;
use crate::pattern::pocket::Pocket;
use crate::pattern::reading::{self, Asked, RidgeReading};
use crate::pattern::reasons;
use crate::pattern::subtype::{Prior, WhorlModel};
use crate::pattern::upright;
use crate::proposal::{Proposal, Reason, Status, refine, write};
use crate::ridge::RidgeSettings;
use crate::singular::{self, SingularSettings, Singularities};
use std::sync::Mutex;

/// Settings of every room.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// Scale and polarity.
    pub intake: IntakeSettings,
    /// Ridge field.
    pub field: FieldSettings,
    /// Cores and deltas.
    pub singular: SingularSettings,
    /// Ridge lines.
    pub ridge: RidgeSettings,
    /// What is assumed about the kinds of whorl before a print is seen.
    pub prior: Prior,
    /// When to abstain.
    pub abstain: AbstainSettings,
}

/// When no reading is proposed.
#[derive(Debug, Clone)]
pub struct AbstainSettings {
    /// Without a core, a flow steeper than this (0 level, 1 upright) is no arch but a part of a print that lacks its
    /// pattern area; arches drawn for the fitting stay below.
    pub steepest_arch: f64,
    /// A preferred reading less probable than this is not proposed.
    pub least_probability: f64,
}

impl Default for AbstainSettings {
    fn default() -> Self {
        Self { steepest_arch: 0.55, least_probability: 0.45 }
    }
}

/// A proposal with what it was read from, for pictures and for those who look closer.
#[derive(Debug, Clone)]
pub struct Examination {
    /// The proposal.
    pub proposal: Proposal,
    /// The ridge field in working pixels; none when the print never got that far.
    pub field: Option<RidgeField>,
    /// From working pixels to pixels of the original image.
    pub to_original: Frame,
    /// All cores and deltas that were weighed, in working pixels.
    pub found: Singularities,
    /// Probability of each pattern in the order of [`Pattern::ALL`], as flow and sight tell them before single ridges are read; none where nothing was decided.
    pub before_ridges: Option<[f64; 5]>,
    /// What was read on the ridges: count line, delta line, traced ridge, in working pixels.
    pub ridges: RidgeReading,
}

/// Screens prints one at a time; share one among threads.
///
/// Holds the tables and buffers that one print leaves for the next. The result never depends on what was screened before.
pub struct Screener {
    settings: Settings,
    model: DecisionModel,
    whorls: WhorlModel,
    tents: LoopOrTent,
    analysers: Mutex<Vec<SpectrumAnalyser>>,
}

impl Screener {
    /// A screener with the given settings.
    pub fn new(settings: Settings) -> Self {
        Self {
            settings,
            model: DecisionModel::embedded(),
            whorls: WhorlModel::embedded(),
            tents: LoopOrTent::embedded(),
            analysers: Mutex::new(Vec::new()),
        }
    }

    /// The settings in force.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Screens one print.
    ///
    /// # Errors
    /// When the impression itself is unusable (its fields contradict each other); a print that cannot be read is an
    /// abstention instead.
    pub fn screen(&self, print: &Impression) -> Result<Proposal, Error> {
        Ok(self.examine(print)?.proposal)
    }

    /// Screens one print and keeps what the proposal was read from.
    ///
    /// # Errors
    /// As [`Screener::screen`].
    pub fn examine(&self, print: &Impression) -> Result<Examination, Error> {
        check(print)?;
        let mut working = match intake::prepare(print, &self.settings.intake) {
            Ok(working) => working,
            Err(unfit) => return Ok(abstained(print, vec![Reason::new(unfit.rule(), unfit.to_string())])),
        };
        let usable = |field: &RidgeField| field.foreground_area() >= f64::from(self.settings.field.least_area_px2);
        let mut field = self.field(&working);
        let mut found = Singularities::default();
        let mut lie = None;
        if usable(&field) {
            found = singular::find(&field, &self.settings.singular);
            lie = upright::lie(&found, field.median_period());
        }
        if let Some(quarters) = lie.map(|l| l.quarters).filter(|q| *q != 0) {
            working = working.turned(quarters);
            field = self.field(&working);
            found = singular::find(&field, &self.settings.singular);
        }
        let mut proposal = write::abstention(&working, Vec::new());
        let (mut before_ridges, mut ridges) = (None, RidgeReading::default());
        if !usable(&field) {
            let reason = "No area of ridges is large and clear enough to show a pattern.";
            proposal.reasons.insert(0, Reason::new("no usable ridges", reason));
        } else {
            proposal.field = Some(write::field_facts(&field, &working.to_original));
            (before_ridges, ridges) =
                self.decide(&mut proposal, &field, &found, [&working.to_original, &print.to_original]);
            proposal.reasons.extend(lie.and_then(reasons::lie));
        }
        Ok(Examination { proposal, field: Some(field), to_original: working.to_original, found, before_ridges, ridges })
    }

    fn field(&self, working: &Impression) -> RidgeField {
        self.with_analyser(|a| field::estimate(working.pixels.view(), &self.settings.field, a))
    }

    /// The probabilities of the patterns before ridges are read, and what is read on the ridges.
    fn decide(
        &self,
        proposal: &mut Proposal,
        field: &RidgeField,
        found: &Singularities,
        // From the working image and from the print as given.
        [to_original, given]: [&Frame; 2],
    ) -> (Option<[f64; 5]>, RidgeReading) {
        proposal.cores = write::core_marks(found, to_original);
        proposal.deltas = write::delta_marks(found, to_original, given);
        let mut readings = decide::readings(field, found);
        let by_facts = self.model.probabilities(&readings);
        let by_sight = found.sight.as_ref().map(decide::by_sight);
        let probabilities = by_sight.map_or(by_facts, |p| self.model.with_sight(by_facts, p));
        let pattern = DecisionModel::prefer(&probabilities);
        let Some(evidence) = readings.first_mut().map(|r| &mut r.evidence) else {
            return (None, RidgeReading::default());
        };
        let before_ridges = Some(probabilities);
        if matches!(pattern, Pattern::PlainArch | Pattern::TentedArch) {
            evidence.measure_bends(field);
        }
        let limits = &self.settings.abstain;
        let refusal = if evidence.main_core.is_none() && evidence.steepness > limits.steepest_arch {
            Some(Reason::new(
                "pattern area not printed",
                "No core is printed and the flow is too steep for an arch: the part that decides the pattern lies outside.",
            ))
        } else if of_class(&probabilities, pattern) < limits.least_probability {
            Some(Reason::new(
                "undecided",
                format!("No pattern reaches a probability of {:.0} %.", 100.0 * limits.least_probability),
            ))
        } else {
            None
        };
        if let Some(reason) = refusal {
            proposal.reasons.insert(0, reason);
            return (before_ridges, RidgeReading::default());
        }
        let of = |pattern: Pattern| probabilities[pattern as usize];
        let (whorl, tented) = (of(Pattern::Whorl), of(Pattern::TentedArch));
        let looped = of(Pattern::LeftLoop).max(of(Pattern::RightLoop));
        let asked = Asked { pattern, whorl, tented, looped, bend: evidence.bend_at };
        let (ridge, whorls) = (&self.settings.ridge, &self.whorls);
        let read = reading::read(field, found, asked, ridge, whorls, self.settings.prior);
        // A whorl without a sound recurve before its inner delta is a loop.
        let (pattern, probabilities, read) = match read.pocket.clone().filter(Pocket::is_spoiled) {
            Some(pocket) => {
                let shifted = pocket.as_loop(&probabilities, limits.least_probability);
                match DecisionModel::prefer(&shifted) {
                    slant @ (Pattern::LeftLoop | Pattern::RightLoop) => {
                        (slant, shifted, reading::read_as_loop(field, read, pocket, ridge, whorls))
                    }
                    _ => (pattern, shifted, read),
                }
            }
            None => (pattern, probabilities, read),
        };
        // Where it looks like a tented arch, the ridges between delta and core may speak for a loop.
        let (pattern, probabilities, read) = match read.weighed(&self.tents, &probabilities) {
            None => (pattern, probabilities, read),
            Some(weighed) => match DecisionModel::prefer(&weighed) {
                // What could not be proposed stays as it was told before.
                preferred if of_class(&weighed, preferred) < limits.least_probability => (pattern, probabilities, read),
                slant @ (Pattern::LeftLoop | Pattern::RightLoop) => (slant, weighed, read.taken_as_loop()),
                Pattern::TentedArch => (pattern, weighed, read),
                _ => (pattern, probabilities, read),
            },
        };
        write::settle(proposal, pattern, &probabilities);
        proposal.off_print = reasons::off_print(pattern, found);
        let remarks = std::mem::take(&mut proposal.reasons);
        proposal.reasons = reasons::reasons(pattern, evidence, found, read.pocket.is_some());
        proposal.reasons.extend(found.sight.as_ref().map(reasons::at_first_sight));
        refine::refine(proposal, &read);
        proposal.reasons.extend(remarks);
        debug_assert_eq!(proposal.status, Status::Proposed);
        (before_ridges, read)
    }

    fn with_analyser<T>(&self, use_it: impl FnOnce(&mut SpectrumAnalyser) -> T) -> T {
        let pooled = self.analysers.lock().map(|mut pool| pool.pop()).unwrap_or(None);
        let mut analyser = pooled.unwrap_or_else(|| SpectrumAnalyser::new(self.settings.field.spectrum.clone()));
        let result = use_it(&mut analyser);
        if let Ok(mut pool) = self.analysers.lock() {
            pool.push(analyser);
        }
        result
    }
}

impl Default for Screener {
    fn default() -> Self {
        Self::new(Settings::default())
    }
}

impl std::fmt::Debug for Screener {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Screener").field("settings", &self.settings).finish_non_exhaustive()
    }
}

/// The probability of the class of a pattern: arch, loop of a slant, or whorl.
fn of_class(probabilities: &[f64; 5], pattern: Pattern) -> f64 {
    let general = |pattern| write::reading(pattern, 1.0).general;
    Pattern::ALL.iter().zip(probabilities).filter(|(p, _)| general(**p) == general(pattern)).map(|(_, p)| p).sum()
}

fn abstained(print: &Impression, reasons: Vec<Reason>) -> Examination {
    Examination {
        proposal: write::abstention(print, reasons),
        field: None,
        to_original: print.to_original,
        found: Singularities::default(),
        before_ridges: None,
        ridges: RidgeReading::default(),
    }
}

fn check(print: &Impression) -> Result<(), Error> {
    if print.pixels.is_empty() {
        return Err(Error::bad_value("image", "it has no pixels"));
    }
    if print.pixels.iter().any(|v| !v.is_finite()) {
        return Err(Error::bad_value("image", "it holds values that are not finite numbers"));
    }
    if let Some(finger) = print.finger.filter(|f| !(1..=10).contains(f)) {
        return Err(Error::bad_value("finger", format!("{finger} is not a finger position 1 to 10")));
    }
    if let Some(ppi) = print.ppi {
        crate::impression::check_ppi(ppi)?;
    }
    Ok(())
}
