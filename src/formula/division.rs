//! What all divisions share: a numerator over a denominator, and the reason why a division is not written.

use super::finger::Finger;

/// Numerator over denominator; the right hand over the left in every division but the primary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, serde::Serialize)]
pub struct Over<T> {
    /// Above the line.
    pub numerator: T,
    /// Below the line.
    pub denominator: T,
}

impl<T> Over<T> {
    /// Numerator over denominator.
    pub fn new(numerator: T, denominator: T) -> Self {
        Self { numerator, denominator }
    }

    /// The same made from each row by a function that may fail.
    pub(crate) fn rows<E>(mut row: impl FnMut(bool) -> Result<T, E>) -> Result<Self, E> {
        Ok(Self { numerator: row(true)?, denominator: row(false)? })
    }
}

/// Why a division is not written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeftOut {
    /// A loop without a count that settles the group.
    NoCount(Finger),
    /// A whorl without a tracing.
    NoTracing(Finger),
    /// A whorl whose kind is not settled.
    NoKind(Finger),
    /// An arch in a thumb has no major.
    ArchThumb(Finger),
    /// The extension has no symbol for this finger.
    NoSymbol(Finger),
    /// No finger can give it.
    NoFinger,
    /// Both little fingers are arches.
    LittleArches,
    /// The extension belongs to another group.
    OtherGroup,
    /// The settings leave it out.
    BySetting,
}

impl std::fmt::Display for LeftOut {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoCount(finger) => write!(f, "{finger} has no ridge count that settles it"),
            Self::NoTracing(finger) => write!(f, "{finger} has no tracing"),
            Self::NoKind(finger) => write!(f, "{finger}: the kind of whorl is not settled"),
            Self::ArchThumb(finger) => {
                write!(
                    f,
                    "{finger} is an arch, for which the handbook has no major (by inference from its one printed case)"
                )
            }
            Self::NoSymbol(finger) => write!(f, "{finger} has no symbol in it"),
            Self::NoFinger => f.write_str("no finger gives it"),
            Self::LittleArches => f.write_str("both little fingers are arches"),
            Self::OtherGroup => f.write_str("it is not for this group"),
            Self::BySetting => f.write_str("the settings leave it out"),
        }
    }
}
