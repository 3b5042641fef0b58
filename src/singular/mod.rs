//! Ridge field to cores and deltas.
//!
//! [`index`] finds every place around which the flow turns; [`persistence`] follows these places through scales;
//! [`refine`] puts each below a pixel and measures how well the flow around it fits; [`choose`] decides which of them hold
//! together as a set, with a confidence for each; [`border`] is the check that needs no points at all. [`sighted`] brings in what
//! the network sees.

pub mod border;
pub mod choose;
pub mod index;
pub mod persistence;
pub mod refine;
pub mod sighted;

use crate::field::RidgeField;
use crate::geometry::Point;
use crate::network::place::PlaceNetwork;
use crate::network::sample::Sample;
use crate::network::{Network, Sight};
pub use choose::ChooseSettings;
use ndarray::Array2;
use persistence::Chain;
pub use persistence::{PersistenceSettings, PointKind};
pub use refine::RefineSettings;
pub use sighted::SightedSettings;

/// Settings of the search for cores and deltas.
#[derive(Debug, Clone)]
pub struct SingularSettings {
    /// Scales.
    pub persistence: PersistenceSettings,
    /// Refinement.
    pub refine: RefineSettings,
    /// What the network sees.
    pub sighted: SightedSettings,
    /// Choice of the set.
    pub choose: ChooseSettings,
    /// How far the innermost recurve of a loop is seen inside its true focus, ridge periods. Filtering along straight pieces of
    /// flow flattens the tightest bend and shifts the turn of the flow into the opening; measured on drawn loops (mean of 300:
    /// 3.4 px at a period of 9.3 px, standard deviation 1.2 px). With two cores the shifts of both ends nearly cancel.
    pub sole_core_shift_periods: f64,
    /// How far each of two close cores is seen outside its true place, away from the other, ridge periods: no ridge bends tighter than a
    /// ridge, so the two ends of a small circuit look farther apart than the flow has them. Measured on drawn whorls (mean of 200:
    /// 0.33, the deviation of one core is as large).
    pub close_cores_shift_periods: f64,
    /// Cores up to the first distance are moved by all of that, beyond the second not at all, ridge periods.
    pub close_cores_periods: (f64, f64),
    /// Only cores that survive this smoothing have their surroundings looked at once more, pixels at 500 ppi.
    pub bend_core_persistence_px: f64,
    /// How far around such a core, pixels at 500 ppi (five ridge periods: the size of a pocket).
    pub bend_reach_px: f64,
    /// A turn this near to a known point is that point, pixels.
    pub bend_same_px: f64,
    /// More turns than this in the bend are noise, and none is taken.
    pub bend_most: usize,
}

impl Default for SingularSettings {
    fn default() -> Self {
        Self {
            persistence: Default::default(),
            refine: Default::default(),
            sighted: Default::default(),
            choose: Default::default(),
            sole_core_shift_periods: 0.36,
            close_cores_shift_periods: 0.33,
            close_cores_periods: (4.0, 5.5),
            bend_core_persistence_px: 7.0,
            bend_reach_px: 45.0,
            bend_same_px: 12.0,
            bend_most: 8,
        }
    }
}

/// A possible core or delta with what speaks for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Core or delta.
    pub kind: PointKind,
    /// Place in working pixels.
    pub at: Point,
    /// Standard deviation of the place in working pixels.
    pub sigma_px: f64,
    /// Directions in which ridges are radial, radians: one (repeated) at a core, three at a delta.
    pub directions: [f64; 3],
    /// Difference between the flow around it and the ideal point's, root mean square, radians.
    pub ring_error: f64,
    /// Smoothing width up to which it survives, pixels at 500 ppi.
    pub persistence_px: f64,
    /// Whether it could be followed to the finest scale.
    pub followed: bool,
    /// Whether it is seen only where the flow bends, on the print that was not filtered along its flow.
    pub in_bend: bool,
    /// How firmly the network sees it, 0 (not at all) to 1. The place of a seen point is the network's.
    pub sight: f64,
    /// Mean clarity of the ridges around it, 0 to 1.
    pub clarity: f64,
    /// Distance to the border of the foreground, working pixels (capped at 60).
    pub border_px: f64,
    /// Where on the print it lies: sideways from the middle of the foreground and below it, in breadths and heights of the foreground.
    pub on_print: (f64, f64),
    /// Index of the opposite point with which it appears and disappears.
    pub partner: Option<usize>,
    /// Probability that it is real, as part of a consistent set.
    pub confidence: f64,
    /// Whether it belongs to the chosen set.
    pub chosen: bool,
}

