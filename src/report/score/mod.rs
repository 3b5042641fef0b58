//! How proposals, or a trainee's answers, agree with the truth.
//!
//! The figures are defined so that anybody can check them with a few lines of their own: a print counts as right in general
//! when the general class is right; a loop of unknown slant (the truth says only "loop") is right with either slant; an
//! abstention counts in the denominator of the general figures and nowhere else. A point is found within 10 px at 500 ppi,
//! or 1.1 ridge periods where the scale is unknown, plus what the annotator's own radius exceeds 3 px.
//!
//! | file | holds |
//! |---|---|
//! | `truth` | the truth: JSON Lines or the handbook's table |
//! | `answers` | proposals as JSON Lines, or a trainee's CSV |
//! | `matching` | which rows meet which prints |
//! | `points` | pairing of found and true points |
//! | `tally` | the figures |
//! | `kappa` | Cohen's kappa with its interval |
//! | `calibration` | what probabilities are worth |
//! | `page` | a page to print |

mod answers;
mod calibration;
mod kappa;
mod matching;
mod page;
mod points;
mod tally;
mod truth;

pub use answers::{Answer, Answers, OtherReading};
pub use calibration::{Bin, Calibration};
pub use kappa::{Kappa, cohen};
pub use matching::Matching;
pub use page::{calibration_picture, coverage_picture, html};
pub use tally::{PointFigures, Report, Rules, Wrong, score};
pub use truth::{True, TruthTable};
