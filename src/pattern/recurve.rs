//! The innermost sufficient recurve before a core.

use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, Pixel, RidgeLines, Stop, Walk};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// A place lies on a line of pixels within this of one of them.
pub const ON_LINE_PX: f64 = 1.6;

/// A ridge that recurves: from its top down two legs.
#[derive(Debug, Clone)]
pub struct Recurve {
    /// The place over the core where the ridge is highest, looking away from the opening.
    pub top: Point,
    /// The two ways down: on the left and on the right hand of one who looks into the opening.
    pub legs: [Walk; 2],
    /// Where the loop opens to, radians.
    pub opening: f64,
}

/// A ridge that abuts on a recurve from outside, at a right angle and between the shoulders. It spoils the recurve (handbook, chapter II,
/// "Core", figures 40 to 45, and "Loops": a sufficient recurve is free of such appendages).
#[derive(Debug, Clone)]
pub struct Appendage {
    /// The way from the recurve outward, and on along whatever ridge it runs into.
    pub points: Vec<Point>,
}

/// The recurve to put the core on, and what spoiled those inside it.
#[derive(Debug, Clone)]
pub struct Sufficient {
    /// The innermost sufficient recurve; where there is none, the innermost one, and nothing is called spoiled.
    pub recurve: Recurve,
    /// The spoiled recurves inside it, each with what spoiled it, from inside out.
    pub spoiled: Vec<(Recurve, Appendage)>,
    /// Whether every recurve that was found is spoiled, so that this one is as well.
    pub none_sound: bool,
}

/// Ridges outside the focus among which the innermost recurve is looked for.
const TRIED: f64 = 3.2;
/// How far inside the focus the search begins, ridge periods: a recurve whose top lies on the focus itself is met.
const INSIDE: f64 = 0.45;
/// A leg that comes down this far below the top has recurved, ridge periods: beyond the shoulders of the narrowest loop.
const DOWN: f64 = 1.4;
/// A rod that touches the recurve from inside hides it from a look along the rod; a look so far beside the axis, ridge periods,
/// passes between rod and leg.
const BESIDE: f64 = 0.36;
/// A recurve met beside the axis is another one than that met on it where it comes so much earlier, ridge periods: more than the head of
/// a narrow recurve falls off beside its top.
const EARLIER: f64 = 0.5;
/// Who traces the recurve toward the appendage must turn more than this to go on along it, radians (50 degrees), from either side: a limb
/// that flows off turns less than half a right angle; of one that stands square a tight recurve and its thinning take up to 30 degrees off.
const SHARP: f64 = 0.87;
/// The direction of that trace is taken over so much of the recurve, ridge periods.
const TOWARD: f64 = 0.6;
/// An appendage is seen so far out, ridge periods: half way to the next ridge, beyond what thinning leaves at a thick place.
const SEEN_OUT: f64 = 0.5;
/// So far out a limb is clear of its fork, ridge periods.
const CLEAR_OF_FORK: f64 = 0.3;
/// A ridge that comes from inside and goes on outside for so long without an end or a fork, ridge periods, is the limb of another loop that
/// crosses, no appendage.
const CROSSES: f64 = 2.0;
/// A line that goes on inside lies within this of the straight way on, ridge periods.
const OPPOSITE: f64 = 0.25;
/// Most spoiled recurves that are passed over.
const SPOILED_MOST: usize = 2;
/// The next recurve lies at least so far outside a spoiled one, ridge periods.
const NEXT: f64 = 0.5;
/// A place so little higher than the one that was met is the same height, ridge periods.
const FLAT: f64 = 0.15;

impl Recurve {
    /// The innermost ridge that turns back on both sides of `focus`, searched up to three ridges beyond it; a ridge with one leg only, a
    /// rod or a hook, is none.
    pub fn innermost(lines: &RidgeLines, focus: Point, opening: f64) -> Option<Self> {
        Self::beyond(lines, focus, opening, -INSIDE, TRIED)
    }

    /// The innermost recurve that no appendage spoils; where all are spoiled, the innermost as if it were not.
    pub fn sufficient(lines: &RidgeLines, focus: Point, opening: f64) -> Option<Sufficient> {
        let innermost = Self::innermost(lines, focus, opening)?;
        let (mut recurve, mut spoiled) = (innermost.clone(), Vec::new());
        while let Some(appendage) = recurve.appendage(lines) {
            let reached = -along(focus, recurve.top, opening).0 / lines.period;
            spoiled.push((recurve, appendage));
            let next = (spoiled.len() <= SPOILED_MOST)
                .then(|| Self::beyond(lines, focus, opening, reached + NEXT, reached + TRIED))
                .flatten();
            let Some(next) = next else {
                return Some(Sufficient { recurve: innermost, spoiled: Vec::new(), none_sound: true });
            };
            recurve = next;
        }
        Some(Sufficient { recurve, spoiled, none_sound: false })
    }

