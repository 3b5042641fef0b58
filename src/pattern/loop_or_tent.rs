//! Loop or tented arch, by what the ridges between delta and core show.
//!
//! A tented arch lacks one of the three essentials of a loop, mostly the third: a sufficient recurve, a delta, a ridge count across a looping ridge (FBI, *The Science of Fingerprints*, chapter II,
//! "Loops" and "The tented arch"). Where a print looks like a tented arch and a loop is among its references, the third is weighed on the ridges: whether one that is crossed loops, and how many
//! lie between. Neither decides alone, for reading single ridges errs.
//!
//! The weights are those of logistic sums (Cox 1958) fitted on the drawn loops and tented arches that are asked, both counted alike (`examples/fit_tented.rs`): one on these facts and on what was told
//! before, less one on what was told before alone, so that what both know is not counted twice. The exponential is how much oftener a loop than a tented arch of which as much was told shows this.
//! Recurve, angle and the side to which the delta lies are not weighed: on drawn tented arches they show how we draw them.

use super::decide::Pattern;
use super::ridge_count::CountedLine;
use crate::proposal::LEAST_REFERENCE_PROBABILITY;
use serde::Deserialize;

/// Number of facts.
pub const FACTS: usize = 4;
/// Their names, as in `models/decision/tented.json`.
pub const NAMES: [&str; FACTS] = ["constant", "looping ridge", "ridges by flow", "told before"];

/// Ridges by the flow between delta and core are taken up to so many: of the drawn prints that are asked 9 in 100 loops and 1 in 100 tented arches have more.
const MOST_BY_FLOW: f64 = 3.0;
/// Logarithms of the odds that can have been told before of a print that is asked: a loop of either slant at the least probability of a reference, and both slants as likely as the tented arch.
const TOLD: [f64; 2] = [-4.0, 1.0];
/// So much is left of either where more was told before: both stay in sight.
const STAYS: f64 = 0.03;

/// The facts, in the order of [`NAMES`], by the counted line and the probabilities of the patterns before (in the order of [`Pattern::ALL`]); none where no tented arch comes into question (a
/// sampled line crosses more than six ridges) or single ridges cannot be told there.
///
/// The share of the sampled lines that cross a looping ridge (0 to 1); ridges by flow and period alone (0 to 3: more tell no more); the logarithm of the odds of a loop of either slant against a
/// tented arch that were told before (-4 to 1: what else can be told is not asked).
pub fn facts(line: &CountedLine, before: &[f64; 5]) -> Option<[f64; FACTS]> {
    let looping = line.looping.as_ref()?.share;
    let of = |pattern: Pattern| before[pattern as usize];
    let told = ((of(Pattern::LeftLoop) + of(Pattern::RightLoop)) / of(Pattern::TentedArch)).ln();
    Some([1.0, looping, line.by_flow.clamp(0.0, MOST_BY_FLOW), told.clamp(TOLD[0], TOLD[1])])
}

/// The weights of the facts.
#[derive(Debug, Clone, Deserialize)]
pub struct LoopOrTent {
    /// On what they were fitted.
    pub note: String,
    /// Names of the facts, in their order.
    pub facts: Vec<String>,
    /// What a unit of each adds to the logarithm of the odds.
    pub weights: [f64; FACTS],
}

impl LoopOrTent {
    /// The weights that come with the program.
    pub fn embedded() -> Self {
        serde_json::from_str(include_str!("../../models/decision/tented.json")).unwrap_or_else(|_| Self {
            note: "no model".into(),
            facts: Vec::new(),
            weights: [0.0; FACTS],
        })
    }

    /// How much these facts speak for a loop and against a tented arch, as the odds by which they multiply.
    pub fn ratio(&self, facts: &[f64; FACTS]) -> f64 {
        self.weights.iter().zip(facts).map(|(weight, fact)| weight * fact).sum::<f64>().exp()
    }
}

