//! What makes a tent at the centre of an arch: an angle, an upthrust, a recurve.
//!
//! Handbook, chapter II, "The tented arch": ridges at the centre form a definite angle of 90 degrees or less; or an ending ridge rises at 45
//! degrees or more; or two of the loop's three essentials are there and the third is not.

use super::recurve::{Recurve, along};
use crate::field::RidgeField;
use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, Formation, Pixel, Region, RidgeLines, RidgeSettings, Stop};
use crate::singular::Candidate;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// A ridge that turns at the centre.
#[derive(Debug, Clone)]
pub struct Angle {
    /// The two ways down from its tip, the left one first; both begin at the tip.
    pub legs: [Vec<Point>; 2],
    /// The angle between them, radians.
    pub opening: f64,
}

/// An ending ridge that rises at the centre.
#[derive(Debug, Clone)]
pub struct Upthrust {
    /// The ridge from its upper end down.
    pub ridge: Vec<Point>,
    /// How steeply it rises, radians from the horizontal.
    pub rise: f64,
}

/// What the ridges at the centre of an arch show.
#[derive(Debug, Clone, Default)]
pub struct Tent {
    /// The sharpest angle whose sides keep parting: those of a recurve run side by side.
    pub angle: Option<Angle>,
    /// The upthrust nearest to the middle.
    pub upthrust: Option<Upthrust>,
    /// The innermost recurve about the core, if it turns round: two ridges that converge, or one that turns in an angle, make no recurve.
    pub recurve: Option<Recurve>,
    /// Whether an appendage abuts on it at a right angle.
    pub spoiled: bool,
}

/// An angle up to this is definite, radians (handbook: 90 degrees or less).
const DEFINITE: f64 = FRAC_PI_2;
/// Least rise of an upthrust, radians from the horizontal (handbook: 45 degrees or more).
const STEEP: f64 = FRAC_PI_4;
/// How far above the core, and below it where no delta was found, the centre reaches, ridge periods.
const ABOVE: f64 = 3.0;
const BELOW: f64 = 4.0;
/// How far below the delta it reaches, ridge periods: an upthrust may end on the delta's own ridge.
const BELOW_DELTA: f64 = 0.5;
/// How far aside of the middle between core and delta, ridge periods.
const ASIDE: f64 = 1.8;
/// Upright lines on either side of the middle on which an angle is looked for, and how far apart they stand, ridge periods.
const LOOKS: i32 = 2;
const LOOKS_APART: f64 = 0.4;
/// Ridges around the centre that are turned into lines, ridge periods.
const MARGIN: f64 = 7.0;
/// The rise is taken over so much of an upthrust; one shorter than the second is no ridge; ridge periods.
const RISING: f64 = 1.2;
const SHORTEST: f64 = 0.6;
/// The sides of an angle are taken from so far to so far from the tip, and once more farther down, ridge periods: thinning rounds the tip.
const SIDES: [f64; 2] = [0.25, 1.3];
const SIDES_BELOW: [f64; 2] = [1.3, 3.0];
/// Sides that part by less than this farther down are those of a recurve, radians.
const PARTING: f64 = FRAC_PI_4;

/// Legs that part by less than this are parallel, radians (20 degrees); no roof is so sharp.
const PARALLEL: f64 = 0.35;
/// A head is round where the legs part by so much more near the top than farther down, radians (30 degrees): the sides of an angle part alike.
const ROUND: f64 = 0.52;

impl Tent {
    /// Reads the ridges about `core`, or about `bend` where there is no core; `delta` is the one under it.
    pub fn of(
        field: &RidgeField,
        core: Option<&Candidate>,
        delta: Option<&Candidate>,
        bend: Option<Point>,
        settings: &RidgeSettings,
    ) -> Option<Self> {
        let centre = core.map(|core| core.at).or(bend)?;
        let period = field.median_period().max(3.0);
        let foot = delta.map(|delta| delta.at);
        let region = Region::around(&[centre, foot.unwrap_or(centre)], MARGIN * period, field.filtered.dim());
        let lines = RidgeLines::in_bends(field, region, period, settings);
        Some(Self::read(&lines, (centre, core.map(|core| core.directions[0])), foot))
    }

    /// Reads ridge lines about a centre, with the way a core there opens (radians), and down to a delta.
    pub fn read(lines: &RidgeLines, (centre, opening): (Point, Option<f64>), delta: Option<Point>) -> Self {
        let period = lines.period;
        let top = centre.y - ABOVE * period;
        let bottom = delta.map_or(centre.y + BELOW * period, |delta| delta.y + BELOW_DELTA * period);
        let middle = delta.map_or(centre.x, |delta| centre.x.midpoint(delta.x));
        let angles = (-LOOKS..=LOOKS).flat_map(|look| {
            let x = middle + LOOKS_APART * f64::from(look) * period;
            lines
                .crossings(Point::new(x, top), Point::new(x, bottom))
                .into_iter()
                .filter_map(|met| angle(lines, met.pixel))
        });
        let recurve = opening.and_then(|opening| Recurve::innermost(lines, centre, opening));
        let recurve = recurve.filter(|recurve| turns_round(recurve, period));
        Self {
            angle: angles.min_by(|a, b| a.opening.total_cmp(&b.opening)),
            upthrust: upthrust(lines, Point::new(middle, top.midpoint(bottom)), (ASIDE * period, 0.5 * (bottom - top))),
            spoiled: recurve.as_ref().is_some_and(|recurve| recurve.appendage(lines).is_some()),
            recurve,
        }
    }