impl Candidate {
    /// Direction in which a core opens, radians; none of a delta.
    pub fn opening(&self) -> Option<f64> {
        (self.kind == PointKind::Core).then_some(self.directions[0])
    }
}

/// The best set of one kind (so many cores, so many deltas) and the probability of that kind.
#[derive(Debug, Clone, PartialEq)]
pub struct PointSet {
    /// Number of the kind, [`choose::bucket`].
    pub bucket: usize,
    /// Probability that the print's points are of this kind.
    pub probability: f64,
    /// Indices into the candidates.
    pub members: Vec<usize>,
}

/// Everything found on one print.
#[derive(Debug, Clone, Default)]
pub struct Singularities {
    /// All candidates, chosen or not.
    pub candidates: Vec<Candidate>,
    /// Cores minus deltas inside the foreground, from its border.
    pub border_half_turns: i32,
    /// What the network sees; none where there was only a flow to look at.
    pub sight: Option<Sight>,
    /// Kinds of sets with their best member, most probable first.
    pub sets: Vec<PointSet>,
    /// Probability of each number of cores: none, one, two or more.
    pub core_count: [f64; 3],
    /// Probability of each number of deltas: none, one, two or more.
    pub delta_count: [f64; 3],
}

impl Singularities {
    /// The core and the delta of the most probable set, if it has one of each.
    pub fn core_and_delta(&self) -> Option<(&Candidate, &Candidate)> {
        let set = self.sets.first()?;
        let only = |kind: PointKind| {
            let mut members = set.members.iter().map(|&i| &self.candidates[i]).filter(|c| c.kind == kind);
            members.next().filter(|_| members.next().is_none())
        };
        Some((only(PointKind::Core)?, only(PointKind::Delta)?))
    }

    /// The chosen points of one kind.
    pub fn chosen(&self, kind: PointKind) -> impl Iterator<Item = &Candidate> {
        self.candidates.iter().filter(move |c| c.chosen && c.kind == kind)
    }
}

/// Finds cores and deltas of a field.
pub fn find(field: &RidgeField, settings: &SingularSettings) -> Singularities {
    let sigmas = &settings.persistence.sigmas_px;
    let border_distance = choose::border_distance(field);
    let place_on_print = choose::place_on_print(field);
    let candidate = |chain: &Chain, fields: &(Array2<f32>, Array2<f32>), in_bend: bool| {
        let refined = refine::refine(field, &fields.0, &fields.1, chain.kind, chain.at, &settings.refine);
        Candidate {
            kind: chain.kind,
            at: refined.at,
            sigma_px: refined.sigma_px,
            directions: refined.directions,
            ring_error: refined.ring_error,
            persistence_px: sigmas.get(chain.birth).map_or(0.0, |&s| f64::from(s)),
            followed: chain.finest == 0,
            in_bend,
            sight: 0.0,
            clarity: choose::clarity_around(field, refined.at),
            border_px: choose::distance_at(field, &border_distance, refined.at),
            on_print: place_on_print(refined.at),
            partner: None,
            confidence: 0.0,
            chosen: false,
        }
    };
    let scales: Vec<_> = sigmas.iter().map(|s| field.smoothed(*s)).collect();
    let (Some(finest), Some(fine_fields), Some(coarse)) = (sigmas.first(), scales.first(), scales.last()) else {
        return Singularities::default();
    };
    let chains = persistence::chains(field, &scales, &settings.persistence);
    let bend_fields = field.smoothed_in_bends(*finest);
    let mut candidates: Vec<Candidate> = chains.iter().map(|c| candidate(c, fine_fields, false)).collect();
    let bends = bend_chains(field, &bend_fields, &candidates, settings);
    candidates.extend(bends.iter().map(|c| candidate(c, &bend_fields, true)));
    choose::pair(&mut candidates);
    choose::drop_widows(&mut candidates);
    let sight = Sample::of(field).map(|sample| Network::embedded().look(&sample));
    if let Some(sight) = &sight {
        let chain = |kind, at| Chain { kind, birth: usize::MAX, finest: usize::MAX, at, at_birth: at };
        sighted::join(&mut candidates, sight, field.median_period(), &settings.sighted, |kind, at| {
            candidate(&chain(kind, at), fine_fields, false)
        });
    }
    let border_half_turns = border::half_turns(&coarse.0, &coarse.1, &field.foreground);
    settle(field, candidates, border_half_turns, sight, settings)
}