/// The probabilities of the patterns, in the order of [`Pattern::ALL`], after loops of either slant and tented arch were weighed against each other by such odds; what the three have together stays,
/// and so do plain arch and whorl. Of each that was among the readings something is left.
pub fn weighed(probabilities: &[f64; 5], ratio: f64) -> [f64; 5] {
    const CONTEND: [(Pattern, bool); 3] =
        [(Pattern::TentedArch, false), (Pattern::LeftLoop, true), (Pattern::RightLoop, true)];
    let before = CONTEND.map(|(pattern, _)| probabilities[pattern as usize]);
    let together: f64 = before.iter().sum();
    let times = CONTEND.map(|(_, is_loop)| if is_loop { ratio } else { 1.0 });
    let total: f64 = before.iter().zip(times).map(|(p, times)| p * times).sum();
    if !(total > 0.0 && total.is_finite()) {
        return *probabilities;
    }
    let shares: [f64; 3] = std::array::from_fn(|k| together * before[k] * times[k] / total);
    // What fell below what stays is lifted to it, the others make room.
    let stays = before.map(|p| if p >= LEAST_REFERENCE_PROBABILITY { p.min(STAYS) } else { 0.0 });
    let kept: f64 = (0..3).filter(|k| shares[*k] < stays[*k]).map(|k| stays[k]).sum();
    let free: f64 = (0..3).filter(|k| shares[*k] >= stays[*k]).map(|k| shares[k]).sum();
    let mut weighed = *probabilities;
    for (k, (pattern, _)) in CONTEND.into_iter().enumerate() {
        weighed[pattern as usize] = if shares[k] < stays[k] { stays[k] } else { shares[k] * (together - kept) / free };
    }
    weighed
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn the_model_has_the_facts_and_each_speaks_the_way_the_handbook_says() {
        let model = LoopOrTent::embedded();
        assert_eq!(model.facts, NAMES);
        // Chapter II: a ridge count across a looping ridge makes a loop.
        assert!(model.weights[1] > 0.5 && model.weights[2] > 0.2, "{:?}", model.weights);
        let [none, looping, three] = [[1.0, 0.0, 0.0, -2.0], [1.0, 1.0, 0.0, -2.0], [1.0, 1.0, 3.0, -2.0]];
        assert!(model.ratio(&none) < 1.0 && model.ratio(&three) > 5.0 && model.ratio(&three) > model.ratio(&looping));
    }

    #[test]
    fn loop_and_tented_arch_are_weighed_and_nothing_is_lost() {
        // Plain and tented arch, loop to the left, to the right, whorl. By hand: 0.9 against 0.05 and 0.05 times 10 each.
        let by_ten = weighed(&[0.0, 0.9, 0.05, 0.05, 0.0], 10.0);
        assert_abs_diff_eq!(by_ten.as_slice(), [0.0, 0.4737, 0.2632, 0.2632, 0.0].as_slice(), epsilon = 1e-4);
        // The other patterns have nothing to do with it: of 0.6 together 0.5 against 0.1 times 20.
        let beside_a_whorl = weighed(&[0.0, 0.5, 0.1, 0.0, 0.4], 20.0);
        assert_abs_diff_eq!(beside_a_whorl.as_slice(), [0.0, 0.12, 0.48, 0.0, 0.4].as_slice(), epsilon = 1e-12);
        assert_eq!(weighed(&[0.0; 5], 10.0), [0.0; 5]);
        // The tented arch stays among the references, at 3 %, and so does the loop, at what it had.
        let [_, tented, left, ..] = weighed(&[0.0, 0.5, 0.5, 0.0, 0.0], 1000.0);
        assert_abs_diff_eq!([tented, left].as_slice(), [0.03, 0.97].as_slice(), epsilon = 1e-12);
        let low = weighed(&[0.1, 0.85, 0.025, 0.005, 0.02], 0.01);
        assert_abs_diff_eq!([low[0], low[2], low[4]].as_slice(), [0.1, 0.025, 0.02].as_slice(), epsilon = 1e-12);
        assert_abs_diff_eq!(low.iter().sum::<f64>(), 1.0, epsilon = 1e-12);
        assert!(low[3] < 1e-4 && low[1] > 0.85, "{low:?}");
    }
}
