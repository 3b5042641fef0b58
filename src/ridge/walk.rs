//! Following one ridge.

use super::lines::{Pixel, RidgeLines};
use crate::geometry::{Point, direction_difference};
use std::f64::consts::PI;

/// Which limb is taken at a fork.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AtFork {
    /// The one that turns least.
    Straight,
    /// The one on the right hand of the walker: the lower one on a way from left to right (handbook, chapter II, "Whorl
    /// tracing": the lower limb of a bifurcation is followed).
    RightHand,
}

/// Why a walk stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// The ridge definitely ends.
    RidgeEnd,
    /// The edge of the print or of the region.
    Edge,
    /// Back at the start.
    Closed,
    /// The longest way was reached, or the caller had enough.
    Enough,
}

/// A way along a ridge.
#[derive(Debug, Clone)]
pub struct Walk {
    /// The places passed, pixel by pixel.
    pub points: Vec<Point>,
    /// The last pixel.
    pub last: Pixel,
    /// Direction at the end, radians.
    pub heading: f64,
    /// Why it stopped.
    pub stop: Stop,
    /// Breaks that were taken for ink and bridged.
    pub bridged: usize,
    /// Forks passed at which another limb could have been taken.
    pub forks: usize,
}

impl Walk {
    /// The last place.
    pub fn end(&self) -> Point {
        self.points.last().copied().unwrap_or_default()
    }
}

/// How far back the walker looks for its own direction, pixels.
const MEMORY: usize = 6;
/// How far a limb is looked along before it is chosen, pixels.
const AHEAD: usize = 6;
/// A limb that turns further than this is another ridge that joins, not a way on.
const SHARPEST: f64 = 0.56 * PI;

impl RidgeLines {
    /// Follows the ridge at `start` toward `heading` for at most `longest_px`; `go_on` is asked at every place.
    pub fn walk(
        &self,
        start: Pixel,
        heading: f64,
        at_fork: AtFork,
        longest_px: f64,
        mut go_on: impl FnMut(Point) -> bool,
    ) -> Walk {
        let mut trail = vec![start];
        let mut way =
            Walk { points: vec![self.place(start)], last: start, heading, stop: Stop::Enough, bridged: 0, forks: 0 };
        let origin = self.place(start);
        let mut length = 0.0;
        while length < longest_px {
            let here = way.last;
            let next = match self.limbs(here, &trail, way.heading, at_fork) {
                (Some(next), choice) => {
                    way.forks += usize::from(choice);
                    next
                }
                (None, _) => match self.over_the_break(here, &trail, way.heading) {
                    Some(next) => {
                        way.bridged += 1;
                        next
                    }
                    None => {
                        way.stop = if self.at_edge(here, way.heading) { Stop::Edge } else { Stop::RidgeEnd };
                        return way;
                    }
                },
            };
            let place = self.place(next);
            length += place.distance(way.end());
            trail.push(next);
            way.points.push(place);
            way.last = next;
            let back = way.points[way.points.len().saturating_sub(MEMORY + 1)];
            if back.distance(place) > 1.5 {
                way.heading = back.direction_to(place);
            }
            if !go_on(place) {
                return way;
            }
            if length > 1.5 * self.period && place.distance(origin) < 1.6 {
                way.stop = Stop::Closed;
                return way;
            }
        }
        way
    }

    /// The first pixels of the limbs that leave a fork, each once; a thinned fork may be two or three pixels.
    pub fn limbs_of(&self, fork: Pixel) -> Vec<Pixel> {
        let cluster: Vec<Pixel> = self.beside(fork).filter(|&p| self.degree(p) > 2).chain([fork]).collect();
        let mut limbs: Vec<Pixel> =
            cluster.iter().flat_map(|&c| self.beside(c)).filter(|p| !cluster.contains(p)).collect();
        limbs.sort_unstable();
        limbs.dedup();
        limbs
    }

    /// The next pixel, and whether there was a choice.
    fn limbs(&self, here: Pixel, trail: &[Pixel], heading: f64, at_fork: AtFork) -> (Option<Pixel>, bool) {
        let recent = &trail[trail.len().saturating_sub(AHEAD)..];
        let options: Vec<Pixel> = self.beside(here).filter(|p| !recent.contains(p)).collect();
        if let [only] = options.as_slice()
            && trail.len() > 3
            && self.degree(here) <= 2
        {
            return (Some(*only), false);
        }
        // Each limb by where it leads, not by its first pixel.
        let mut limbs: Vec<(f64, Pixel)> = options
            .iter()
            .filter_map(|&first| {
                let far = self.look_along(here, first, recent, &options);
                let turn = direction_difference(self.place(here).direction_to(self.place(far)), heading);
                (turn.abs() < SHARPEST).then_some((turn, first))
            })
            .collect();
        limbs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let chosen = match at_fork {
            AtFork::Straight => limbs.iter().min_by(|a, b| a.0.abs().total_cmp(&b.0.abs())),
            AtFork::RightHand => limbs.first(),
        };
        let spread = limbs.last().map_or(0.0, |l| l.0) - limbs.first().map_or(0.0, |l| l.0);
        (chosen.map(|c| c.1), limbs.len() > 1 && spread > 0.3)
    }

    fn look_along(&self, here: Pixel, first: Pixel, recent: &[Pixel], beside: &[Pixel]) -> Pixel {
        let mut path = [here; AHEAD + 1];
        path[1] = first;
        let mut far = first;
        for i in 2..=AHEAD {
            let known = |p: &Pixel| path[..i].contains(p) || recent.contains(p) || beside.contains(p);
            let ahead: Option<Pixel> = self.beside(far).filter(|p| !known(p)).max_by(|a, b| {
                self.place(*a).distance(self.place(here)).total_cmp(&self.place(*b).distance(self.place(here)))
            });
            let Some(next) = ahead else { break };
            path[i] = next;
            far = next;
        }
        far
    }

    /// The pixel on the other side of a break, where the ridge goes on in its own line: the break is then ink, not an ending.
    fn over_the_break(&self, here: Pixel, trail: &[Pixel], heading: f64) -> Option<Pixel> {
        let at = self.place(here);
        let (reach, shift) = (self.settings.longest_break * self.period, self.settings.break_shift * self.period);
        let recent = &trail[trail.len().saturating_sub(3 * AHEAD)..];
        let mut best: Option<(f64, Pixel)> = None;
        for (distance, pixel) in self.near(at, reach) {
            if distance < 1.5 || recent.contains(&pixel) || self.degree(pixel) != 1 {
                continue;
            }
            let off = direction_difference(at.direction_to(self.place(pixel)), heading);
            if off.abs() > 1.0 || (distance * off.sin()).abs() > shift {
                continue;
            }
            // The other piece must go on, not come back beside the walker.
            let beyond = self.look_along(pixel, self.beside(pixel).next()?, &[], &[]);
            let onward = direction_difference(self.place(pixel).direction_to(self.place(beyond)), heading).abs();
            let merit = distance + 2.0 * (distance * off.sin()).abs();
            if onward < 0.7 && best.is_none_or(|b| merit < b.0) {
                best = Some((merit, pixel));
            }
        }
        best.map(|b| b.1)
    }

    fn at_edge(&self, here: Pixel, heading: f64) -> bool {
        const REACH_PX: f64 = 4.0;
        let ahead = self.place(here).step(heading, REACH_PX);
        self.pixel_at(ahead).is_none_or(|p| self.depth(p) == 0.0)
    }
}
