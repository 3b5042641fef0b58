//! What is proposed for one print, why, and what else it might be.
//!
//! The types here *are* the result format `recurve.proposal/1`: they serialise to one JSON line a print. Coordinates are
//! pixels of the original image (origin at the centre of the top-left pixel, x right, y down), angles are degrees
//! counter-clockwise from image right.

pub mod notation;
pub mod refine;
pub mod write;

use crate::impression::PpiFrom;
use serde::{Deserialize, Serialize};

/// The name and version of the result format.
pub const SCHEMA: &str = "recurve.proposal/1";

/// The sentence that goes wherever a result is shown.
pub const ADVISORY: &str = "Proposal for a qualified examiner to confirm. Not an identification.";

/// References below this probability are not shown.
pub const LEAST_REFERENCE_PROBABILITY: f64 = 0.02;

/// Everything proposed for one print.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// Always [`ADVISORY`].
    pub advisory: String,
    /// The name of the input, usually its path.
    pub source: String,
    /// Page or block inside the input.
    pub part: Option<String>,
    /// Finger position 1 to 10, if known.
    pub finger: Option<u8>,
    /// The image as it was given.
    pub image: ImageFacts,
    /// The ridge flow in three numbers; null when no ridges were found.
    pub field: Option<FieldFacts>,
    /// Cores, most certain first.
    pub cores: Vec<CoreMark>,
    /// Deltas from left to right.
    pub deltas: Vec<DeltaMark>,
    /// What must lie outside the printed area, as in "right delta".
    pub off_print: Vec<String>,
    /// Proposed or abstained.
    pub status: Status,
    /// The preferred reading; null when abstained.
    pub pattern: Option<Reading>,
    /// Every other reading that an examiner should see, most probable first.
    pub references: Vec<Reading>,
    /// Only for loops.
    #[serde(rename = "loop")]
    pub loop_: Option<LoopFacts>,
    /// Only for whorls.
    pub whorl: Option<WhorlFacts>,
    /// The marks a classifier would write on the card; null when not settled.
    pub card_notation: Option<CardNotation>,
    /// The NCIC two-character code; null when not settled.
    pub ncic: Option<String>,
    /// The rules that decided, in the trade's words, and remarks about the image.
    pub reasons: Vec<Reason>,
    /// Processing time; left out on request.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub seconds: Option<f64>,
}

/// The image as it was given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ImageFacts {
    /// Width in pixels.
    pub width_px: usize,
    /// Height in pixels.
    pub height_px: usize,
    /// Pixels per inch of the image as it was given; `None` with `ppi_from` = `ridges`.
    pub ppi: Option<f64>,
    /// Where `ppi` came from.
    pub ppi_from: PpiFrom,
}

/// The ridge flow in three numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FieldFacts {
    /// Share of the image that bears usable ridges, 0 to 1.
    pub foreground_fraction: f64,
    /// Median distance from ridge to ridge in pixels of the original image.
    pub ridge_period_px: f64,
    /// Mean coherence of the flow on the foreground, 0 (none) to 1 (parallel).
    pub coherence: f64,
}

/// A core: the focal point of a recurving ridge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CoreMark {
    /// Pixels from the left.
    pub x: f64,
    /// Pixels from the top.
    pub y: f64,
    /// Where the recurve opens to, degrees modulo 360.
    pub direction_deg: f64,
    /// Radius in pixels that holds the true point with 95 % probability.
    pub radius_px: f64,
    /// Probability that there is a core here.
    pub confidence: f64,
}

/// A delta: the centre of a triangular flow.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DeltaMark {
    /// Pixels from the left.
    pub x: f64,
    /// Pixels from the top.
    pub y: f64,
    /// The three directions in which ridges run away from the delta, ascending degrees modulo 360.
    pub directions_deg: [f64; 3],
    /// Radius in pixels that holds the true point with 95 % probability.
    pub radius_px: f64,
    /// Probability that there is a delta here.
    pub confidence: f64,
}

/// Whether a reading is proposed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Status {
    /// A reading is proposed.
    Proposed,
    /// The print does not allow a reading; the reasons say why.
    Abstained,
}

/// General class, by its ANSI/NIST-ITL code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum General {
    /// Arch.
    Au,
    /// Loop whose open end leaves to the left, on the print as it was read (upright, and not mirrored).
    Ls,
    /// Loop whose open end leaves to the right.
    Rs,
    /// Whorl.
    Wu,
    /// Complete scar.
    Sr,
    /// Dissociated ridges.
    Dr,
    /// Unable to print.
    Up,
    /// Unable to classify.
    Uc,
    /// Amputation.
    Xx,
}

