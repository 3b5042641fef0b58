//! What the stated probabilities are worth.

/// One bin of stated probabilities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bin {
    /// Mean stated probability.
    pub stated: f64,
    /// Share that was right.
    pub right: f64,
    /// Answers in the bin.
    pub count: usize,
}

/// Calibration and coverage of answers with probabilities.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Calibration {
    /// Ten bins of equal width that hold answers, ascending.
    pub bins: Vec<Bin>,
    /// Expected calibration error: mean distance of stated and observed, weighted by the bins' counts.
    pub expected_error: Option<f64>,
    /// (coverage, accuracy) when only the most probable answers are kept, from few to all.
    pub coverage: Vec<(f64, f64)>,
    /// Share of answers stated above 0.95 that were wrong.
    pub confident_and_wrong: Option<f64>,
}

const BINS: usize = 10;
/// From here on an answer counts as confident.
const CONFIDENT: f64 = 0.95;

impl Calibration {
    /// From (stated probability, whether right), over `prints` prints in all, answered or not.
    pub fn of(answers: &[(f64, bool)], prints: usize) -> Self {
        if answers.is_empty() {
            return Self::default();
        }
        let mut bins = Vec::new();
        for b in 0..BINS {
            let bin_of = |p: f64| ((p * BINS as f64) as usize).min(BINS - 1);
            let inside: Vec<_> = answers.iter().filter(|(p, _)| bin_of(*p) == b).collect();
            if !inside.is_empty() {
                let n = inside.len() as f64;
                bins.push(Bin {
                    stated: inside.iter().map(|a| a.0).sum::<f64>() / n,
                    right: inside.iter().filter(|a| a.1).count() as f64 / n,
                    count: inside.len(),
                });
            }
        }
        let total = answers.len() as f64;
        let expected = bins.iter().map(|b| (b.stated - b.right).abs() * b.count as f64).sum::<f64>() / total;
        let confident: Vec<_> = answers.iter().filter(|(p, _)| *p > CONFIDENT).collect();
        let wrong = confident.iter().filter(|a| !a.1).count() as f64;
        Self {
            bins,
            expected_error: Some(expected),
            coverage: coverage(answers, prints),
            confident_and_wrong: (!confident.is_empty()).then(|| wrong / confident.len() as f64),
        }
    }
}

fn coverage(answers: &[(f64, bool)], prints: usize) -> Vec<(f64, f64)> {
    let mut sorted = answers.to_vec();
    sorted.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut right = 0;
    let mut curve = Vec::new();
    for (index, (probability, ok)) in sorted.iter().enumerate() {
        right += usize::from(*ok);
        // Answers of one probability are kept or dropped together.
        if sorted.get(index + 1).is_none_or(|next| next.0 < *probability) {
            curve.push(((index + 1) as f64 / prints.max(1) as f64, right as f64 / (index + 1) as f64));
        }
    }
    curve
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_expected_error_of_a_small_example_is_as_by_hand() {
        // Stated 0.9 twice, once right: |0.9 - 0.5| * 2; stated 0.6 twice, both right: |0.6 - 1| * 2; over 4 answers: 0.4.
        let calibration = Calibration::of(&[(0.9, true), (0.9, false), (0.6, true), (0.6, true)], 5);
        assert!((calibration.expected_error.unwrap() - 0.4).abs() < 1e-12);
        assert_eq!(calibration.coverage, [(0.4, 0.5), (0.8, 0.75)]);
        assert_eq!(calibration.confident_and_wrong, None);
    }
}
