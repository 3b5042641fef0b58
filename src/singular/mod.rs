//! Ridge field to cores and deltas.
//!
//! [`index`] finds every place around which the flow turns; [`persistence`] follows these places through scales;
//! [`refine`] puts each below a pixel and measures how well the flow around it fits; [`choose`] decides which of them hold
//! together as a set, with a confidence for each; [`border`] is the check that needs no points at all.

pub mod border;
pub mod choose;
pub mod index;
pub mod persistence;
pub mod refine;

use crate::field::RidgeField;
use crate::geometry::Point;
pub use choose::ChooseSettings;
pub use persistence::{PersistenceSettings, PointKind};
pub use refine::RefineSettings;

/// Settings of the search for cores and deltas.
#[derive(Debug, Clone, Default)]
pub struct SingularSettings {
    /// Scales.
    pub persistence: PersistenceSettings,
    /// Refinement.
    pub refine: RefineSettings,
    /// Choice of the set.
    pub choose: ChooseSettings,
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
    /// Mean clarity of the ridges around it, 0 to 1.
    pub clarity: f64,
    /// Distance to the border of the foreground, working pixels (capped at 60).
    pub border_px: f64,
    /// Index of the opposite point with which it appears and disappears.
    pub partner: Option<usize>,
    /// Probability that it is real, as part of a consistent set.
    pub confidence: f64,
    /// Whether it belongs to the chosen set.
    pub chosen: bool,
}

/// Everything found on one print.
#[derive(Debug, Clone, Default)]
pub struct Singularities {
    /// All candidates, chosen or not.
    pub candidates: Vec<Candidate>,
    /// Cores minus deltas inside the foreground, from its border.
    pub border_half_turns: i32,
    /// Probability of each number of cores: none, one, two or more.
    pub core_count: [f64; 3],
    /// Probability of each number of deltas: none, one, two or more.
    pub delta_count: [f64; 3],
}

impl Singularities {
    /// The chosen points of one kind.
    pub fn chosen(&self, kind: PointKind) -> impl Iterator<Item = &Candidate> {
        self.candidates.iter().filter(move |c| c.chosen && c.kind == kind)
    }
}

/// Finds cores and deltas of a field.
pub fn find(field: &RidgeField, settings: &SingularSettings) -> Singularities {
    let chains = persistence::chains(field, &settings.persistence);
    let border_distance = choose::border_distance(field);
    let base = settings.persistence.sigmas_px.get(1).or(settings.persistence.sigmas_px.first()).copied().unwrap_or(5.0);
    let finest = settings.persistence.sigmas_px.first().copied().unwrap_or(3.0);
    let (base_fields, fine_fields) = (field.smoothed(base), field.smoothed(finest));
    let mut candidates: Vec<Candidate> = chains
        .iter()
        .map(|chain| {
            // A point that lives at the finest scale only is refined there: the next scale no longer has it.
            let (cos2, sin2) = if chain.birth == 0 { &fine_fields } else { &base_fields };
            let refined = refine::refine(field, cos2, sin2, chain.kind, chain.at, &settings.refine);
            Candidate {
                kind: chain.kind,
                at: refined.at,
                sigma_px: refined.sigma_px,
                directions: refined.directions,
                ring_error: refined.ring_error,
                persistence_px: settings.persistence.sigmas_px.get(chain.birth).map_or(0.0, |&s| f64::from(s)),
                followed: chain.finest == 0,
                clarity: choose::clarity_around(field, refined.at),
                border_px: choose::distance_at(field, &border_distance, refined.at),
                partner: None,
                confidence: 0.0,
                chosen: false,
            }
        })
        .collect();
    choose::pair(&mut candidates);
    let coarse = field.smoothed(settings.persistence.sigmas_px.last().copied().unwrap_or(20.0));
    let border_half_turns = border::half_turns(&coarse.0, &coarse.1, &field.foreground);
    choose::choose(candidates, border_half_turns, &settings.choose)
}