/// Subclass of an arch or a whorl, by its ANSI/NIST-ITL code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "UPPERCASE")]
pub enum Subclass {
    /// Plain arch.
    Pa,
    /// Tented arch.
    Ta,
    /// Plain whorl.
    Pw,
    /// Central pocket loop.
    Cp,
    /// Double loop.
    Dl,
    /// Accidental whorl.
    Aw,
}

/// Whorl tracing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Tracing {
    /// Inner.
    I,
    /// Meeting.
    M,
    /// Outer.
    O,
}

impl Tracing {
    /// The trade's name.
    pub fn name(self) -> &'static str {
        match self {
            Tracing::I => "inner",
            Tracing::M => "meeting",
            Tracing::O => "outer",
        }
    }
}

/// One way to read the print.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// General class.
    pub general: General,
    /// Subclass, where it is settled.
    pub subclass: Option<Subclass>,
    /// Tracing, where it is settled.
    pub tracing: Option<Tracing>,
    /// Calibrated probability; of a loop that a spoiled pocket leaves a division that is assumed (`pattern/pocket.rs`).
    pub probability: f64,
}

/// The side to which a loop opens, on the print as it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// Image left.
    Left,
    /// Image right.
    Right,
}

/// The side of the hand to which a loop flows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Hand {
    /// Toward the little finger.
    Ulnar,
    /// Toward the thumb.
    Radial,
}

/// What is known of a loop.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LoopFacts {
    /// Side to which the loop opens, on the print as it was read.
    pub side: Side,
    /// Ulnar or radial; only when the finger is known.
    pub hand: Option<Hand>,
    /// Ridges between delta and core; null when not counted.
    pub ridge_count: Option<RidgeCount>,
}

/// A ridge count with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct RidgeCount {
    /// The preferred count.
    pub best: u16,
    /// The least count that the doubt in delta and core allows.
    pub min: u16,
    /// The greatest count.
    pub max: u16,
}

/// What is known of a whorl.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct WhorlFacts {
    /// Recurving ridges of the inner pattern area that the line between the deltas cuts.
    pub recurves_cut: Option<u16>,
    /// Distance in ridges from the delta line to the nearest recurve (negative: the line cuts recurves).
    pub clearance_ridges: Option<f64>,
    /// The tracing.
    pub tracing: Option<TracingFacts>,
}

/// A tracing with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TracingFacts {
    /// The preferred tracing.
    pub best: Tracing,
    /// Ridges between the traced ridge and the right delta.
    pub ridges_between: u16,
    /// The least number of them.
    pub min: u16,
    /// The greatest number of them.
    pub max: u16,
    /// Probability of each tracing.
    pub probabilities: TracingProbabilities,
}

impl TracingFacts {
    /// A tracing less probable than this is less likely than the others together.
    const LIKELY: f64 = 0.5;

    /// Whether the preferred tracing is at least as likely as the others together; else it is the probable one and no more.
    pub fn is_likely(&self) -> bool {
        self.probabilities.most() >= Self::LIKELY
    }
}

/// Probability of each tracing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[allow(non_snake_case, reason = "the letters are the codes of the standard and of the result format")]
pub struct TracingProbabilities {
    /// Inner.
    pub I: f64,
    /// Meeting.
    pub M: f64,
    /// Outer.
    pub O: f64,
}

impl TracingProbabilities {
    /// The greatest of the three.
    pub fn most(&self) -> f64 {
        self.I.max(self.M).max(self.O)
    }
}

/// The marks a classifier would write in the finger's block.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CardNotation {
    /// Under the print.
    pub below: String,
    /// In the upper right corner.
    pub upper_right: Option<String>,
}

/// Why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reason {
    /// The rule, in the trade's words.
    pub rule: String,
    /// What it found on this print.
    pub text: String,
}

/// Rules of reasons that question what was screened, more than how it was read.
pub(crate) const PRINT_UPRIGHT: &str = "print upright";
pub(crate) const RADIAL_IS_RARE: &str = "radial loop: rare on this finger";
pub(crate) const ONE_PRINT_OR_MORE: &str = "one print or more";

impl Reason {
    /// Whether it questions what was screened (a print that lies turned, a card taken for one print, a loop that is rare on its finger): to be seen
    /// before the reading is.
    pub fn questions_the_print(&self) -> bool {
        [PRINT_UPRIGHT, RADIAL_IS_RARE, ONE_PRINT_OR_MORE].contains(&self.rule.as_str())
    }

    /// A reason from the rule's name and the finding.
    pub fn new(rule: impl Into<String>, text: impl Into<String>) -> Self {
        Self { rule: rule.into(), text: text.into() }
    }
}
