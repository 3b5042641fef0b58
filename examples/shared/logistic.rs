//! Fitting a logistic sum.

use rayon::prelude::*;

/// One example for a fit.
pub struct Row {
    pub facts: Vec<f64>,
    pub class: usize,
    pub weight: f64,
}

/// Multinomial logistic regression by gradient descent with momentum (Nesterov 1983) on inputs scaled to unit mean square.
/// `penalty` is a ridge penalty worth so many examples: with few examples the weights stay near zero.
pub fn fit_multinomial(rows: &[Row], classes: usize, penalty: f64, rounds: usize) -> Vec<Vec<f64>> {
    let n = rows.first().map_or(0, |r| r.facts.len());
    let total: f64 = rows.iter().map(|r| r.weight).sum::<f64>() + penalty;
    let scale: Vec<f64> = (0..n)
        .map(|k| (rows.iter().map(|r| r.weight * r.facts[k].powi(2)).sum::<f64>() / total).sqrt().max(0.05))
        .collect();
    let (mut w, mut previous) = (vec![vec![0.0; n]; classes], vec![vec![0.0; n]; classes]);
    let rate = 4.0 / n.max(1) as f64;
    for round in 0..rounds * 3 {
        let momentum = round as f64 / (round as f64 + 3.0);
        let ahead: Vec<Vec<f64>> = w
            .iter()
            .zip(&previous)
            .map(|(a, b)| a.iter().zip(b).map(|(x, y)| x + momentum * (x - y)).collect())
            .collect();
        let gradient =
            rows.par_chunks(256).map(|chunk| gradient(chunk, &ahead, &scale)).collect::<Vec<_>>().into_iter().fold(
                vec![vec![0.0; n]; classes],
                |mut sum, g| {
                    for (a, b) in sum.iter_mut().zip(g) {
                        a.iter_mut().zip(b).for_each(|(x, y)| *x += y);
                    }
                    sum
                },
            );
        previous = w;
        w = ahead
            .into_iter()
            .zip(gradient)
            .map(|(a, g)| a.into_iter().zip(g).map(|(x, g)| x - rate * (g + penalty * 0.1 * x) / total).collect())
            .collect();
    }
    w.into_iter().map(|row| row.into_iter().zip(&scale).map(|(x, s)| x / s).collect()).collect()
}

fn gradient(rows: &[Row], weights: &[Vec<f64>], scale: &[f64]) -> Vec<Vec<f64>> {
    let mut g = vec![vec![0.0; scale.len()]; weights.len()];
    for row in rows {
        let sums: Vec<f64> =
            weights.iter().map(|w| w.iter().zip(&row.facts).zip(scale).map(|((w, x), s)| w * x / s).sum()).collect();
        let top = sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = sums.iter().map(|s| (s - top).exp()).sum();
        for (c, g) in g.iter_mut().enumerate() {
            let d = row.weight * ((sums[c] - top).exp() / total - f64::from(u8::from(c == row.class)));
            for ((g, x), s) in g.iter_mut().zip(&row.facts).zip(scale) {
                *g += d * x / s;
            }
        }
    }
    g
}
