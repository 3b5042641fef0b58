//! Ten fingers to the written classification.
//!
//! The room knows calls, not images. [`TenFingers`] holds what is said of each finger: typed by hand
//! ([`TenFingers::from_text`]), read from a file ([`TenFingers::from_json`], [`TenFingers::from_csv`]), from the twenty
//! characters of the NCIC code ([`ncic::decode`]) or from proposals ([`TenFingers::from_proposals`]). [`classify`] gives
//! lacking fingers a value, writes the formula, and lists every other classification in which the card must be searched.
//!
//! The rules are those of FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision), chapters IV to VII, one
//! file a rule; where sources differ there is a setting, the handbook's way as default.
//!
//! ```
//! use recurve::formula::{Settings, TenFingers, classify};
//!
//! // The card of fig. 353: the final comes from the left little finger, the middle finger's tracing is doubtful.
//! let card = TenFingers::from_text("1=U22 2=U11 3=U19 4=W:O 5=W:O 6=U18 7=U10 8=W:M|W:I 9=W:I 10=U13")?;
//! let classification = classify(&card, &Settings::default())?;
//! assert_eq!(classification.formula.line(), "22 M 11 U OOO over L 6 U OMI 13");
//! assert!(classification.references.list.iter().any(|other| other.formula.line() == "M 11 U OOO over L 6 U OII"));
//! # Ok::<(), recurve::Error>(())
//! ```

pub mod call;
pub mod division;
pub mod explain;
pub mod extension;
pub mod filing;
pub mod final_;
pub mod finger;
mod from_proposal;
pub mod key;
pub mod major;
pub mod margin;
pub mod marks;
pub mod ncic;
pub mod primary;
mod read;
pub mod record;
pub mod reference;
pub mod secondary;
pub mod settings;
pub mod standard;
pub mod subsecondary;
pub mod substitute;
pub mod text;
pub mod written;

pub use call::{Call, Count, FingerCall, Pattern, Patterns, TenFingers, WhorlKind};
pub use division::Over;
pub use finger::{Finger, Place};
pub use reference::{Reference, References};
pub use settings::Settings;
pub use substitute::File;
pub use written::Formula;

use crate::error::Error;
use crate::proposal::Reason;

/// All extensions that can be formed, whether or not the settings write them into the formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extensions {
    /// Second subsecondary.
    pub second_subsecondary: Option<extension::SecondSubsecondary>,
    /// WCDX extension.
    pub wcdx: Option<extension::Wcdx>,
    /// Special loop extension.
    pub special_loop: Option<extension::SpecialLoop>,
}

impl Extensions {
    fn of(patterns: &Patterns, settings: &Settings) -> Self {
        Self {
            second_subsecondary: extension::second_subsecondary(patterns, settings.extension_gap).ok(),
            wcdx: extension::wcdx(patterns, settings.extension_gap).ok(),
            special_loop: extension::special_loop(patterns, settings.special_loop_little).ok(),
        }
    }

    /// Those that can be formed, with their names, as written.
    pub fn named(&self) -> impl Iterator<Item = (&'static str, Over<String>)> {
        let second =
            self.second_subsecondary.map(|rows| ("second subsecondary", Over::new(rows.row(true), rows.row(false))));
        let wcdx = self.wcdx.map(|rows| ("WCDX", Over::new(rows.row(true), rows.row(false))));
        let special = self.special_loop.map(|rows| ("special loop", Over::new(rows.row(true), rows.row(false))));
        [second, wcdx, special].into_iter().flatten()
    }
}

/// The classification of a card. A proposal for an examiner, never an identification.
#[derive(Debug)]
pub struct Classification {
    /// What was called.
    pub fingers: TenFingers,
    /// What each finger counts as after substitution.
    pub patterns: Patterns,
    /// Where the card is filed.
    pub file: File,
    /// The preferred classification.
    pub formula: Formula,
    /// Extensions that can be formed.
    pub extensions: Extensions,
    /// The NCIC code, or which finger has none and why.
    pub ncic: Result<String, Error>,
    /// How far around key and final to search.
    pub margins: margin::Margins,
    /// Every other classification to be searched.
    pub references: References,
    /// Substitutions first, then each part of the formula.
    pub reasons: Vec<Reason>,
    /// The settings used.
    pub settings: Settings,
}

/// Classifies a card.
///
/// # Errors
/// When the settings refuse a substitution; the finger is named.
pub fn classify(card: &TenFingers, settings: &Settings) -> Result<Classification, Error> {
    let substituted = substitute::substitute(card, settings.substitution)?;
    let patterns = substituted.patterns;
    let formula = Formula { amputation: substituted.file == File::Amputation, ..written::formula(&patterns, settings) };
    let mut reasons: Vec<Reason> = substituted.given.iter().map(|(_, reason)| reason.clone()).collect();
    reasons.extend(explain::explain(&patterns, &formula, settings));
    Ok(Classification {
        fingers: card.clone(),
        patterns,
        file: substituted.file,
        extensions: Extensions::of(&patterns, settings),
        ncic: ncic::encode(card, settings.ncic),
        margins: margin::margins(card, &patterns, &formula, &settings.references),
        references: reference::references(card, &substituted, settings),
        formula,
        reasons,
        settings: *settings,
    })
}