    /// The innermost recurve whose top lies from `least` to `most` ridge periods outside the focus.
    fn beyond(lines: &RidgeLines, focus: Point, opening: f64, least: f64, most: f64) -> Option<Self> {
        let period = lines.period;
        let look = |aside: f64| {
            let axis = focus.step(opening + FRAC_PI_2, aside * period);
            let from = axis.step(opening + PI, least * period);
            let to = axis.step(opening + PI, most * period);
            lines
                .crossings(from, to)
                .into_iter()
                .find_map(|met| Some((met.along, Self::at(lines, met.pixel, opening)?)))
        };
        let on_axis = look(0.0);
        let limit = on_axis.as_ref().map_or(f64::INFINITY, |m| m.0) - EARLIER * period;
        // The head of a recurve with a spike is met on both sides of the axis.
        match (look(BESIDE), look(-BESIDE)) {
            (Some(left), Some(right)) if left.0 < limit && right.0 < limit => Some(left.1),
            _ => on_axis.map(|m| m.1),
        }
    }

    /// The ridge at `pixel` as a recurve that opens to `opening`, if it is one.
    pub fn at(lines: &RidgeLines, pixel: Pixel, opening: f64) -> Option<Self> {
        let (top, period) = (lines.place(pixel), lines.period);
        let leg = |side: f64| lines.walk(pixel, opening + side * FRAC_PI_2, AtFork::Straight, 9.0 * period, |_| true);
        let down = |walk: &Walk, side: f64| {
            walk.points.iter().any(|p| {
                let (below, aside) = along(top, *p, opening);
                below > DOWN * period && side * aside > 0.0
            })
        };
        let legs = [leg(1.0), leg(-1.0)];
        if !down(&legs[0], 1.0) || !down(&legs[1], -1.0) {
            return None;
        }
        let below = |p: &Point| along(top, *p, opening).0;
        let highest = legs.iter().flat_map(|l| &l.points).copied().min_by(|a, b| below(a).total_cmp(&below(b)));
        // A flat head has many highest places; the one that was met counts.
        let top = highest.filter(|h| below(h) < -FLAT * period).unwrap_or(top);
        Some(Self { top, legs, opening })
    }

    /// How far `p` lies below the top, along the opening, pixels.
    pub fn below(&self, p: Point) -> f64 {
        along(self.top, p, self.opening).0
    }

    /// The appendage that spoils it, if there is one: a limb of a fork between the shoulders that leads straight out. A limb that flows off
    /// along the recurve, one inside it, one below the shoulders and the limb of a loop hooked into this one do no harm (handbook, chapter II,
    /// "Loops": the test of tracing the looping ridge toward the appendage; figures 46 to 48).
    pub fn appendage(&self, lines: &RidgeLines) -> Option<Appendage> {
        let period = lines.period;
        let heads = self.shoulder_places(period);
        let head_of = |k: usize| {
            let points = &self.legs[k].points;
            heads[k].or_else(|| points.iter().position(|p| self.below(*p) > period)).unwrap_or(0)
        };
        let heads = [head_of(0), head_of(1)];
        // From one shoulder over the top to the other; the first place of either leg is the same.
        let before = self.legs[0].points.iter().take(heads[0] + 1).skip(1).rev();
        let head: Vec<Point> = before.chain(self.legs[1].points.iter().take(heads[1] + 1)).copied().collect();
        let middle = self.top.step(self.opening, DOWN * period);
        abutting(lines, &head, middle).into_iter().next().map(|(_, appendage)| appendage)
    }

    /// The shoulder of each leg: where the ridge, coming up the leg, definitely begins to turn inward (handbook, chapter II, "Core").
    pub fn shoulders(&self, period: f64) -> [Point; 2] {
        let places = self.shoulder_places(period);
        [0, 1].map(|k| {
            let points = &self.legs[k].points;
            points.get(places[k].unwrap_or(points.len() / 2)).copied().unwrap_or(self.top)
        })
    }

