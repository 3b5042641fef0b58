//! What stands for a finger that is amputated, missing, not printed or scarred.

use super::call::{
    Call, Count, FingerCall, GREATEST_COUNT, Kind, LEAST_COUNT, Pattern, Patterns, Scar, TenFingers, WhorlKind,
};
use super::finger::Finger;
use super::settings::{LackingCount, MixedPair, SubstitutionSettings};
use crate::error::Error;
use crate::proposal::{Reason, Tracing};
use serde::Serialize;

/// The file in which a classification is kept or searched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum File {
    /// Cards without amputation.
    Main,
    /// Cards that state an amputation or a finger missing at birth.
    Amputation,
}

/// Ten patterns in which every finger has one, and what the rules of substitution want searched.
#[derive(Debug, Clone, PartialEq)]
pub struct Substituted {
    /// The patterns from which the formula is written.
    pub patterns: Patterns,
    /// Where the card is filed.
    pub file: File,
    /// Whether its own classification is searched in the other file too.
    pub other_file: bool,
    /// Every other reading that a finger must be searched in because of what it lacks.
    pub(crate) others: [Vec<Pattern>; 10],
    /// What was given to which finger, and by which rule.
    pub given: Vec<(Finger, Reason)>,
}

/// Why a finger is lacking, for counting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cause {
    Amputation,
    Unprinted,
    Scar,
}

fn cause(call: &Call) -> Option<Cause> {
    match call {
        call if !call.is_lacking() => None,
        Call::Amputated | Call::MissingAtBirth | Call::HalfAmputated => Some(Cause::Amputation),
        Call::Unprinted(_) => Some(Cause::Unprinted),
        // A print that cannot be classified and one of dissociated ridges are treated as scarred ones: the handbook has no
        // rule for them, and the examiner sees the card in any case.
        Call::Scarred(_) | Call::Unclassifiable | Call::Dissociated | Call::Printed(_) | Call::TipAmputated(_) => {
            Some(Cause::Scar)
        }
    }
}

/// Gives every finger a pattern.
///
/// - One finger amputated, missing at birth, not printed or wholly scarred: as the opposite finger, searched in every other
///   classification. Several: as the opposite fingers, no other search. Two opposite ones: whorls with meeting tracings.
/// - Half or more of the pattern area gone: as an amputation. Less: read as it appears, searched as the opposite finger too.
/// - Partly scarred: what the visible ridges show, and from the opposite finger what they do not show and do not exclude.
/// - Not printed but noted by the taker: as noted, searched in every count or tracing of that kind only.
///
/// A loop is copied as ulnar or radial, not by its slant.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. V and VII.
///
/// # Errors
/// When opposite fingers are lacking for different causes and the setting refuses that.
pub fn substitute(card: &TenFingers, settings: SubstitutionSettings) -> Result<Substituted, Error> {
    let mut given = Vec::new();
    let mut patterns = Patterns::new([Pattern::WHORL_MEETING; 10]);
    // Prints of their own first: those that lack one copy from them.
    let (lacking, own): (Vec<&FingerCall>, Vec<&FingerCall>) = card.iter().partition(|call| call.call.is_lacking());
    for call in own {
        let opposite = card.finger(call.finger.opposite()).call.pattern().copied();
        patterns.set(call.finger, own_pattern(call, opposite, &mut given));
    }
    for call in &lacking {
        let opposite = card.finger(call.finger.opposite());
        let pattern = if opposite.call.is_lacking() {
            both_lacking(call, opposite, settings.mixed_pair, &mut given)?
        } else {
            let pattern = *patterns.finger(opposite.finger);
            note(
                &mut given,
                call.finger,
                "opposite finger",
                format!(
                    "{}: takes the classification of the {}, {}",
                    state(&call.call),
                    opposite.finger.name(),
                    pattern.words()
                ),
            );
            pattern
        };
        patterns.set(call.finger, pattern);
    }
    let others = Finger::ALL.map(|finger| others(card, finger, &patterns, settings));
    let amputation = card.iter().any(|call| call.call.is_amputation());
    let crossing = |call: &FingerCall| crosses(&call.call);
    let alone = |call: &FingerCall| lacking_beside(card, &call.call, settings.lacking) <= 1;
    let few = settings.other_file_when_several || lacking.iter().filter(|call| crossing(call)).all(|call| alone(call));
    let other_file = few && card.iter().any(crossing);
    given.sort_by_key(|(finger, _)| *finger);
    Ok(Substituted {
        patterns,
        file: if amputation { File::Amputation } else { File::Main },
        other_file,
        others,
        given,
    })
}

