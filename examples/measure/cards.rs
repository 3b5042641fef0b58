//! Whole drawn cards, handled as scanners and copiers do: are the ten blocks found, and are their fingers right?

use super::shared::scans::{Handling, flat_card, right_blocks, scanned};
use super::tables::{figures, heading};
use super::{Arguments, Failure};
use rayon::prelude::*;
use recurve::card::{CardSettings, Form, find};

/// Scans made of each drawn card.
const SCANS_OF_A_CARD: u64 = 8;
/// A hundredth of the prints of other sets: a card has ten, is scanned eight times, and takes long to draw.
const PRINTS_TO_A_CARD: u64 = 25;
/// Start of the seeds: none of those used for fitting or tests.
const FIRST_SEED: u64 = 70_000_000;

/// What became of one scan.
struct Outcome {
    handling: Handling,
    sure: bool,
    right: usize,
    refused: Option<String>,
}

/// Draws, scans, finds.
pub fn measure(arguments: &Arguments) -> Result<String, Failure> {
    let cards = (arguments.prints / PRINTS_TO_A_CARD).max(1);
    let (forms, settings) = (Form::embedded()?, CardSettings::default());
    let mut outcomes = Vec::new();
    for card in 0..cards {
        let drawn = flat_card(FIRST_SEED + card)?;
        let of_card: Vec<Result<Outcome, recurve::Error>> = (0..SCANS_OF_A_CARD)
            .into_par_iter()
            .map(|scan| {
                let seed = FIRST_SEED + 1000 * card + scan;
                let handling = Handling::by_chance(seed);
                let (scan, to_scan) = scanned(&drawn, &handling, seed)?;
                Ok(match find(&scan, &forms, &settings) {
                    Ok(found) => Outcome {
                        handling,
                        sure: found.sure,
                        right: right_blocks(&found, &drawn, &to_scan),
                        refused: None,
                    },
                    Err(reason) => Outcome { handling, sure: false, right: 0, refused: Some(reason.to_string()) },
                })
            })
            .collect();
        for outcome in of_card {
            let outcome = outcome?;
            if outcome.right < 10 || !outcome.sure {
                eprintln!(
                    "card {card}: {} right, sure {}, {:?}, {:?}",
                    outcome.right, outcome.sure, outcome.refused, outcome.handling
                );
            }
            outcomes.push(outcome);
        }
        eprintln!("cards: {} of {cards}", card + 1);
    }
    let scans = outcomes.len();
    let mut table = figures();
    table.share("blocks right", outcomes.iter().map(|o| o.right).sum(), 10 * scans);
    table.share("scans with all ten blocks right", outcomes.iter().filter(|o| o.right == 10).count(), scans);
    table.share("scans taken for a card without being told", outcomes.iter().filter(|o| o.sure).count(), scans);
    table.share("of these, with a wrong block", outcomes.iter().filter(|o| o.sure && o.right < 10).count(), scans);
    table.share("scans refused", outcomes.iter().filter(|o| o.refused.is_some()).count(), scans);
    let data = format!(
        "{cards} drawn cards, each scanned {SCANS_OF_A_CARD} times without resolution tag: turned by up to 10 degrees, half of them upside \
         down, shifted, 200 to 1200 ppi, some cut at an edge, faded, copied or scribbled on. A block is right when its middle lies within a \
         tenth of its width of the true one and its cut holds the print's true cores."
    );
    Ok(format!("{}\n{table}", heading(arguments, "cards", &data)))
}
