//! Readings in the trade's words, short enough for a table.

use crate::proposal::{General, Hand, LoopFacts, Reading, Subclass};

/// A reading in a few words, as in "central pocket loop, meeting" or "left-slant loop, ulnar, 14". `facts` adds what is
/// known of a loop, the last number being its ridge count; what is not settled is left out.
///
/// ```
/// use recurve::proposal::{General, Reading, Subclass, Tracing};
/// let whorl = Reading {
///     general: General::Wu, subclass: Some(Subclass::Pw), tracing: Some(Tracing::M), probability: 0.9,
/// };
/// assert_eq!(recurve::report::reading_in_words(&whorl, None), "plain whorl, meeting");
/// ```
pub fn reading_in_words(reading: &Reading, facts: Option<&LoopFacts>) -> String {
    let mut words = vec![pattern(reading.general, reading.subclass).to_owned()];
    words.extend(reading.tracing.map(|t| t.name().to_owned()));
    if let (General::Ls | General::Rs, Some(facts)) = (reading.general, facts) {
        words.extend(facts.hand.map(|hand| match hand {
            Hand::Ulnar => "ulnar".to_owned(),
            Hand::Radial => "radial".to_owned(),
        }));
        words.extend(facts.ridge_count.map(|count| count.best.to_string()));
    }
    words.join(", ")
}

fn pattern(general: General, subclass: Option<Subclass>) -> &'static str {
    match (general, subclass) {
        (General::Au, Some(Subclass::Pa)) => "plain arch",
        (General::Au, Some(Subclass::Ta)) => "tented arch",
        (General::Au, _) => "arch",
        (General::Ls, _) => "left-slant loop",
        (General::Rs, _) => "right-slant loop",
        (General::Wu, Some(Subclass::Pw)) => "plain whorl",
        (General::Wu, Some(Subclass::Cp)) => "central pocket loop",
        (General::Wu, Some(Subclass::Dl)) => "double loop",
        (General::Wu, Some(Subclass::Aw)) => "accidental",
        (General::Wu, _) => "whorl",
        (General::Sr, _) => "complete scar",
        (General::Dr, _) => "dissociated ridges",
        (General::Up, _) => "unable to print",
        (General::Uc, _) => "unable to classify",
        (General::Xx, _) => "amputation",
    }
}

/// A probability as a whole percentage that claims neither certainty nor impossibility where none was given.
///
/// ```
/// use recurve::report::percent;
/// assert_eq!(percent(0.974), "97 %");
/// assert_eq!(percent(0.998), ">99 %");
/// assert_eq!(percent(0.001), "<1 %");
/// ```
pub fn percent(probability: f64) -> String {
    let whole = (100.0 * probability).round();
    if !probability.is_finite() {
        "?".to_owned()
    } else if probability < 1.0 && whole >= 100.0 {
        ">99 %".to_owned()
    } else if probability > 0.0 && whole < 1.0 {
        "<1 %".to_owned()
    } else {
        format!("{whole:.0} %")
    }
}
