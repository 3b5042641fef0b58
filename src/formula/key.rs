//! The key: the count of the first loop on the card.

use super::call::{Pattern, Patterns};
use super::division::LeftOut;
use super::finger::{Finger, Place};

/// A key or a final: an actual count and the finger that gave it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Counted {
    /// The finger.
    pub finger: Finger,
    /// Its ridge count.
    pub ridges: u8,
}

impl Counted {
    /// The preferred count of this finger.
    pub(crate) fn of(finger: Finger, pattern: &Pattern) -> Result<Self, LeftOut> {
        let ridges = pattern.count().and_then(super::call::Count::best).ok_or(LeftOut::NoCount(finger))?;
        Ok(Self { finger, ridges })
    }
}

/// The finger whose count is the key: the first loop from the right thumb on, little fingers left out; with `whorls`, where
/// there is no loop, the first whorl.
pub fn key_finger(patterns: &Patterns, whorls: bool) -> Option<Finger> {
    let mut fingers = Finger::ALL.into_iter().filter(|finger| finger.place() != Place::Little);
    let first = fingers.clone().find(|finger| patterns.finger(*finger).is_loop());
    first.or_else(|| fingers.find(|finger| whorls && patterns.finger(*finger).is_whorl()))
}

/// The key, written at the extreme left of the numerator wherever the loop is.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "The key".
///
/// # Errors
/// When no finger gives a key or its count is not known.
pub fn key(patterns: &Patterns, whorls: bool) -> Result<Counted, LeftOut> {
    let finger = key_finger(patterns, whorls).ok_or(LeftOut::NoFinger)?;
    Counted::of(finger, patterns.finger(finger))
}
