//! What a classifier says of each finger: the pattern with its count or tracing, or why there is none.

use super::finger::Finger;
use crate::error::Error;
use crate::proposal::{General, Hand, Subclass, Tracing};

/// The least ridge count of a loop: a count across a looping ridge is one of the three essentials of a loop (FBI, *The
/// Science of Fingerprints*, 1963, ch. II).
pub const LEAST_COUNT: u8 = 1;

/// The greatest ridge count that can be written: the NCIC code keeps 51 to 99 for radial loops, so a count stays below 50.
pub const GREATEST_COUNT: u8 = 49;

/// A ridge count, 1 to 49, with the extremes that doubt allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Count {
    best: Option<u8>,
    least: u8,
    most: u8,
}

impl Count {
    /// A count without doubt.
    ///
    /// # Errors
    /// When `ridges` is not 1 to 49.
    pub fn exact(ridges: u8) -> Result<Self, Error> {
        Self::between(Some(ridges), ridges, ridges)
    }

    /// A preferred count (if there is one) between two extremes of possibility.
    ///
    /// # Errors
    /// When a value is not 1 to 49 or they are not in order.
    pub fn between(best: Option<u8>, least: u8, most: u8) -> Result<Self, Error> {
        for ridges in [Some(least), Some(most), best].into_iter().flatten() {
            if ridges < LEAST_COUNT {
                return Err(Error::bad_value(
                    "ridge count 0",
                    "a loop has at least one ridge between delta and core; without a count it is no loop",
                ));
            }
            if ridges > GREATEST_COUNT {
                return Err(Error::bad_value(
                    format!("ridge count {ridges}"),
                    format!("counts are {LEAST_COUNT} to {GREATEST_COUNT}"),
                ));
            }
        }
        if least > most || best.is_some_and(|best| best < least || best > most) {
            return Err(Error::bad_value(
                format!("ridge counts {least} to {most}"),
                "the lesser extreme comes first and the preferred count lies between them",
            ));
        }
        Ok(Self { best, least, most })
    }

    /// A count from within the crate, moved into 1 to 49.
    pub(crate) fn clamped(best: u8, least: u8, most: u8) -> Self {
        let inside = |ridges: u8| ridges.clamp(LEAST_COUNT, GREATEST_COUNT);
        let best = inside(best);
        Self { best: Some(best), least: inside(least).min(best), most: inside(most).max(best) }
    }

    /// Every count from `least` to `most`, none preferred.
    pub(crate) fn span(least: u8, most: u8) -> Self {
        if least == most { Self::clamped(least, least, most) } else { Self { best: None, least, most } }
    }

    /// The preferred count; none where only a range is known.
    pub fn best(self) -> Option<u8> {
        self.best
    }

    /// The lesser extreme.
    pub fn least(self) -> u8 {
        self.least
    }

    /// The greater extreme.
    pub fn most(self) -> u8 {
        self.most
    }

    /// In words, as in "12", "12 (10 to 14)", "10 to 14" or "17 or more".
    pub fn words(self) -> String {
        let (least, most) = (self.least, self.most);
        match self.best {
            Some(best) if least == most => best.to_string(),
            Some(best) => format!("{best} ({least} to {most})"),
            None if most == GREATEST_COUNT => format!("{least} or more"),
            None => format!("{least} to {most}"),
        }
    }

    /// The group into which the count falls by a table of ascending limits: by the preferred count, else, where only a
    /// range is known, when the whole range falls into one group.
    pub(crate) fn group<T: PartialEq>(self, table: impl Fn(u8) -> T) -> Option<T> {
        match self.best {
            Some(best) => Some(table(best)),
            None => {
                let low = table(self.least);
                (low == table(self.most)).then_some(low)
            }
        }
    }
}

impl std::fmt::Display for Count {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.best {
            Some(best) if self.least == self.most => write!(f, "{best}"),
            Some(best) => write!(f, "{best}~{}-{}", self.least, self.most),
            None if self.most == GREATEST_COUNT => write!(f, "{}+", self.least),
            None => write!(f, "{}-{}", self.least, self.most),
        }
    }
}