/// Chooses the set among the candidates, and takes the known shift off its cores: the lone core moves back out of its opening
/// ([`SingularSettings::sole_core_shift_periods`]), two close ones toward each other
/// ([`SingularSettings::close_cores_shift_periods`]). The network's places know no such shift. Where there is a print to look at, each
/// chosen point is placed once more on its ridges ([`crate::network::place`]).
pub fn settle(
    field: &RidgeField,
    candidates: Vec<Candidate>,
    border_half_turns: i32,
    sight: Option<Sight>,
    settings: &SingularSettings,
) -> Singularities {
    let mut found = choose::choose(candidates, border_half_turns, sight, &settings.choose);
    let Some(set) = found.sets.first() else { return found };
    let cores: Vec<usize> =
        set.members.iter().copied().filter(|&i| found.candidates[i].kind == PointKind::Core).collect();
    let place = |i: usize| found.candidates[i].at;
    let period = |i: usize| field.period_at(place(i)).clamp(PERIOD_PX.0, PERIOD_PX.1);
    let by_flow = |i: usize| if found.candidates[i].sight > 0.0 { 0.0 } else { 1.0 };
    let moved: Vec<(usize, Point)> = match *cores.as_slice() {
        [only] => {
            let shift = by_flow(only) * settings.sole_core_shift_periods * period(only);
            vec![(only, place(only).step(found.candidates[only].directions[0], -shift))]
        }
        [a, b] => {
            let (apart, period) = (place(a).distance(place(b)), 0.5 * (period(a) + period(b)));
            let (near, far) = settings.close_cores_periods;
            let share = ((far - apart / period) / (far - near)).clamp(0.0, 1.0);
            let shift = share * settings.close_cores_shift_periods * period / apart.max(1e-9);
            let shift = shift.min(FARTHEST_SHARE);
            let toward = |a: usize, b: usize| (a, place(a).lerp(place(b), by_flow(a) * shift));
            vec![toward(a, b), toward(b, a)]
        }
        _ => Vec::new(),
    };
    for (core, at) in moved {
        if field.on_print(at) {
            found.candidates[core].at = at;
        }
    }
    if found.sight.is_some() {
        for c in found.candidates.iter_mut().filter(|c| c.chosen) {
            let placed = PlaceNetwork::embedded().place(field, c.at, c.opening());
            if let Some(placed) = placed.filter(|p| field.on_print(p.at)) {
                (c.at, c.sigma_px) = (placed.at, placed.sigma_px.max(settings.refine.least_sigma_px));
            }
        }
    }
    found
}

/// Of two close cores none is moved past this share of the way to the other, so that two cores stay two.
const FARTHEST_SHARE: f64 = 0.25;
/// Ridge periods that occur in prints, pixels at 500 ppi; a period measured in a tight bend may lie outside.
const PERIOD_PX: (f64, f64) = (5.0, 14.0);

/// Points near a persistent core that show only on the print that was not filtered along its flow: the second recurve
/// and the inner delta of a small pocket. Whatever is known already is left out.
fn bend_chains(
    field: &RidgeField,
    (cos2, sin2): &(Array2<f32>, Array2<f32>),
    known: &[Candidate],
    settings: &SingularSettings,
) -> Vec<Chain> {
    let cores: Vec<Point> = known
        .iter()
        .filter(|c| c.kind == PointKind::Core && c.persistence_px >= settings.bend_core_persistence_px)
        .map(|c| c.at)
        .collect();
    let near_core = |p: Point| cores.iter().any(|c| c.distance(p) < settings.bend_reach_px);
    let mut found: Vec<Chain> = index::turns(cos2, sin2, &field.foreground)
        .iter()
        .map(|t| {
            let at = field.centre(f64::from(t.row), f64::from(t.column));
            let kind = if t.half_turns > 0 { PointKind::Core } else { PointKind::Delta };
            Chain { kind, birth: 0, finest: 0, at, at_birth: at }
        })
        .filter(|c| near_core(c.at))
        .collect();
    // Take out the nearest turn for each known point.
    for k in known {
        let nearest = (0..found.len())
            .filter(|&i| found[i].kind == k.kind && found[i].at.distance(k.at) < settings.bend_same_px)
            .min_by(|&a, &b| found[a].at.distance(k.at).total_cmp(&found[b].at.distance(k.at)));
        if let Some(i) = nearest {
            found.remove(i);
        }
    }
    if found.len() > settings.bend_most { Vec::new() } else { found }
}
