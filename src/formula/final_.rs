//! The final: the count of a little finger.

use super::call::{Pattern, Patterns};
use super::division::LeftOut;
use super::finger::Finger;
use super::key::Counted;
use super::settings::WhorlFinal;

/// The finger whose count is the final: a loop in the right little finger, else a loop in the left one, else, as far as the
/// setting allows, a whorl in the right or the left one whose count is given.
///
/// # Errors
/// When there is none.
pub fn final_finger(patterns: &Patterns, whorls: WhorlFinal) -> Result<Finger, LeftOut> {
    let littles = [Finger::RIGHT_LITTLE, Finger::LEFT_LITTLE];
    let first = |test: fn(&Pattern) -> bool| littles.into_iter().find(|finger| test(patterns.finger(*finger)));
    if let Some(finger) = first(Pattern::is_loop) {
        return Ok(finger);
    }
    if littles.iter().all(|finger| patterns.finger(*finger).is_arch()) {
        return Err(LeftOut::LittleArches);
    }
    let all_whorls = Finger::ALL.iter().all(|finger| patterns.finger(*finger).is_whorl());
    match whorls {
        WhorlFinal::Never => Err(LeftOut::BySetting),
        WhorlFinal::AllWhorlsOnly if !all_whorls => Err(LeftOut::BySetting),
        WhorlFinal::AllWhorlsOnly | WhorlFinal::WhenCounted => {
            let counted = first(|pattern| pattern.is_whorl() && pattern.count().is_some());
            counted.or_else(|| first(Pattern::is_whorl)).ok_or(LeftOut::NoFinger)
        }
    }
}

/// The final, written at the far right: of the numerator when it comes from the right little finger, of the denominator when
/// from the left.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "The final".
///
/// # Errors
/// When no finger gives a final or its count is not known.
pub fn final_count(patterns: &Patterns, whorls: WhorlFinal) -> Result<Counted, LeftOut> {
    let finger = final_finger(patterns, whorls)?;
    Counted::of(finger, patterns.finger(finger))
}
