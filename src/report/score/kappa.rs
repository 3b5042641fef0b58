//! Cohen's kappa: agreement beyond what chance would give.

use std::collections::BTreeSet;

/// Kappa with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// Kappa, 1 for full agreement, 0 for no more than chance.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// Pairs judged.
    pub pairs: usize,
}

/// Half width of a 95 % interval in standard errors.
const NORMAL_95: f64 = 1.959_964;

/// Cohen's kappa of (truth, answer) pairs with the large-sample interval of Fleiss, Cohen and Everitt (1969).
/// None for fewer than two pairs, or when chance alone would agree fully (one class only).
///
/// ```
/// use recurve::report::score::cohen;
/// // 20 + 15 agreements, 5 and 10 disagreements: 0.7 observed, 0.5 by chance.
/// let mut pairs = vec![("yes", "yes"); 20];
/// pairs.extend([("yes", "no"); 5]);
/// pairs.extend([("no", "yes"); 10]);
/// pairs.extend([("no", "no"); 15]);
/// let kappa = cohen(&pairs).unwrap();
/// assert!((kappa.value - 0.4).abs() < 1e-12);
/// ```
pub fn cohen(pairs: &[(&str, &str)]) -> Option<Kappa> {
    let n = pairs.len() as f64;
    let classes: Vec<&str> = pairs.iter().flat_map(|p| [p.0, p.1]).collect::<BTreeSet<_>>().into_iter().collect();
    let share = |keep: &dyn Fn(&(&str, &str)) -> bool| pairs.iter().filter(|p| keep(p)).count() as f64 / n;
    let rows: Vec<f64> = classes.iter().map(|c| share(&|p| p.0 == *c)).collect();
    let columns: Vec<f64> = classes.iter().map(|c| share(&|p| p.1 == *c)).collect();
    let observed = share(&|p| p.0 == p.1);
    let expected: f64 = rows.iter().zip(&columns).map(|(r, c)| r * c).sum();
    if pairs.len() < 2 || expected > 1.0 - 1e-12 {
        return None;
    }
    let value = (observed - expected) / (1.0 - expected);
    let (mut agreeing, mut differing) = (0.0, 0.0);
    for (i, a) in classes.iter().enumerate() {
        for (j, b) in classes.iter().enumerate() {
            let p = share(&|pair| pair.0 == *a && pair.1 == *b);
            if i == j {
                agreeing += p * ((1.0 - expected) - (rows[i] + columns[i]) * (1.0 - observed)).powi(2);
            } else {
                differing += p * (columns[i] + rows[j]).powi(2);
            }
        }
    }
    let rest = (observed * expected - 2.0 * expected + observed).powi(2);
    let variance = (agreeing + (1.0 - observed).powi(2) * differing - rest) / (n * (1.0 - expected).powi(4));
    let half = NORMAL_95 * variance.max(0.0).sqrt();
    Some(Kappa { value, low: value - half, high: (value + half).min(1.0), pairs: pairs.len() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Kappa of a table of shares, straight from its definition.
    fn kappa_of(p: &[[f64; 3]; 3]) -> f64 {
        let total: f64 = p.iter().flatten().sum();
        let agree: f64 = (0..3).map(|i| p[i][i]).sum::<f64>() / total;
        let chance: f64 =
            (0..3).map(|i| p[i].iter().sum::<f64>() * p.iter().map(|row| row[i]).sum::<f64>()).sum::<f64>()
                / (total * total);
        (agree - chance) / (1.0 - chance)
    }

    #[test]
    fn the_interval_is_that_of_the_delta_method() {
        // The variance of a smooth function of multinomial shares is (sum p g^2 - (sum p g)^2) / n with g its slopes; here
        // the slopes are taken numerically, so the closed formula is checked against its own derivation.
        let counts = [[44.0, 5.0, 1.0], [7.0, 20.0, 3.0], [9.0, 5.0, 6.0]];
        let names = ["a", "b", "c"];
        let mut pairs = Vec::new();
        for i in 0..3 {
            for j in 0..3 {
                pairs.extend(vec![(names[i], names[j]); counts[i][j] as usize]);
            }
        }
        let shares = counts.map(|row| row.map(|c| c / 100.0));
        let (mut first, mut second) = (0.0, 0.0);
        for i in 0..3 {
            for j in 0..3 {
                let h = 1e-6;
                let (mut up, mut down) = (shares, shares);
                up[i][j] += h;
                down[i][j] -= h;
                let slope = (kappa_of(&up) - kappa_of(&down)) / (2.0 * h);
                first += shares[i][j] * slope * slope;
                second += shares[i][j] * slope;
            }
        }
        let error = ((first - second * second) / 100.0).sqrt();
        let kappa = cohen(&pairs).unwrap();
        assert!((kappa.value - kappa_of(&shares)).abs() < 1e-12);
        assert!((kappa.high - kappa.value - NORMAL_95 * error).abs() < 1e-6);
    }

    #[test]
    fn one_class_alone_has_no_kappa() {
        assert_eq!(cohen(&[("a", "a"), ("a", "a")]), None);
    }
}