/// Whether the finger makes the card to be searched in the other file too: amputations among the rest, unprinted fingers and
/// amputated tips among the amputations.
fn crosses(call: &Call) -> bool {
    call.is_amputation() || matches!(call, Call::Unprinted(_) | Call::TipAmputated(_))
}

fn note(given: &mut Vec<(Finger, Reason)>, finger: Finger, rule: &str, text: String) {
    given.push((finger, Reason::new(format!("substitution: {rule}"), format!("{finger}: {text}."))));
}

/// What is the matter with a finger, in words.
pub(crate) fn state(call: &Call) -> &'static str {
    match call {
        Call::Printed(_) => "printed",
        Call::Scarred(scar) if scar.is_complete() => "completely scarred",
        Call::Scarred(_) => "partly scarred",
        Call::Amputated => "amputated",
        Call::MissingAtBirth => "missing at birth",
        Call::HalfAmputated => "half or more of the pattern area amputated",
        Call::TipAmputated(_) => "tip amputated",
        Call::Unprinted(None) => "not printed",
        Call::Unprinted(Some(_)) => "not printed, noted by the taker",
        Call::Unclassifiable => "cannot be classified",
        Call::Dissociated => "dissociated ridges",
    }
}

fn own_pattern(call: &FingerCall, opposite: Option<Pattern>, given: &mut Vec<(Finger, Reason)>) -> Pattern {
    match &call.call {
        Call::Scarred(scar) => {
            let pattern = scarred(scar, opposite);
            let from = opposite
                .map_or_else(|| "its opposite gives nothing".to_owned(), |o| format!("its opposite is {}", o.words()));
            note(
                given,
                call.finger,
                "partial scar",
                format!("partly scarred and {from}: classified as {}", pattern.words()),
            );
            pattern
        }
        Call::TipAmputated(pattern) => {
            note(
                given,
                call.finger,
                "tip amputation",
                format!("less than half of the pattern area gone: read as it appears, {}", pattern.words()),
            );
            *pattern
        }
        Call::Unprinted(Some(pattern)) => {
            note(
                given,
                call.finger,
                "taker's note",
                format!("not printed: the taker's note is used, {}", pattern.words()),
            );
            *pattern
        }
        other => other.pattern().copied().unwrap_or(Pattern::WHORL_MEETING),
    }
}

fn both_lacking(
    call: &FingerCall,
    opposite: &FingerCall,
    mixed: MixedPair,
    given: &mut Vec<(Finger, Reason)>,
) -> Result<Pattern, Error> {
    if cause(&call.call) != cause(&opposite.call) && mixed == MixedPair::Refuse {
        let reason = format!(
            "{}, and its opposite {}: the examiner must say how both are classified",
            state(&call.call),
            state(&opposite.call)
        );
        return Err(Error::bad_value(call.finger.to_string(), reason));
    }
    note(
        given,
        call.finger,
        "opposite fingers both lacking",
        format!("{}, its opposite {}: whorl, meeting", state(&call.call), state(&opposite.call)),
    );
    Ok(Pattern::WHORL_MEETING)
}

/// The pattern of a partly scarred print.
///
/// With several possible kinds the kind is the opposite finger's where it is possible, with the print's own count or tracing
/// where they can be read. With one possible kind that kind stands, with the count or tracing of an opposite finger of the
/// same general type, kept within the limits of what is possible, else with the probable value.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. V, with figs. 355-359.
pub fn scarred(scar: &Scar, opposite: Option<Pattern>) -> Pattern {
    let copied = opposite.filter(|pattern| scar.allows(Kind::of(pattern)));
    let kind = copied.as_ref().map(Kind::of).or_else(|| scar.possible.first().copied()).unwrap_or(Kind::Whorl);
    match kind {
        Kind::PlainArch | Kind::TentedArch => kind.pattern(None, None),
        Kind::RadialLoop | Kind::UlnarLoop => {
            let opposite = opposite.filter(Pattern::is_loop).and_then(|pattern| pattern.count());
            let count = match (own_count(scar), opposite) {
                (Some(own), _) => Some(own),
                (None, Some(opposite)) => Some(within(opposite, scar.count)),
                (None, None) => scar.count,
            };
            kind.pattern(count, None)
        }
        Kind::Whorl => {
            let (whorl_kind, traced) = match opposite {
                Some(Pattern::Whorl { kind, tracing, .. }) => (kind, tracing),
                _ => (None, None),
            };
            // No opposite print and nothing visible that decides: the arbitrary meeting whorl.
            let arbitrary = (opposite.is_none() && scar.possible.is_empty()).then_some(Tracing::M);
            let tracing = own_tracing(scar).or(traced).or(scar.tracing).or(arbitrary);
            Pattern::Whorl { kind: whorl_kind, tracing, count: None }
        }
    }
}