/// The kind of a whorl.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum WhorlKind {
    /// Plain whorl, W in the WCDX extension.
    Plain,
    /// Central pocket loop, C.
    CentralPocket,
    /// Double loop, D.
    DoubleLoop,
    /// Accidental, X.
    Accidental,
}

impl WhorlKind {
    /// All four, in the order of the WCDX sequence.
    pub const ALL: [Self; 4] = [Self::Plain, Self::CentralPocket, Self::DoubleLoop, Self::Accidental];

    /// The standard's subclass code.
    pub fn subclass(self) -> Subclass {
        match self {
            Self::Plain => Subclass::Pw,
            Self::CentralPocket => Subclass::Cp,
            Self::DoubleLoop => Subclass::Dl,
            Self::Accidental => Subclass::Aw,
        }
    }

    /// The kind that a subclass code names, if it names a whorl.
    pub fn from_subclass(subclass: Subclass) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.subclass() == subclass)
    }

    /// The trade's name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Plain => "plain whorl",
            Self::CentralPocket => "central pocket loop",
            Self::DoubleLoop => "double loop",
            Self::Accidental => "accidental",
        }
    }
}

/// A pattern as the formula needs it. The hand is known, so loops are ulnar or radial.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pattern {
    /// Plain arch.
    PlainArch,
    /// Tented arch.
    TentedArch,
    /// Loop.
    Loop {
        /// Ulnar or radial.
        hand: Hand,
        /// Ridges between delta and core; none when not counted.
        count: Option<Count>,
    },
    /// Whorl of any kind.
    Whorl {
        /// Which kind, if settled.
        kind: Option<WhorlKind>,
        /// Which tracing, if settled.
        tracing: Option<Tracing>,
        /// Ridges from the delta to the core, counted as in an ulnar loop of that hand; used only for a final.
        count: Option<Count>,
    },
}

impl Pattern {
    /// The arbitrary value of two opposite fingers that are both lacking: a whorl with a meeting tracing.
    pub const WHORL_MEETING: Self = Self::Whorl { kind: None, tracing: Some(Tracing::M), count: None };

    /// Whether it is a whorl of any kind.
    pub fn is_whorl(&self) -> bool {
        matches!(self, Self::Whorl { .. })
    }

    /// Whether it is a loop.
    pub fn is_loop(&self) -> bool {
        matches!(self, Self::Loop { .. })
    }

    /// Whether it is an arch, plain or tented.
    pub fn is_arch(&self) -> bool {
        matches!(self, Self::PlainArch | Self::TentedArch)
    }

    /// Its count, if it has one.
    pub fn count(&self) -> Option<Count> {
        match self {
            Self::Loop { count, .. } | Self::Whorl { count, .. } => *count,
            _ => None,
        }
    }

    /// In the trade's words, as in "ulnar loop of 9" or "plain whorl, meeting".
    pub fn words(&self) -> String {
        match self {
            Self::PlainArch => "plain arch".to_owned(),
            Self::TentedArch => "tented arch".to_owned(),
            Self::Loop { hand, count } => {
                let side = if *hand == Hand::Ulnar { "ulnar loop" } else { "radial loop" };
                count.map_or_else(|| side.to_owned(), |count| format!("{side} of {}", count.words()))
            }
            Self::Whorl { kind, tracing, .. } => {
                let kind = kind.map_or("whorl", WhorlKind::name);
                tracing.map_or_else(|| kind.to_owned(), |tracing| format!("{kind}, {}", tracing.name()))
            }
        }
    }
}

/// The general kinds that a scarred print may have been.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Plain arch.
    PlainArch,
    /// Tented arch.
    TentedArch,
    /// Radial loop.
    RadialLoop,
    /// Ulnar loop.
    UlnarLoop,
    /// Whorl.
    Whorl,
}

impl Kind {
    /// All five, in the order A T R U W of the secondary.
    pub const ALL: [Self; 5] = [Self::PlainArch, Self::TentedArch, Self::RadialLoop, Self::UlnarLoop, Self::Whorl];

