//! The call of a finger from what was proposed for its print.

use super::call::{hand_of, Alternative, Call, Count, FingerCall, Pattern, TenFingers, WhorlKind, LEAST_COUNT};
use super::finger::Finger;
use crate::error::Error;
use crate::proposal::{General, Proposal, Reading, RidgeCount, Subclass};

impl FingerCall {
    /// The call that a proposal makes for this finger: its pattern with probability, count and its extremes, and its
    /// references. An abstention is a print that cannot be classified. The finger given here counts, not the proposal's.
    ///
    /// An arch whose kind the proposal leaves open is called a plain arch with the tented arch as reference, without
    /// probabilities: the proposal's number says nothing about the kind.
    pub fn from_proposal(finger: Finger, proposal: &Proposal) -> Self {
        let Some(reading) = proposal.pattern else {
            return Self::sure(finger, Call::Unclassifiable);
        };
        let counted = proposal.loop_.as_ref().and_then(|facts| facts.ridge_count).and_then(count);
        let call = call(finger, &reading, counted);
        let mut references = Vec::new();
        for other in &proposal.references {
            for pattern in patterns(finger, other, None) {
                references.push(Alternative {
                    pattern,
                    probability: open_kind(other).is_none().then_some(other.probability),
                });
            }
        }
        let mut probability = matches!(call, Call::Printed(_)).then_some(reading.probability);
        if let Some(tented) = open_kind(&reading) {
            references.insert(0, Alternative { pattern: tented, probability: None });
            probability = None;
        }
        if probability.is_none() {
            references.iter_mut().for_each(|other| other.probability = None);
        }
        if !matches!(call, Call::Printed(_)) {
            references.clear();
        }
        Self { finger, call, probability, references, doubtful: false }
    }
}

impl TenFingers {
    /// A card from ten proposals that name their fingers.
    ///
    /// # Errors
    /// When a proposal names no finger, or a finger is named twice or not at all.
    pub fn from_proposals(proposals: &[Proposal]) -> Result<Self, Error> {
        let calls: Result<Vec<_>, Error> = proposals
            .iter()
            .map(|proposal| {
                let number = proposal.finger.ok_or_else(|| {
                    Error::bad_value(
                        proposal.source.clone(),
                        "the proposal names no finger; a card needs ten named ones",
                    )
                })?;
                Ok(FingerCall::from_proposal(Finger::new(number)?, proposal))
            })
            .collect();
        Self::new(calls?)
    }
}

/// The tented arch, for an arch whose kind is left open.
fn open_kind(reading: &Reading) -> Option<Pattern> {
    let open = reading.general == General::Au && !matches!(reading.subclass, Some(Subclass::Pa | Subclass::Ta));
    open.then_some(Pattern::TentedArch)
}

fn call(finger: Finger, reading: &Reading, counted: Option<Count>) -> Call {
    match reading.general {
        General::Xx => Call::Amputated,
        General::Up => Call::Unprinted(None),
        General::Sr => Call::Scarred(super::call::Scar::default()),
        General::Dr => Call::Dissociated,
        General::Uc => Call::Unclassifiable,
        General::Au | General::Ls | General::Rs | General::Wu => {
            patterns(finger, reading, counted).first().map_or(Call::Unclassifiable, |pattern| Call::Printed(*pattern))
        }
    }
}

/// The patterns that a reading names: none for a code without pattern, two for an arch whose kind is open.
fn patterns(finger: Finger, reading: &Reading, counted: Option<Count>) -> Vec<Pattern> {
    match (reading.general, reading.subclass) {
        (General::Au, Some(Subclass::Ta)) => vec![Pattern::TentedArch],
        (General::Au, Some(Subclass::Pa)) => vec![Pattern::PlainArch],
        (General::Au, _) => vec![Pattern::PlainArch, Pattern::TentedArch],
        (General::Wu, subclass) => {
            let kind = subclass.and_then(WhorlKind::from_subclass);
            vec![Pattern::Whorl { kind, tracing: reading.tracing, count: None }]
        }
        (slant, _) => hand_of(finger, slant).map(|hand| Pattern::Loop { hand, count: counted }).into_iter().collect(),
    }
}

/// A ridge count of a proposal; one below 1 is no count of a loop.
fn count(ridges: RidgeCount) -> Option<Count> {
    let byte = |ridges: u16| u8::try_from(ridges).unwrap_or(u8::MAX);
    (byte(ridges.best) >= LEAST_COUNT).then(|| Count::clamped(byte(ridges.best), byte(ridges.min), byte(ridges.max)))
}
