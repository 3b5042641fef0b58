//! Whether ten fingers agree with each other: rolled with plain impressions, each row with its hand.
//!
//! Only proposed patterns are held against each other, with their probabilities; no print is compared with another.

use crate::proposal::{General, Proposal, Reading};
use serde::Serialize;

/// What is doubtful about a card.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DoubtKind {
    /// The form lies doubtfully on the scan.
    Registration,
    /// A block is empty, cut off, holds only marks or two prints.
    Block,
    /// Rolled and plain impressions of a finger read differently.
    PlainDisagrees,
    /// The plain impressions fit the rolled ones better in another order.
    Order,
    /// A row's loops lean as those of the other hand do.
    OtherHand,
}

/// One doubt, in words for the examiner.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Doubt {
    /// What it is about.
    pub kind: DoubtKind,
    /// The fingers concerned, ascending.
    pub fingers: Vec<u8>,
    /// What was seen and what to look at.
    pub text: String,
}

impl Doubt {
    /// A doubt from its parts.
    pub fn new(kind: DoubtKind, fingers: Vec<u8>, text: impl Into<String>) -> Self {
        Self { kind, fingers, text: text.into() }
    }
}

/// When agreement is doubted.
#[derive(Debug, Clone, PartialEq)]
pub struct DoubtSettings {
    /// Probability that rolled and plain impressions of a finger show one pattern, below which they disagree. Default 0.15.
    pub least_agreement: f64,
    /// How many times more probable another order, or the other hand, must be to be told. Default 20.
    pub odds: f64,
    /// Probability that a reading may be wrong beyond what it states: keeps a single misread print from deciding. Default 0.03.
    pub slip: f64,
    /// Share of radial loops among the loops of thumb, index, middle, ring and little finger. Index: Galton, *Finger Prints*, table V (42 of
    /// 108 in both hands); the others are "much rarer" there: a small value by common practice.
    pub radial: [f64; 5],
}

impl Default for DoubtSettings {
    fn default() -> Self {
        Self { least_agreement: 0.15, odds: 20.0, slip: 0.03, radial: [0.02, 0.389, 0.03, 0.02, 0.01] }
    }
}

/// Classes that survive the way a finger is printed: arch, left-slant loop, right-slant loop, whorl.
const CLASSES: usize = 4;
const LEFT: usize = 1;
const RIGHT: usize = 2;

fn class(reading: &Reading) -> Option<usize> {
    match reading.general {
        General::Au => Some(0),
        General::Ls => Some(LEFT),
        General::Rs => Some(RIGHT),
        General::Wu => Some(3),
        _ => None,
    }
}

/// Probability of each class; none for an abstention or a stated code.
fn classes(proposal: &Proposal, slip: f64) -> Option<[f64; CLASSES]> {
    let mut shares = [0.0; CLASSES];
    class(proposal.pattern.as_ref()?)?;
    for reading in proposal.pattern.iter().chain(&proposal.references) {
        shares[class(reading)?] += reading.probability.max(0.0);
    }
    let sum: f64 = shares.iter().sum();
    let rest = (1.0 - sum).max(0.0) / CLASSES as f64;
    let total = sum + rest * CLASSES as f64;
    (total > 0.0).then(|| shares.map(|s| (1.0 - slip) * (s + rest) / total + slip / CLASSES as f64))
}

fn agreement(a: &[f64; CLASSES], b: &[f64; CLASSES]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The pattern in a word, with its probability.
fn words(proposal: &Proposal) -> String {
    let Some(reading) = &proposal.pattern else { return "nothing".to_owned() };
    let word = match reading.general {
        General::Au => "arch",
        General::Ls => "left-slant loop",
        General::Rs => "right-slant loop",
        General::Wu => "whorl",
        _ => "no pattern",
    };
    format!("{word} ({:.0} %)", 100.0 * reading.probability)
}

/// All doubts that rolled and plain proposals give: `rolled` and `plain` in any order, each naming its finger.
pub fn doubts(rolled: &[Proposal], plain: &[Proposal], settings: &DoubtSettings) -> Vec<Doubt> {
    let of = |list: &'_ [Proposal]| -> [Option<[f64; CLASSES]>; 10] {
        std::array::from_fn(|i| {
            let proposal = list.iter().find(|p| p.finger == Some(i as u8 + 1))?;
            classes(proposal, settings.slip)
        })
    };
    let (rolled_classes, plain_classes) = (of(rolled), of(plain));
    let mut found = Vec::new();
    for finger in 1..=10u8 {
        let i = usize::from(finger - 1);
        let (Some(a), Some(b)) = (&rolled_classes[i], &plain_classes[i]) else { continue };
        if agreement(a, b) < settings.least_agreement {
            let say = |list: &[Proposal]| list.iter().find(|p| p.finger == Some(finger)).map(words).unwrap_or_default();
            let text = format!(
                "The rolled print reads as {}, its plain impression as {}: look whether the fingers are in order.",
                say(rolled),
                say(plain)
            );
            found.push(Doubt::new(DoubtKind::PlainDisagrees, vec![finger], text));
        }
    }
    found.extend(order(&rolled_classes, &plain_classes, settings));
    found.extend(hands(&rolled_classes, settings));
    found
}