    /// A pattern of this kind with the given count, if it is a loop, or tracing, if it is a whorl.
    pub(crate) fn pattern(self, count: Option<Count>, tracing: Option<Tracing>) -> Pattern {
        match self {
            Self::PlainArch => Pattern::PlainArch,
            Self::TentedArch => Pattern::TentedArch,
            Self::RadialLoop => Pattern::Loop { hand: Hand::Radial, count },
            Self::UlnarLoop => Pattern::Loop { hand: Hand::Ulnar, count },
            Self::Whorl => Pattern::Whorl { kind: None, tracing, count: None },
        }
    }

    /// The kind of a pattern.
    pub fn of(pattern: &Pattern) -> Self {
        match pattern {
            Pattern::PlainArch => Self::PlainArch,
            Pattern::TentedArch => Self::TentedArch,
            Pattern::Loop { hand: Hand::Radial, .. } => Self::RadialLoop,
            Pattern::Loop { hand: Hand::Ulnar, .. } => Self::UlnarLoop,
            Pattern::Whorl { .. } => Self::Whorl,
        }
    }
}

/// A scarred print: what the visible ridges still allow.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Scar {
    /// Kinds that the visible ridges allow, the most likely first; empty when they exclude none.
    pub possible: Vec<Kind>,
    /// The count: with one possible kind the probable value and its limits, with several the count of the print's own ridges.
    pub count: Option<Count>,
    /// The tracing, likewise.
    pub tracing: Option<Tracing>,
}

impl Scar {
    /// Neither kind nor count nor tracing can be read.
    pub fn is_complete(&self) -> bool {
        self.possible.is_empty() && self.count.is_none() && self.tracing.is_none()
    }

    /// Whether the visible ridges allow this kind.
    pub fn allows(&self, kind: Kind) -> bool {
        self.possible.is_empty() || self.possible.contains(&kind)
    }
}

/// What is said of one finger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Call {
    /// A print that can be read.
    Printed(Pattern),
    /// A scarred print.
    Scarred(Scar),
    /// Amputated, stated definitely on the card.
    Amputated,
    /// Missing at birth: treated as an amputation.
    MissingAtBirth,
    /// Amputated so that half or more of the pattern area is gone.
    HalfAmputated,
    /// The tip is gone, less than half of the pattern area: read as it appears.
    TipAmputated(Pattern),
    /// Bandaged or otherwise not printed, with what the taker noted from the finger itself.
    Unprinted(Option<Pattern>),
    /// A print that cannot be classified.
    Unclassifiable,
    /// Dissociated ridges.
    Dissociated,
}

impl Call {
    /// Whether the finger gives nothing of its own, so that the opposite finger stands for it.
    pub fn is_lacking(&self) -> bool {
        match self {
            Self::Amputated
            | Self::MissingAtBirth
            | Self::HalfAmputated
            | Self::Unprinted(None)
            | Self::Unclassifiable
            | Self::Dissociated => true,
            Self::Scarred(scar) => scar.is_complete(),
            Self::Printed(_) | Self::TipAmputated(_) | Self::Unprinted(Some(_)) => false,
        }
    }

    /// Whether it sends the card to the amputation file.
    pub fn is_amputation(&self) -> bool {
        matches!(self, Self::Amputated | Self::MissingAtBirth | Self::HalfAmputated)
    }

    /// The pattern read or noted, if any.
    pub fn pattern(&self) -> Option<&Pattern> {
        match self {
            Self::Printed(pattern) | Self::TipAmputated(pattern) | Self::Unprinted(Some(pattern)) => Some(pattern),
            _ => None,
        }
    }
}

/// Another reading of a finger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alternative {
    /// What it may be.
    pub pattern: Pattern,
    /// How probable, 0 to 1, if that is known.
    pub probability: Option<f64>,
}

/// The call of one finger with its doubts.
#[derive(Debug, Clone, PartialEq)]
pub struct FingerCall {
    /// Which finger.
    pub finger: Finger,
    /// The preferred call.
    pub call: Call,
    /// How probable the preferred call is, 0 to 1, if that is known.
    pub probability: Option<f64>,
    /// Other readings, most probable first.
    pub references: Vec<Alternative>,
    /// Marked doubtful without other readings being named: the count, the tracing or the kind of arch is in doubt.
    pub doubtful: bool,
}