    /// Which of its places is the shoulder of each leg, where one runs straight at all.
    fn shoulder_places(&self, period: f64) -> [Option<usize>; 2] {
        /// Pixels over which a leg's direction is taken: the directions of shorter stretches of a line of pixels are too coarse.
        const STRIDE: usize = 8;
        /// A leg runs straight where it turns less than this over [`ONWARD`], radians (14 degrees): pixels make a line look more bent than it is, and on drawn
        /// loops 12 put the shoulders, and with them what counts as a rod, too far down; 18 put them above the rods of figure 38.
        const STRAIGHT: f64 = 0.24;
        /// How far down the leg its direction is compared, ridge periods.
        const ONWARD: f64 = 1.5;
        let onward = (ONWARD * period) as usize;
        [0, 1].map(|k| {
            let points = &self.legs[k].points;
            let heading = |i: usize| points[i].direction_to(points[i + STRIDE]);
            let straight = (0..points.len().saturating_sub(STRIDE + onward)).find(|&i| {
                let off = direction_difference(heading(i), self.opening).abs();
                off < FRAC_PI_4 && direction_difference(heading(i), heading(i + onward)).abs() < STRAIGHT
            });
            straight.map(|i| i + STRIDE - STRIDE / 4)
        })
    }
}

/// How far `p` lies from `origin` along a direction, and how far to its left hand, pixels.
pub fn along(origin: Point, p: Point, direction: f64) -> (f64, f64) {
    let (dx, dy) = (p.x - origin.x, origin.y - p.y);
    let (s, c) = direction.sin_cos();
    (dx * c + dy * s, dy * c - dx * s)
}

/// The ridges that abut on a piece of ridge, pixel by pixel, at a right angle, on the side away from `inside`: where they meet it, and their
/// way. The ends of the piece are needed to tell its direction and are not looked at.
pub fn abutting(lines: &RidgeLines, piece: &[Point], inside: Point) -> Vec<(Point, Appendage)> {
    let period = lines.period;
    let own = |p: Point| piece.iter().any(|q| q.distance(p) < ON_LINE_PX);
    let stride = (TOWARD * period) as usize;
    // A thinned fork may lie a pixel beside the way past it, and may be two or three pixels of a fork.
    let mut forks: Vec<(usize, Pixel)> = Vec::new();
    let looked_at = piece.iter().enumerate().take(piece.len().saturating_sub(stride)).skip(stride);
    for (i, place) in looked_at {
        let fork = lines.near(*place, ON_LINE_PX).into_iter().map(|n| n.1).find(|p| lines.degree(*p) > 2);
        forks.extend(fork.filter(|f| forks.iter().all(|(_, known)| known != f)).map(|f| (i, f)));
    }
    let at = |(i, fork): (usize, Pixel)| {
        let here = lines.place(fork);
        let traces = [piece[i - stride].direction_to(here), piece[i + stride].direction_to(here)];
        let out = inside.direction_to(here);
        lines.limbs_of(fork).into_iter().filter(|limb| !piece.contains(&lines.place(*limb))).find_map(|limb| {
            let walk = lines.walk(limb, out, AtFork::Straight, CROSSES * period, |_| true);
            let at_least = |periods: f64| walk.points.iter().position(|p| p.distance(here) >= periods * period);
            // A fork is thinned to a place some way along the recurve: where the limb leads is seen beyond it.
            let (near, from) = (walk.points[at_least(CLEAR_OF_FORK)?], at_least(SEEN_OUT)?);
            let (seen, beyond) = (walk.points[from], &walk.points[from..]);
            let leads =
                near.direction_to(walk.points[at_least(SEEN_OUT + CLEAR_OF_FORK).unwrap_or(walk.points.len() - 1)]);
            let square = traces.iter().all(|toward| direction_difference(leads, *toward).abs() > SHARP);
            let outside = direction_difference(leads, out).abs() < FRAC_PI_2 && !own(seen);
            let runs_into = |p: &Point| lines.pixel_at(*p).is_some_and(|p| lines.degree(p) > 2);
            let stops = walk.stop == Stop::RidgeEnd || beyond.iter().any(runs_into);
            let opposite = here.step(leads + PI, SEEN_OUT * period);
            let comes_from_inside =
                lines.near(opposite, OPPOSITE * period).into_iter().any(|(_, p)| !own(lines.place(p)));
            let heavy = lines.pixel_at(seen).is_some_and(|p| lines.heavy(p));
            let spoils = square && outside && heavy && (stops || !comes_from_inside);
            spoils.then_some((here, Appendage { points: walk.points }))
        })
    };
    forks.into_iter().filter_map(at).collect()
}