/// The count that the print's own ridges give.
fn own_count(scar: &Scar) -> Option<Count> {
    scar.count.filter(|count| count.best().is_some() && scar.possible.len() != 1)
}

/// The tracing that the print's own ridges give.
fn own_tracing(scar: &Scar) -> Option<Tracing> {
    scar.tracing.filter(|_| scar.possible.len() != 1)
}

/// A copied count kept within the limits of what the scarred print could have had.
fn within(copied: Count, limits: Option<Count>) -> Count {
    let (low, high) = limits
        .filter(|count| count.least() != count.most())
        .map_or((LEAST_COUNT, GREATEST_COUNT), |count| (count.least(), count.most()));
    let inside = |ridges: u8| ridges.clamp(low, high);
    match copied.best() {
        Some(best) => Count::clamped(inside(best), inside(copied.least()), inside(copied.most())),
        None => Count::span(inside(copied.least()), inside(copied.most())),
    }
}

/// What else a finger must be searched in.
fn others(card: &TenFingers, finger: Finger, patterns: &Patterns, settings: SubstitutionSettings) -> Vec<Pattern> {
    let call = &card.finger(finger).call;
    match call {
        Call::TipAmputated(_) => vec![*patterns.finger(finger.opposite())],
        Call::Unprinted(Some(noted)) => same_kind(noted),
        Call::Scarred(scar) if !scar.is_complete() => scar_others(scar, patterns.finger(finger)),
        call if call.is_lacking() => {
            let alone = lacking_beside(card, call, settings.lacking) <= 1;
            let scars_too = settings.reference_several_scars && cause(call) == Some(Cause::Scar);
            if alone || scars_too { every_pattern(patterns.finger(finger)) } else { Vec::new() }
        }
        _ => Vec::new(),
    }
}

/// How many fingers are lacking, this one included.
fn lacking_beside(card: &TenFingers, call: &Call, counting: LackingCount) -> usize {
    let counted = |other: &&FingerCall| {
        other.call.is_lacking() && (counting == LackingCount::Together || cause(&other.call) == cause(call))
    };
    card.iter().filter(counted).count()
}

fn every_count() -> impl Iterator<Item = Count> {
    (LEAST_COUNT..=GREATEST_COUNT).map(|ridges| Count::span(ridges, ridges))
}

/// All patterns of one kind: every count of a loop, every kind and tracing of a whorl.
pub(crate) fn all_of(kind: Kind) -> Vec<Pattern> {
    match kind {
        Kind::PlainArch | Kind::TentedArch => vec![kind.pattern(None, None)],
        Kind::RadialLoop | Kind::UlnarLoop => every_count().map(|count| kind.pattern(Some(count), None)).collect(),
        Kind::Whorl => [Tracing::I, Tracing::M, Tracing::O]
            .into_iter()
            .flat_map(|tracing| {
                WhorlKind::ALL.map(|kind| Pattern::Whorl { kind: Some(kind), tracing: Some(tracing), count: None })
            })
            .collect(),
    }
}

/// Every pattern with every count and tracing: first those of the given one's kind, then in the order A T R U W.
fn every_pattern(given: &Pattern) -> Vec<Pattern> {
    let own = Kind::of(given);
    std::iter::once(own).chain(Kind::ALL.into_iter().filter(|kind| *kind != own)).flat_map(all_of).collect()
}

/// What a taker's note leaves open: the count or the tracing, never the kind.
fn same_kind(noted: &Pattern) -> Vec<Pattern> {
    match noted {
        Pattern::Whorl { tracing: Some(_), .. } => Vec::new(),
        other => all_of(Kind::of(other)),
    }
}