/// Another order in which the plain impressions fit the rolled ones much better.
fn order(
    rolled: &[Option<[f64; CLASSES]>; 10],
    plain: &[Option<[f64; CLASSES]>; 10],
    settings: &DoubtSettings,
) -> Option<Doubt> {
    /// The plain finger (0 to 9) that a rolled block (0 to 9) would show.
    type Order = fn(usize) -> usize;
    let orders: [(Order, &str); 4] = [
        (|i| (i + 5) % 10, "the two hands were exchanged (right-hand prints in the left-hand row)"),
        (|i| if i < 5 { 4 - i } else { 14 - i }, "the fingers of each row run from little finger to thumb"),
        (|i| i % 5, "the right hand was printed twice, in both rows"),
        (|i| i % 5 + 5, "the left hand was printed twice, in both rows"),
    ];
    let fit = |order: Order| -> f64 {
        let pairs = (0..10).filter_map(|i| Some(agreement(rolled[i].as_ref()?, plain[order(i)].as_ref()?).ln()));
        pairs.sum()
    };
    // Only fingers that have both say anything, and an order is judged on all ten.
    if rolled.iter().chain(plain).any(Option::is_none) {
        return None;
    }
    let given = fit(|i| i);
    let (best, words) = orders.iter().map(|(order, words)| (fit(*order), *words)).max_by(|a, b| a.0.total_cmp(&b.0))?;
    (best - given > settings.odds.ln()).then(|| {
        let text = format!("The patterns of the plain impressions fit the rolled ones much better if {words}.");
        Doubt::new(DoubtKind::Order, (1..=10).collect(), text)
    })
}

/// Rows whose loops lean as those of the other hand do.
fn hands(rolled: &[Option<[f64; CLASSES]>; 10], settings: &DoubtSettings) -> Vec<Doubt> {
    let mut found = Vec::new();
    for (hand, other, first) in [("right", "left", 0usize), ("left", "right", 5)] {
        let mut odds = 0.0;
        for place in 0..5 {
            let Some(classes) = rolled[first + place] else { continue };
            let radial = settings.radial[place];
            // In the right hand ulnar loops open to the right of the image, in the left hand to the left (handbook, chapter II).
            let likelihood = |ulnar: usize, thumbward: usize| {
                let loops = (1.0 - radial) * classes[ulnar] + radial * classes[thumbward];
                let neutral = classes[0] + classes[3];
                loops + 0.5 * neutral
            };
            let (as_right, as_left) = (likelihood(RIGHT, LEFT), likelihood(LEFT, RIGHT));
            odds += if first == 0 { (as_left / as_right).ln() } else { (as_right / as_left).ln() };
        }
        if odds > settings.odds.ln() {
            let text = format!(
                "The loops of the {hand}-hand row lean as those of a {other} hand do: look whether hands were exchanged, one hand was \
                 printed twice, or the scan is mirrored."
            );
            found.push(Doubt::new(DoubtKind::OtherHand, (first as u8 + 1..=first as u8 + 5).collect(), text));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::impression::Impression;
    use crate::proposal::{Status, write};

    /// Proposals by a letter a finger: A arch, L left slant, R right slant, W whorl, - abstained.
    fn ten(letters: &str) -> Vec<Proposal> {
        letters
            .chars()
            .enumerate()
            .map(|(i, letter)| {
                let print = Impression::from_gray8(1, 1, &[255], None).unwrap().with_finger(i as u8 + 1).unwrap();
                let mut proposal = write::abstention(&print, Vec::new());
                let general = match letter {
                    'A' => General::Au,
                    'L' => General::Ls,
                    'R' => General::Rs,
                    'W' => General::Wu,
                    _ => return proposal,
                };
                proposal.status = Status::Proposed;
                proposal.pattern = Some(Reading { general, subclass: None, tracing: None, probability: 0.95 });
                proposal
            })
            .collect()
    }

    fn kinds(rolled: &str, plain: &str) -> Vec<DoubtKind> {
        let mut kinds: Vec<_> =
            doubts(&ten(rolled), &ten(plain), &DoubtSettings::default()).into_iter().map(|d| d.kind).collect();
        kinds.dedup();
        kinds
    }

    /// Figure 353 of the handbook: right hand ulnar loops and whorls, left hand likewise.
    const CARD: &str = "RRRWWLLWWL";

    #[test]
    fn a_card_in_order_raises_no_doubt() {
        assert_eq!(kinds(CARD, CARD), []);
        // Radial loops of both index fingers are common (Galton).
        assert_eq!(kinds("RLRWRLRLWL", "RLRWRLRLWL"), []);
    }

    #[test]
    fn one_finger_that_reads_otherwise_is_named_alone() {
        let found = doubts(&ten("RRRWWLLWWL"), &ten("RRAWWLLWWL"), &DoubtSettings::default());
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].kind, found[0].fingers.as_slice()), (DoubtKind::PlainDisagrees, [3].as_slice()));
    }

    #[test]
    fn exchanged_hands_are_recognised_by_slant_and_order() {
        // The left hand's prints stand in the right-hand row.
        let exchanged: String = CARD[5..].chars().chain(CARD[..5].chars()).collect();
        let found = kinds(&exchanged, CARD);
        assert!(found.contains(&DoubtKind::Order) && found.contains(&DoubtKind::OtherHand), "{found:?}");
    }

    #[test]
    fn a_right_hand_printed_twice_is_recognised() {
        let found = doubts(&ten("RRRWRRRRWR"), &ten("RRRWRLLLWL"), &DoubtSettings::default());
        let order = found.iter().find(|d| d.kind == DoubtKind::Order).unwrap();
        assert!(order.text.contains("right hand was printed twice"), "{}", order.text);
        assert!(found.iter().any(|d| d.kind == DoubtKind::OtherHand && d.fingers == [6, 7, 8, 9, 10]));
    }

    #[test]
    fn without_plain_impressions_only_the_slant_speaks() {
        assert_eq!(kinds("LLLWLLLWWL", "----------"), [DoubtKind::OtherHand]);
        assert_eq!(kinds("----------", CARD), []);
    }

    #[test]
    fn one_loop_against_its_hand_is_no_doubt_of_the_hand() {
        assert_eq!(kinds("RRRWLLLWWL", "----------"), []);
    }
}