impl FingerCall {
    /// A call without doubt.
    pub fn sure(finger: Finger, call: Call) -> Self {
        Self { finger, call, probability: None, references: Vec::new(), doubtful: false }
    }

    /// The same call with other readings, checked.
    ///
    /// # Errors
    /// When a probability is not 0 to 1, when they exceed 1 together, when a reference has one but the preferred reading has
    /// none, or when other readings are given for a finger without a print.
    pub fn checked(self) -> Result<Self, Error> {
        let refuse = |reason: &str| Err(Error::bad_value(self.finger.to_string(), reason));
        let printed = matches!(self.call, Call::Printed(_) | Call::TipAmputated(_));
        if !printed && (self.doubtful || !self.references.is_empty() || self.probability.is_some()) {
            return refuse(
                "only the reading of a print can be doubtful; a finger without one follows the rules of substitution",
            );
        }
        let given: Vec<Option<f64>> =
            std::iter::once(self.probability).chain(self.references.iter().map(|other| other.probability)).collect();
        if self.probability.is_none() && given.iter().any(Option::is_some) {
            return refuse("give the preferred reading a probability too, or none to its references");
        }
        if given.iter().flatten().any(|p| !(0.0..=1.0).contains(p)) {
            return refuse("a probability is 0 to 1");
        }
        // Printed probabilities are rounded to two places or more; ten readings may round up by half a place each.
        const ROUNDING: f64 = 0.05;
        if given.iter().flatten().sum::<f64>() > 1.0 + ROUNDING {
            return refuse("the probabilities of its readings exceed 1 together");
        }
        Ok(self)
    }
}

/// The ten calls of a card.
#[derive(Debug, Clone, PartialEq)]
pub struct TenFingers([FingerCall; 10]);

impl TenFingers {
    /// A card from ten calls in any order.
    ///
    /// # Errors
    /// When a finger is called twice or not at all.
    pub fn new(calls: impl IntoIterator<Item = FingerCall>) -> Result<Self, Error> {
        let mut slots: [Option<FingerCall>; 10] = Default::default();
        for call in calls {
            let call = call.checked()?;
            let finger = call.finger;
            if slots[finger.index()].replace(call).is_some() {
                return Err(Error::bad_value(finger.to_string(), "called twice; each finger has one call"));
            }
        }
        let mut full = Vec::with_capacity(Finger::ALL.len());
        for (finger, slot) in Finger::ALL.into_iter().zip(slots) {
            full.push(slot.ok_or_else(|| {
                Error::bad_value(
                    finger.to_string(),
                    "no call; all ten are needed (XX amputated, UP not printed, SR scarred)",
                )
            })?);
        }
        let calls = full.try_into().map_err(|_| Error::bad_value("card", "ten calls are needed"))?;
        Ok(Self(calls))
    }

    /// The call of one finger.
    pub fn finger(&self, finger: Finger) -> &FingerCall {
        &self.0[finger.index()]
    }

    /// The ten calls in card order.
    pub fn iter(&self) -> impl Iterator<Item = &FingerCall> {
        self.0.iter()
    }
}

/// Ten patterns after substitution: what the formula is written from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Patterns(pub(crate) [Pattern; 10]);

impl Patterns {
    /// Ten patterns in card order, finger 1 first.
    pub fn new(patterns: [Pattern; 10]) -> Self {
        Self(patterns)
    }

    /// The pattern of one finger.
    pub fn finger(&self, finger: Finger) -> &Pattern {
        &self.0[finger.index()]
    }

    pub(crate) fn set(&mut self, finger: Finger, pattern: Pattern) {
        self.0[finger.index()] = pattern;
    }
}

/// Ulnar or radial from the side of the image to which a loop of this finger opens: ulnar loops open to the image's right
/// in the right hand and to its left in the left hand.
pub fn hand_of(finger: Finger, slant: General) -> Option<Hand> {
    match (slant, finger.is_right()) {
        (General::Rs, true) | (General::Ls, false) => Some(Hand::Ulnar),
        (General::Ls, true) | (General::Rs, false) => Some(Hand::Radial),
        _ => None,
    }
}