/// What the visible ridges of a scarred print leave open.
fn scar_others(scar: &Scar, given: &Pattern) -> Vec<Pattern> {
    let limits = own_count(scar).or(scar.count.filter(|count| count.least() != count.most()));
    let open = |pattern: &Pattern| match pattern {
        Pattern::Loop { count: Some(count), .. } => {
            limits.is_none_or(|limits| (limits.least()..=limits.most()).contains(&count.least()))
        }
        Pattern::Whorl { tracing, .. } => own_tracing(scar).is_none_or(|own| *tracing == Some(own)),
        _ => true,
    };
    every_pattern(given).into_iter().filter(|pattern| scar.allows(Kind::of(pattern)) && open(pattern)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::settings::Settings;

    fn given(text: &str, finger: u8) -> String {
        let card = TenFingers::from_text(text).unwrap();
        let substituted = substitute(&card, Settings::default().substitution).unwrap();
        substituted.patterns.finger(Finger::new(finger).unwrap()).words()
    }

    /// A card of ulnar loops of 8, two opposite fingers apart.
    fn pair(right_ring: &str, left_ring: &str) -> String {
        format!("1=U8 2=U8 3=U8 4={right_ring} 5=U8 6=U8 7=U8 8=U8 9={left_ring} 10=U8")
    }

    #[test]
    fn an_obliterated_print_takes_whatever_the_opposite_finger_is() {
        // Handbook, ch. V, fig. 355: arch, tented arch, whorl with the same tracing, small loop and even a large one.
        for (opposite, wanted) in [
            ("AA", "plain arch"),
            ("TT", "tented arch"),
            ("W:O", "whorl, outer"),
            ("U3", "ulnar loop of 3"),
            ("R25", "radial loop of 25"),
        ] {
            assert_eq!(given(&pair("SR", opposite), 4), wanted);
        }
        // Opposite finger scarred alike, amputated or missing: both whorls with meeting tracings.
        for opposite in ["SR", "XX", "XX:BIRTH"] {
            assert_eq!(given(&pair("SR", opposite), 4), "whorl, meeting");
            assert_eq!(given(&pair("SR", opposite), 9), "whorl, meeting");
        }
    }

    #[test]
    fn a_loop_or_whorl_keeps_its_own_slant_and_count() {
        // Handbook, ch. V, fig. 356 in the right hand; its count can be obtained with a fair degree of accuracy.
        for (opposite, wanted) in [
            ("W:I", "whorl, inner"),
            ("R20", "ulnar loop of 11"),
            ("AA", "ulnar loop of 11"),
            ("TT", "ulnar loop of 11"),
        ] {
            assert_eq!(given(&pair("SR:U/W:11", opposite), 4), wanted, "opposite {opposite}");
        }
    }

    #[test]
    fn a_certain_loop_copies_the_count_within_its_limits() {
        // Handbook, ch. V, fig. 357: limits 6 to 17.
        for (opposite, wanted) in [
            ("U6", "ulnar loop of 6"),
            ("U12", "ulnar loop of 12"),
            ("R17", "ulnar loop of 17"),
            ("U3", "ulnar loop of 6"),
            ("U22", "ulnar loop of 17"),
        ] {
            assert_eq!(given(&pair("SR:U:6-17", opposite), 4), wanted, "opposite {opposite}");
        }
        // Figs. 358, 359: always a loop. Without a loop opposite the probable value stands.
        assert_eq!(given(&pair("SR:U:9", "W:M"), 4), "ulnar loop of 9");
        assert_eq!(given(&pair("SR:U", "AA"), 4), "ulnar loop");
    }

    #[test]
    fn a_hidden_kind_is_copied_and_the_visible_ridges_are_read() {
        // Handbook, ch. V, second rule of scarred patterns.
        assert_eq!(given(&pair("SR:?:I:14", "W:O"), 4), "whorl, inner");
        assert_eq!(given(&pair("SR:?:I:14", "R9"), 4), "radial loop of 14");
    }

    #[test]
    fn a_seen_whorl_copies_the_tracing_of_an_opposite_whorl_only() {
        // Handbook, ch. V, third rule: same general type, else the probable value.
        assert_eq!(given(&pair("SR:W:M", "C:O"), 4), "central pocket loop, outer");
        assert_eq!(given(&pair("SR:W:M", "U9"), 4), "whorl, meeting");
    }

    #[test]
    fn a_loop_is_copied_as_ulnar_or_radial_not_by_its_slant() {
        // Handbook, ch. VII: right index amputated, left index ulnar: ulnar.
        assert_eq!(given(&pair("XX", "U12"), 4), "ulnar loop of 12");
        assert_eq!(given(&pair("R12", "XX"), 9), "radial loop of 12");
    }
}
