//! Small decision trees that are added up.
//!
//! Facts bear on a pattern together ("a complete circuit, unless the place hangs on a faint ridge"), which a weighted sum
//! of them cannot say. Each tree asks a handful of questions and adds a little to one class; the sums become probabilities
//! by the soft maximum (gradient boosting: Friedman 2001). How they are grown is in `examples/fit`.

use serde::{Deserialize, Serialize};

/// One tree: questions in the order in which they are asked, leaves apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tree {
    /// For each question: number of the fact, its threshold, where to go when the fact is at most that, and where else. A
    /// target of 0 or more is a question, below 0 the leaf `-1 - target`.
    pub questions: Vec<(u8, f32, i16, i16)>,
    /// What each leaf adds.
    pub leaves: Vec<f32>,
}

impl Tree {
    /// What the tree adds for these facts.
    pub fn value(&self, facts: &[f64]) -> f64 {
        let mut at = if self.questions.is_empty() { -1 } else { 0 };
        // A path is never longer than there are questions: a damaged file cannot make it endless.
        for _ in 0..=self.questions.len() {
            if at < 0 {
                break;
            }
            let Some(&(fact, threshold, low, high)) = self.questions.get(at as usize) else { return 0.0 };
            let Some(&value) = facts.get(usize::from(fact)) else { return 0.0 };
            at = if value <= f64::from(threshold) { low } else { high };
        }
        let leaf = usize::try_from(-1 - i32::from(at)).unwrap_or(usize::MAX);
        self.leaves.get(leaf).copied().map_or(0.0, f64::from)
    }
}

/// Trees for each class.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Forest {
    /// Where each class starts: the logarithm of its share.
    pub start: Vec<f64>,
    /// For each class its trees.
    pub trees: Vec<Vec<Tree>>,
}

impl Forest {
    /// The probability of each class; even when there are no trees.
    pub fn probabilities<const CLASSES: usize>(&self, facts: &[f64]) -> [f64; CLASSES] {
        let sums: [f64; CLASSES] = std::array::from_fn(|c| {
            self.start.get(c).copied().unwrap_or(0.0)
                + self.trees.get(c).map_or(0.0, |trees| trees.iter().map(|t| t.value(facts)).sum())
        });
        soft_maximum(sums)
    }
}

/// Positive numbers of sum 1 whose logarithms differ as the given numbers do.
pub fn soft_maximum<const N: usize>(sums: [f64; N]) -> [f64; N] {
    let top = sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let grown = sums.map(|s| (s - top).exp());
    let total: f64 = grown.iter().sum();
    grown.map(|g| g / total)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tree_asks_its_questions_in_turn() {
        let tree = Tree { questions: vec![(0, 0.5, -1, 1), (1, 2.0, -2, -3)], leaves: vec![1.0, 2.0, 3.0] };
        assert_eq!(tree.value(&[0.0, 9.0]), 1.0);
        assert_eq!(tree.value(&[1.0, 2.0]), 2.0);
        assert_eq!(tree.value(&[1.0, 2.1]), 3.0);
        // Without questions there is one leaf; a question about a fact that is not there adds nothing.
        assert_eq!(Tree { questions: vec![], leaves: vec![0.25] }.value(&[]), 0.25);
        assert_eq!(tree.value(&[]), 0.0);
    }

    #[test]
    fn a_tree_that_leads_in_a_circle_ends() {
        let tree = Tree { questions: vec![(0, 0.5, 0, 0)], leaves: vec![1.0] };
        assert_eq!(tree.value(&[0.0]), 0.0);
    }

    #[test]
    fn probabilities_add_to_one_and_follow_the_sums() {
        let forest = Forest { start: vec![0.0, 1.0, 0.0], trees: vec![] };
        let p = forest.probabilities::<3>(&[]);
        assert!((p.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((p[1] / p[0] - 1f64.exp()).abs() < 1e-12);
    }
}
