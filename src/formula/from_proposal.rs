//! The call of a finger from what was proposed for its print.

use super::call::{Alternative, Call, Count, FingerCall, LEAST_COUNT, Pattern, TenFingers, WhorlKind, hand_of};
use super::finger::Finger;
use crate::error::Error;
use crate::proposal::{General, LEAST_REFERENCE_PROBABILITY, Proposal, Reading, RidgeCount, Subclass, Tracing};

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
        if let (Call::Printed(Pattern::Whorl { kind, .. }), Some(best)) = (&call, probability) {
            let shares = open_tracing(proposal, &reading);
            for (tracing, share) in shares.iter().filter(|(tracing, _)| Some(*tracing) != reading.tracing) {
                let pattern = Pattern::Whorl { kind: *kind, tracing: Some(*tracing), count: None };
                references.push(Alternative { pattern, probability: Some(best * share) });
            }
            let preferred = shares.iter().find(|(tracing, _)| Some(*tracing) == reading.tracing);
            probability = Some(preferred.map_or(best, |(_, share)| best * share));
            references.sort_by(|a, b| b.probability.unwrap_or(0.0).total_cmp(&a.probability.unwrap_or(0.0)));
        }
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

/// The tracings of a whorl with their shares, where the tracing itself says how doubtful it is and the references do not: then the reading's
/// probability is that of the whorl, and each tracing has its share of it. Empty where there is nothing to divide.
fn open_tracing(proposal: &Proposal, reading: &Reading) -> Vec<(Tracing, f64)> {
    let facts = proposal.whorl.and_then(|whorl| whorl.tracing).filter(|facts| Some(facts.best) == reading.tracing);
    let told = proposal.references.iter().any(|r| {
        r.general == General::Wu
            && r.subclass == reading.subclass
            && r.tracing.is_some_and(|t| Some(t) != reading.tracing)
    });
    let Some(facts) = facts.filter(|_| !told) else { return Vec::new() };
    let shares = facts.probabilities;
    [(Tracing::I, shares.I), (Tracing::M, shares.M), (Tracing::O, shares.O)]
        .into_iter()
        .filter(|(tracing, share)| Some(*tracing) == reading.tracing || *share >= LEAST_REFERENCE_PROBABILITY)
        .collect()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proposal::Hand;

    /// A proposal of the result format with the given pattern, references and loop facts.
    fn proposal(finger: u8, pattern: &str, references: &str, loop_: &str) -> Proposal {
        let json = format!(
            r#"{{"schema":"recurve.proposal/1","advisory":"","source":"print.png","part":null,"finger":{finger},
            "image":{{"width_px":800,"height_px":750,"ppi":500.0,"ppi_from":"file"}},"field":null,"cores":[],"deltas":[],
            "off_print":[],"status":"proposed","pattern":{pattern},"references":[{references}],"loop":{loop_},"whorl":null,
            "card_notation":null,"ncic":null,"reasons":[]}}"#
        );
        serde_json::from_str(&json).unwrap()
    }

    fn reading(general: &str, subclass: &str, tracing: &str, probability: f64) -> String {
        let code = |code: &str| if code.is_empty() { "null".to_owned() } else { format!("\"{code}\"") };
        let [general, subclass, tracing] = [general, subclass, tracing].map(code);
        format!(r#"{{"general":{general},"subclass":{subclass},"tracing":{tracing},"probability":{probability}}}"#)
    }

    fn called(number: u8, proposal: &Proposal) -> String {
        let call = FingerCall::from_proposal(Finger::new(number).unwrap(), proposal).checked().unwrap();
        super::super::text::written_readings(&call)
    }

    #[test]
    fn a_slant_becomes_ulnar_or_radial_by_the_hand() {
        // Right slant is ulnar in the right hand and radial in the left (handbook ch. II, fig. 71; ANSI/NIST-ITL RS and LS).
        let counted = r#"{"side":"right","hand":null,"ridge_count":{"best":14,"min":13,"max":15}}"#;
        let print = proposal(2, &reading("RS", "", "", 0.9), &reading("AU", "TA", "", 0.05), counted);
        assert_eq!(called(2, &print), "U14~13-15@0.9|TT@0.05");
        assert_eq!(called(7, &print), "R14~13-15@0.9|TT@0.05");
        assert_eq!(hand_of(Finger::LEFT_THUMB, General::Ls), Some(Hand::Ulnar));
    }

    #[test]
    fn whorls_keep_kind_tracing_and_references() {
        let print = proposal(1, &reading("WU", "DL", "I", 0.6), &reading("WU", "PW", "M", 0.3), "null");
        assert_eq!(called(1, &print), "DI@0.6|PM@0.3");
        // Not yet traced: nothing is guessed.
        assert_eq!(called(1, &proposal(1, &reading("WU", "", "", 0.9), "", "null")), "W@0.9");
    }

    #[test]
    fn a_doubtful_tracing_becomes_references_with_their_shares() {
        let tracing = r#"{"best":"I","ridges_between":3,"min":2,"max":4,"probabilities":{"I":0.7,"M":0.29,"O":0.01}}"#;
        let mut print = proposal(1, &reading("WU", "PW", "I", 0.9), &reading("RS", "", "", 0.05), "null");
        let whorl = format!(r#"{{"recurves_cut":null,"clearance_ridges":null,"tracing":{tracing}}}"#);
        print.whorl = serde_json::from_str(&whorl).unwrap();
        let call = FingerCall::from_proposal(Finger::new(1).unwrap(), &print);
        assert!((call.probability.unwrap() - 0.63).abs() < 1e-9);
        let shares: Vec<f64> = call.references.iter().map(|r| r.probability.unwrap()).collect();
        assert!((shares[0] - 0.261).abs() < 1e-9 && (shares[1] - 0.05).abs() < 1e-9, "{shares:?}");
        assert!(matches!(call.references[0].pattern, Pattern::Whorl { tracing: Some(Tracing::M), .. }));
        // Where the references already tell the tracings apart, nothing is divided again.
        print.references = vec![serde_json::from_str(&reading("WU", "PW", "M", 0.2)).unwrap()];
        assert_eq!(FingerCall::from_proposal(Finger::new(1).unwrap(), &print).probability, Some(0.9));
    }

    #[test]
    fn an_arch_of_open_kind_is_doubtful_without_numbers() {
        let print = proposal(8, &reading("AU", "", "", 0.8), &reading("LS", "", "", 0.1), "null");
        assert_eq!(called(8, &print), "AA|TT|U");
    }

    #[test]
    fn an_abstention_cannot_be_classified() {
        assert_eq!(called(8, &proposal(8, "null", "", "null")), "UC");
    }

    #[test]
    fn a_count_of_none_is_no_count() {
        let uncounted = r#"{"side":"left","hand":null,"ridge_count":{"best":0,"min":0,"max":2}}"#;
        assert_eq!(called(8, &proposal(8, &reading("LS", "", "", 0.8), "", uncounted)), "U@0.8");
    }

    #[test]
    fn ten_proposals_make_a_card_and_nine_do_not() {
        let print = |finger: u8| proposal(finger, &reading("WU", "PW", "M", 0.9), "", "null");
        let ten: Vec<Proposal> = (1..=10).map(print).collect();
        let lines: String = ten.iter().map(|p| serde_json::to_string(p).unwrap() + "\n").collect();
        let card = TenFingers::from_json("ten.jsonl", &lines).unwrap();
        assert_eq!(card, TenFingers::from_proposals(&ten).unwrap());
        assert_eq!(card.iter().map(super::super::text::written_readings).collect::<Vec<_>>(), ["PM@0.9"; 10]);
        let error = TenFingers::from_proposals(&ten[..9]).unwrap_err().to_string();
        assert!(error.starts_with("finger 10 (left little): no call"), "{error}");
        let nameless = Proposal { finger: None, ..print(1) };
        assert!(TenFingers::from_proposals(&[nameless]).unwrap_err().to_string().starts_with("print.png: "));
    }
}