    /// The angle, where it is definite.
    pub fn definite_angle(&self) -> Option<&Angle> {
        self.angle.as_ref().filter(|angle| angle.opening <= DEFINITE)
    }
}

/// Whether a recurve turns round, as two ridges that converge and one that turns in an angle do not.
fn turns_round(recurve: &Recurve, period: f64) -> bool {
    let [left, right] = [0, 1].map(|side| {
        let points = &recurve.legs[side].points;
        // One of the legs may begin on the other side of the top.
        let from_top = |i: &usize| points[*i].distance(recurve.top);
        let first = (0..points.len()).min_by(|a, b| from_top(a).total_cmp(&from_top(b))).unwrap_or(0);
        &points[first..]
    });
    let parting = |reach| {
        let [left, right] = [left, right].map(|leg| way(leg, recurve.top, reach, period));
        Some(direction_difference(left?, right?))
    };
    let Some((near, below)) = parting(SIDES).zip(parting(SIDES_BELOW)) else { return false };
    below < PARALLEL || (below < PARTING && near - below > ROUND)
}

/// The ending ridge nearest to `middle` that rises steeply; half the width and height of where it is looked for, pixels.
fn upthrust(lines: &RidgeLines, middle: Point, (aside, up): (f64, f64)) -> Option<Upthrust> {
    lines.formations_near(middle, aside.hypot(up)).into_iter().find_map(|(_, pixel, formation)| {
        let end = lines.place(pixel);
        let at_centre = (end.x - middle.x).abs() <= aside && (end.y - middle.y).abs() <= up;
        let ends = matches!(formation, Formation::Ending | Formation::ShortRidge) && lines.heavy(pixel);
        if !at_centre || !ends {
            return None;
        }
        let down = lines.walk(pixel, 1.5 * PI, AtFork::Straight, RISING * lines.period, |_| true);
        // A ridge that goes on over a break of ink, or at the edge of the print, has not ended.
        let up = down.end().direction_to(end);
        let on = lines.walk(pixel, up, AtFork::Straight, RISING * lines.period, |_| true);
        if on.stop != Stop::RidgeEnd || on.bridged > 0 || down.bridged > 0 {
            return None;
        }
        let rise = FRAC_PI_2 - direction_difference(end.direction_to(down.end()), 1.5 * PI).abs();
        let long = end.distance(down.end()) > SHORTEST * lines.period;
        (rise >= STEEP && long).then_some(Upthrust { ridge: down.points, rise })
    })
}

/// The angle that a ridge makes about its highest place, where that lies within a ridge period of one of its pixels, the ridge goes down on both sides and the
/// sides keep parting. One sharper than 45 degrees is not told from a recurve.
fn angle(lines: &RidgeLines, pixel: Pixel) -> Option<Angle> {
    let (period, met) = (lines.period, lines.place(pixel));
    let leg = |from, heading| lines.walk(from, heading, AtFork::Straight, (SIDES_BELOW[1] + 1.5) * period, |_| true);
    let both = |from| [leg(from, PI), leg(from, 0.0)];
    let around = both(pixel);
    let tip = around.iter().flat_map(|walk| walk.points.iter().copied()).min_by(|a, b| a.y.total_cmp(&b.y))?;
    if tip.distance(met) > period {
        return None;
    }
    let legs = both(lines.pixel_at(tip)?);
    // A ridge that closes near by is an island.
    if legs.iter().any(|leg| leg.stop == Stop::Closed) {
        return None;
    }
    let ways = |reach| Some([way(&legs[0].points, tip, reach, period)?, way(&legs[1].points, tip, reach, period)?]);
    let parting = |[left, right]: [f64; 2]| direction_difference(right, left);
    let opening = parting(ways(SIDES)?);
    let apart = [0, 1].map(|side| along(tip, legs[side].end(), 1.5 * PI));
    let down = apart.iter().all(|(below, _)| *below > 0.0) && apart[0].1 < 0.0 && apart[1].1 > 0.0;
    let keep_parting = ways(SIDES_BELOW).is_none_or(|below| parting(below) > PARTING);
    (down && keep_parting && opening > PARTING).then(|| Angle { legs: legs.map(|leg| leg.points), opening })
}

/// Direction of a way from `tip`, between two distances from it in ridge periods, radians; none where it is shorter.
fn way(points: &[Point], tip: Point, [from, to]: [f64; 2], period: f64) -> Option<f64> {
    let at = |periods: f64| points.iter().find(|p| p.distance(tip) >= periods * period);
    Some(at(from)?.direction_to(*at(to)?))
}
