//! What the drawn ridges show, read off the clean ridge picture and the known points, sharing nothing with the screening rooms.

use super::design::{Design, trace_by_flow};
use super::ridges::Ridges;
use super::{Kind, Wish};
use crate::geometry::Point;
use crate::proposal::{General, Tracing};

/// What was read.
#[derive(Debug, Clone, Default)]
pub(super) struct RidgeReading {
    /// Ridge count of a loop.
    pub ridge_count: Option<u16>,
    /// Tracing of a whorl.
    pub tracing: Option<Tracing>,
    /// Ridges between traced ridge and right delta, positive inside.
    pub ridges_between: Option<i32>,
}

/// Why the drawn ridges do not meet the wish.
pub(super) struct Miss {
    /// In words.
    pub reason: String,
    /// By how many ridges too many (positive) or too few; 0 where that is not the question.
    pub by: f64,
}

/// Reads the drawn ridges and compares with the wish.
pub(super) fn read(wish: &Wish, design: &Design, ridges: &Ridges) -> Result<RidgeReading, Miss> {
    let mut reading = RidgeReading::default();
    let (cores, deltas) = (design.flow.cores(), design.flow.deltas());
    match wish.kind {
        Kind::LeftLoop | Kind::RightLoop => {
            let count = crossings(ridges, deltas[0], cores[0], design.period.at(cores[0]));
            if let Some(wanted) = wish.ridge_count
                && wanted != count
            {
                let by = f64::from(count) - f64::from(wanted);
                return Err(Miss { reason: format!("the drawn ridges count {count}, not {wanted}"), by });
            }
            if count < 1 {
                return Err(Miss { reason: "no looping ridge lies between delta and core".into(), by: -1.0 });
            }
            reading.ridge_count = Some(count);
        }
        kind if kind.general() == General::Wu => read_whorl(wish, design, &deltas, &mut reading)?,
        _ => {}
    }
    Ok(reading)
}

/// Ridges crossed by the straight line from delta to core, the delta's own ridge not counted.
fn crossings(ridges: &Ridges, delta: Point, core: Point, period: f64) -> u16 {
    const SAMPLE_EVERY: f64 = 0.5;
    let length = delta.distance(core);
    let steps = (length / SAMPLE_EVERY).ceil().max(1.0) as usize;
    let mut count = 0;
    // The ridge on which the delta lies is the delta.
    let mut on_ridge = true;
    for i in 0..=steps {
        let t = i as f64 / steps as f64;
        let signal = ridges.at(delta.lerp(core, t));
        let away = t * length > 0.5 * period;
        if signal > 0.15 && !on_ridge {
            on_ridge = true;
            count += u16::from(away);
        } else if signal < -0.15 {
            on_ridge = false;
        }
    }
    count
}

fn read_whorl(wish: &Wish, design: &Design, deltas: &[Point], reading: &mut RidgeReading) -> Result<(), Miss> {
    let by_x = |a: &&Point, b: &&Point| a.x.total_cmp(&b.x);
    let (Some(&left), Some(&right)) = (deltas.iter().min_by(by_x), deltas.iter().max_by(by_x)) else { return Ok(()) };
    let Some(between) = trace_by_flow(design, left, right) else {
        return match wish.tracing {
            Some(_) => Err(Miss { reason: "the traced ridge leaves the print".into(), by: 0.0 }),
            None => Ok(()),
        };
    };
    let whole = between.trunc() as i32;
    let tracing = match whole {
        3.. => Tracing::I,
        ..=-3 => Tracing::O,
        _ => Tracing::M,
    };
    if let Some(wanted) = wish.tracing
        && wanted != tracing
    {
        return Err(Miss { reason: format!("the drawn ridges trace {tracing:?}, not {wanted:?}"), by: 0.0 });
    }
    reading.tracing = Some(tracing);
    reading.ridges_between = Some(whole);
    Ok(())
}
