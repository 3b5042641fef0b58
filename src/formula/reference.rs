//! References: every other classification in which a card must be searched.

use super::call::{
    Call, Count, FingerCall, GREATEST_COUNT, Kind, LEAST_COUNT, Pattern, Patterns, TenFingers, WhorlKind,
};
use super::division::LeftOut;
use super::extension::{Size, loop_value, size, whorl_kind};
use super::filing::FilingKey;
use super::finger::{Finger, Place};
use super::major::{ThumbLetter, letters};
use super::margin::extremes;
use super::settings::{SecondaryWhorls, Settings, SmallLetterDivisions};
use super::subsecondary::symbol;
use super::substitute::{File, Substituted, all_of, state};
use super::written::{Formula, formula};
use crate::proposal::Tracing;
use std::collections::{BTreeMap, BinaryHeap};

/// Combinations of readings examined at most, in each of the two orders. A card with one amputated finger and eight line
/// counts has some 2,500; beyond this the list is cut and says so.
const MOST_EXAMINED: usize = 20_000;

/// One difference between a reference and the preferred classification.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// The finger read otherwise.
    pub finger: Finger,
    /// The preferred reading, in words.
    pub from: String,
    /// The other reading, in words.
    pub to: String,
    /// Why it must be considered.
    pub because: &'static str,
    /// What would settle it.
    pub settle: String,
}

/// A classification to be searched besides the preferred one.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// The group; key and final are searched within margins and left off.
    pub formula: Formula,
    /// The file to be searched.
    pub file: File,
    /// How probable, if every finger read otherwise has probabilities; fingers without any are taken as called.
    pub probability: Option<f64>,
    /// What it takes; empty when only the file differs.
    pub changes: Vec<Change>,
}

/// All references of a card.
#[derive(Debug, Clone, PartialEq)]
pub struct References {
    /// Those with a probability first, most probable first; then the others, fewest changed fingers first.
    pub list: Vec<Reference>,
    /// The probability of the preferred group, if some finger has probabilities.
    pub preferred_probability: Option<f64>,
    /// Whether the list was cut.
    pub cut: bool,
    /// No more combinations of readings than this are possible, the preferred one included.
    pub at_most: u128,
}

/// Why a reading stands beside the preferred one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Why {
    Called,
    Reading,
    LineCount,
    DoubtfulCount,
    DoubtfulTracing,
    DoubtfulArch,
    Open,
    Lacking,
    Tip,
    Noted,
    Scar,
}

/// One reading of a finger that leads to a group of its own.
#[derive(Debug, Clone)]
struct Choice {
    pattern: Pattern,
    probability: Option<f64>,
    why: Why,
    effect: Effect,
}

/// What a reading contributes to the divisions in use; readings with equal effects lead to the same group.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Effect {
    letter: Option<Kind>,
    whorl: bool,
    kind: Option<WhorlKind>,
    symbol: Option<Result<Option<Tracing>, LeftOut>>,
    thumb: Option<[Result<Option<ThumbLetter>, LeftOut>; 2]>,
    size: Option<Result<Size, LeftOut>>,
    wcdx: Option<Result<WhorlKind, LeftOut>>,
    value: Option<Result<u8, LeftOut>>,
}

fn effect(finger: Finger, pattern: &Pattern, settings: &Settings) -> Effect {
    let wanted = settings.divisions;
    let place = finger.place();
    let middle = matches!(place, Place::Index | Place::Middle | Place::Ring);
    let letter = Kind::of(pattern);
    // Outside the index fingers an ulnar loop and a whorl leave no letter.
    let lettered = place == Place::Index || !matches!(letter, Kind::UlnarLoop | Kind::Whorl);
    let kind = match pattern {
        Pattern::Whorl { kind, .. }
            if settings.secondary_whorls == SecondaryWhorls::TeachingText && place == Place::Index =>
        {
            *kind
        }
        _ => None,
    };
    Effect {
        letter: lettered.then_some(letter),
        whorl: pattern.is_whorl(),
        kind,
        symbol: (wanted.subsecondary && middle).then(|| symbol(finger, pattern)),
        thumb: (wanted.major && place == Place::Thumb).then(|| letters(finger, pattern)),
        size: (wanted.second_subsecondary && middle).then(|| size(finger, pattern)),
        wcdx: wanted.wcdx.then(|| whorl_kind(finger, pattern)),
        value: (wanted.special_loop && place != Place::Thumb).then(|| loop_value(finger, pattern)),
    }
}

/// Every other classification that the readings of the fingers, their line counts, and the rules of substitution allow.
///
/// Doubts of several fingers combine. Probabilities are those of the fingers' readings multiplied, as if one finger's reading
/// told nothing about another's; a classification that needs a line count or another doubt without number has none.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. VII.
pub fn references(card: &TenFingers, substituted: &Substituted, settings: &Settings) -> References {
    let preferred = formula(&substituted.patterns, settings);
    let choices = Finger::ALL.map(|finger| choices(card.finger(finger), substituted, &preferred, settings));
    let mut search = Search {
        card,
        substituted,
        settings,
        choices: &choices,
        tips: tip_choices(card, substituted, &choices, settings),
        preferred: preferred.group(),
        found: BTreeMap::new(),
        preferred_probability: 0.0,
    };
    let numbered_whole = search.numbered();
    let unnumbered_whole = search.unnumbered();
    let numbered = choices.iter().any(|choices| choices[0].probability.is_some());
    let preferred_probability = numbered.then_some(search.preferred_probability);
    let mut list: Vec<(usize, Reference)> = search.found.into_values().collect();
    list.sort_by(|(order, one), (other_order, other)| {
        let numbers = |reference: &Reference| reference.probability.unwrap_or(-1.0);
        numbers(other).total_cmp(&numbers(one)).then(order.cmp(other_order))
    });
    let cut = !numbered_whole || !unnumbered_whole || list.len() > settings.references.most;
    let list = list.into_iter().map(|(_, reference)| reference).take(settings.references.most).collect();
    let at_most = choices.iter().map(|choices| choices.len() as u128).product();
    References { list, preferred_probability, cut, at_most }
}

/// The readings of one finger, the preferred one first, one for each effect.
fn choices(call: &FingerCall, substituted: &Substituted, preferred: &Formula, settings: &Settings) -> Vec<Choice> {
    let finger = call.finger;
    let given = *substituted.patterns.finger(finger);
    let mut choices = vec![Choice {
        pattern: given,
        probability: call.probability,
        why: Why::Called,
        effect: effect(finger, &given, settings),
    }];
    for other in &call.references {
        let open = opened(finger, &other.pattern, preferred);
        if let [whole] = open.as_slice() {
            add(&mut choices, finger, *whole, other.probability, Why::Reading, settings);
        } else {
            // The probability of a loop whose count is open does not say how it is shared among its counts.
            open.iter().for_each(|pattern| add(&mut choices, finger, *pattern, None, Why::Open, settings));
        }
    }
    let why = match &call.call {
        Call::TipAmputated(_) => Why::Tip,
        Call::Unprinted(Some(_)) => Why::Noted,
        Call::Scarred(scar) if !scar.is_complete() => Why::Scar,
        _ => Why::Lacking,
    };
    for pattern in &substituted.others[finger.index()] {
        add(&mut choices, finger, *pattern, None, why, settings);
    }
    if call.call.pattern().is_some() {
        for (pattern, why) in doubts(call, settings) {
            add(&mut choices, finger, pattern, None, why, settings);
        }
    }
    choices
}

/// Adds a reading; one whose effect is there already only widens it.
fn add(
    choices: &mut Vec<Choice>,
    finger: Finger,
    pattern: Pattern,
    probability: Option<f64>,
    why: Why,
    settings: &Settings,
) {
    let effect = effect(finger, &pattern, settings);
    let Some(known) = choices.iter_mut().find(|choice| choice.effect == effect) else {
        choices.push(Choice { pattern, probability, why, effect });
        return;
    };
    if let (Some(sum), Some(more)) = (known.probability.as_mut(), probability) {
        *sum += more;
    }
    if known.why == why && matches!(why, Why::Open | Why::Lacking | Why::Noted | Why::Scar) {
        known.pattern = widened(known.pattern, pattern);
    }
}

/// One reading for two of equal effect: the range of their counts (none when every count will do), kind and tracing left open
/// where they differ.
fn widened(one: Pattern, other: Pattern) -> Pattern {
    match (one, other) {
        (Pattern::Loop { hand, count: Some(a) }, Pattern::Loop { hand: same, count: Some(b) }) if hand == same => {
            let (least, most) = (a.least().min(b.least()), a.most().max(b.most()));
            let every = (least, most) == (LEAST_COUNT, GREATEST_COUNT);
            Pattern::Loop { hand, count: (!every).then(|| Count::span(least, most)) }
        }
        (Pattern::Whorl { kind: a, tracing: traced, count }, Pattern::Whorl { kind: b, tracing: other_traced, .. }) => {
            Pattern::Whorl { kind: a.filter(|_| a == b), tracing: traced.filter(|_| traced == other_traced), count }
        }
        _ => one,
    }
}

/// A reading with everything that it leaves open filled in, where the preferred classification has the division concerned.
fn opened(finger: Finger, pattern: &Pattern, preferred: &Formula) -> Vec<Pattern> {
    let needed = match finger.place() {
        Place::Thumb => preferred.major.is_some(),
        Place::Index | Place::Middle | Place::Ring => preferred.subsecondary.is_some(),
        Place::Little => false,
    };
    match pattern {
        Pattern::Loop { count: None, .. } if needed => all_of(Kind::of(pattern)),
        Pattern::Whorl { kind, tracing: None, count } if needed => [Tracing::I, Tracing::M, Tracing::O]
            .map(|tracing| Pattern::Whorl { kind: *kind, tracing: Some(tracing), count: *count })
            .to_vec(),
        other => vec![*other],
    }
}

/// Doubts that need no reading of their own: line counts, and what the mark of doubt means.
fn doubts(call: &FingerCall, settings: &Settings) -> Vec<(Pattern, Why)> {
    let mut doubts = Vec::new();
    let called = call.call.pattern().copied().into_iter();
    for pattern in called.chain(call.references.iter().map(|other| other.pattern)) {
        let Pattern::Loop { hand, count: Some(count) } = pattern else {
            continue;
        };
        let mut add = |ridges: u8, why| {
            if (LEAST_COUNT..=GREATEST_COUNT).contains(&ridges) {
                doubts.push((Pattern::Loop { hand, count: Some(Count::span(ridges, ridges)) }, why));
            }
        };
        if let Some(best) = count.best() {
            if settings.references.line_counts {
                add(best - 1, Why::LineCount);
                add(best + 1, Why::LineCount);
            }
            let (least, most) = extremes(call, count, &settings.references);
            (least..=most).for_each(|ridges| add(ridges, Why::DoubtfulCount));
        }
    }
    if call.doubtful {
        doubts.extend(marked_doubt(call.call.pattern()));
    }
    doubts
}

/// What the mark of doubt means for a whorl and an arch: the neighbouring tracing, the other arch.
fn marked_doubt(pattern: Option<&Pattern>) -> Vec<(Pattern, Why)> {
    match pattern {
        Some(Pattern::Whorl { kind, tracing: Some(tracing), count }) => {
            let neighbours: &[Tracing] = match tracing {
                Tracing::M => &[Tracing::I, Tracing::O],
                Tracing::I | Tracing::O => &[Tracing::M],
            };
            let traced = |tracing: &Tracing| Pattern::Whorl { kind: *kind, tracing: Some(*tracing), count: *count };
            neighbours.iter().map(|tracing| (traced(tracing), Why::DoubtfulTracing)).collect()
        }
        Some(Pattern::PlainArch) => vec![(Pattern::TentedArch, Why::DoubtfulArch)],
        Some(Pattern::TentedArch) => vec![(Pattern::PlainArch, Why::DoubtfulArch)],
        _ => Vec::new(),
    }
}

/// For each finger with an amputated tip, the choice under which a card of the amputation file would have it.
fn tip_choices(
    card: &TenFingers,
    substituted: &Substituted,
    choices: &[Vec<Choice>; 10],
    settings: &Settings,
) -> [Option<usize>; 10] {
    Finger::ALL.map(|finger| {
        if !matches!(card.finger(finger).call, Call::TipAmputated(_)) {
            return None;
        }
        let opposite = effect(finger, substituted.patterns.finger(finger.opposite()), settings);
        choices[finger.index()].iter().position(|choice| choice.effect == opposite)
    })
}

/// The search through the combinations of readings.
struct Search<'a> {
    card: &'a TenFingers,
    substituted: &'a Substituted,
    settings: &'a Settings,
    choices: &'a [Vec<Choice>; 10],
    tips: [Option<usize>; 10],
    preferred: Formula,
    found: BTreeMap<(File, FilingKey), (usize, Reference)>,
    preferred_probability: f64,
}

/// A combination: the place of each finger's reading among its choices.
type Combination = [usize; 10];

impl Search<'_> {
    /// Combinations of readings that all have probabilities, most probable first. Returns whether all were examined.
    fn numbered(&mut self) -> bool {
        // Each finger's numbered choices, most probable first.
        let ranked = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9].map(|place: usize| {
            let mut ranked: Vec<(usize, f64)> = self.choices[place]
                .iter()
                .enumerate()
                .filter_map(|(choice, c)| c.probability.map(|p| (choice, p)))
                .collect();
            ranked.sort_by(|(a, p), (b, q)| q.total_cmp(p).then(a.cmp(b)));
            if ranked.is_empty() { vec![(0, 1.0)] } else { ranked }
        });
        if self.choices.iter().all(|choices| choices[0].probability.is_none()) {
            return true;
        }
        let product =
            |ranks: &Combination| ranked.iter().zip(ranks).map(|(finger, rank)| finger[*rank].1).product::<f64>();
        let mut heap = BinaryHeap::from([Ranked { probability: product(&[0; 10]), ranks: [0; 10], from: 0 }]);
        for _ in 0..MOST_EXAMINED {
            let Some(next) = heap.pop() else { return true };
            let mut combination = [0; 10];
            for (place, slot) in combination.iter_mut().enumerate() {
                *slot = ranked[place][next.ranks[place]].0;
            }
            self.record(&combination, Some(next.probability));
            // Each combination has one predecessor: it differs in the last finger that is not at its first rank.
            for place in next.from..10 {
                let mut ranks = next.ranks;
                ranks[place] += 1;
                if ranks[place] < ranked[place].len() {
                    heap.push(Ranked { probability: product(&ranks), ranks, from: place });
                }
            }
        }
        heap.is_empty()
    }

    /// All combinations, fewest changed fingers first. Returns whether all were examined.
    fn unnumbered(&mut self) -> bool {
        let doubtful: Vec<usize> = (0..10).filter(|place| self.choices[*place].len() > 1).collect();
        let mut examined = 0;
        for changed in 0..=doubtful.len() {
            for set in subsets(&doubtful, changed) {
                let mut combination = [0; 10];
                set.iter().for_each(|place| combination[*place] = 1);
                loop {
                    // The preferred combination of a card without probabilities is examined too: it may belong to both files.
                    let numberless = |place: &usize| self.choices[*place][combination[*place]].probability.is_none();
                    if set.is_empty() || set.iter().any(numberless) {
                        examined += 1;
                        if examined > MOST_EXAMINED {
                            return false;
                        }
                        self.record(&combination, None);
                    }
                    if !self.advance(&mut combination, &set) {
                        break;
                    }
                }
            }
        }
        true
    }

    /// The next combination in which just the fingers of the set are changed.
    fn advance(&self, combination: &mut Combination, set: &[usize]) -> bool {
        for place in set.iter().rev() {
            combination[*place] += 1;
            if combination[*place] < self.choices[*place].len() {
                return true;
            }
            combination[*place] = 1;
        }
        false
    }

    /// Enters the group of a combination in every file in which it is to be searched.
    fn record(&mut self, combination: &Combination, probability: Option<f64>) {
        let mut patterns = self.substituted.patterns;
        for (finger, choice) in Finger::ALL.into_iter().zip(combination) {
            patterns.set(finger, self.choices[finger.index()][*choice].pattern);
        }
        let group = self.group(&patterns);
        for file in [File::Main, File::Amputation] {
            if !self.searched_in(file, combination) {
                continue;
            }
            let home = file == self.substituted.file;
            if home && group == self.preferred {
                self.preferred_probability += probability.unwrap_or(0.0);
                continue;
            }
            let order = self.found.len();
            let formula = Formula { amputation: file == File::Amputation, ..group.clone() };
            let entry = self.found.entry((file, formula.filing_key())).or_insert_with(|| {
                (
                    order,
                    Reference {
                        formula,
                        file,
                        probability: None,
                        changes: self_changes(self.card, self.choices, combination),
                    },
                )
            });
            // A probability is that of the reading, not of the file in which it may be found.
            if let (Some(more), true) = (probability, home) {
                entry.1.probability = Some(entry.1.probability.unwrap_or(0.0) + more);
            }
        }
    }

    /// The group of ten patterns, written as references are.
    fn group(&self, patterns: &Patterns) -> Formula {
        let mut group = formula(patterns, self.settings).group();
        if group.secondary.has_small_letter() && !self.preferred.secondary.has_small_letter() {
            let kept = self.settings.references.small_letter_groups;
            if kept != SmallLetterDivisions::All {
                group.subsecondary = None;
            }
            if kept == SmallLetterDivisions::Neither {
                group.major = None;
            }
        }
        group
    }

    fn searched_in(&self, file: File, combination: &Combination) -> bool {
        let as_given = |test: fn(&Call) -> bool| {
            Finger::ALL.iter().all(|finger| !test(&self.card.finger(*finger).call) || combination[finger.index()] == 0)
        };
        let tips_as_opposite =
            self.tips.iter().zip(combination).all(|(tip, choice)| tip.is_none_or(|tip| tip == *choice));
        match (self.substituted.file, file) {
            (File::Main, File::Main) => true,
            (File::Amputation, File::Main) => self.substituted.other_file,
            (File::Amputation, File::Amputation) => as_given(Call::is_amputation),
            (File::Main, File::Amputation) => {
                self.substituted.other_file && tips_as_opposite && as_given(|call| matches!(call, Call::Unprinted(_)))
            }
        }
    }
}

fn self_changes(card: &TenFingers, choices: &[Vec<Choice>; 10], combination: &Combination) -> Vec<Change> {
    let changed = Finger::ALL.into_iter().filter(|finger| combination[finger.index()] > 0);
    changed
        .map(|finger| {
            let choice = &choices[finger.index()][combination[finger.index()]];
            let from = &choices[finger.index()][0].pattern;
            Change {
                finger,
                from: from.words(),
                to: choice.pattern.words(),
                because: because(choice.why),
                settle: settle(card.finger(finger), from, choice),
            }
        })
        .collect()
}

fn because(why: Why) -> &'static str {
    match why {
        Why::Called | Why::Reading => "another reading",
        Why::LineCount => "line count",
        Why::DoubtfulCount => "doubtful count",
        Why::DoubtfulTracing => "doubtful tracing",
        Why::DoubtfulArch => "doubtful kind of arch",
        Why::Open => "another reading, count or tracing open",
        Why::Lacking => "lacking finger",
        Why::Tip => "as the opposite finger",
        Why::Noted => "noted by the naked eye",
        Why::Scar => "not excluded by the scar",
    }
}

/// What would settle a doubt.
fn settle(call: &FingerCall, from: &Pattern, choice: &Choice) -> String {
    let name = call.finger.name();
    match choice.why {
        Why::LineCount | Why::DoubtfulCount => {
            format!("count the ridges of the {name} again, in the plain impression too")
        }
        Why::DoubtfulTracing => format!("trace the {name} again, in the plain impression too"),
        Why::DoubtfulArch => {
            format!("look for an angle, an upthrust or two of a loop's essentials in the {name}")
        }
        Why::Lacking | Why::Tip | Why::Noted | Why::Scar => {
            format!("an earlier or later print of the {name} ({} here)", state(&call.call))
        }
        Why::Called | Why::Reading | Why::Open => match (from, &choice.pattern) {
            (Pattern::Whorl { tracing: Some(a), .. }, Pattern::Whorl { tracing: Some(b), .. }) if a != b => {
                format!("trace the {name} again: {} or {}", a.name(), b.name())
            }
            (Pattern::Loop { hand: a, .. }, Pattern::Loop { hand: b, .. }) if a == b => {
                format!("count the ridges of the {name} again")
            }
            (from, to) => format!("decide on the {name}: {} or {}", from.words(), to.words()),
        },
    }
}

/// All subsets of the given size, in order.
fn subsets(of: &[usize], size: usize) -> Vec<Vec<usize>> {
    if size == 0 {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for (at, first) in of.iter().enumerate() {
        for mut rest in subsets(&of[at + 1..], size - 1) {
            rest.insert(0, *first);
            all.push(rest);
        }
    }
    all
}

/// A combination in the queue of the most probable ones.
#[derive(Debug, Clone, PartialEq)]
struct Ranked {
    probability: f64,
    ranks: Combination,
    from: usize,
}

impl Eq for Ranked {}

impl Ord for Ranked {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        // Ties go to the earlier ranks, so that the order does not depend on the queue.
        self.probability.total_cmp(&other.probability).then_with(|| other.ranks.cmp(&self.ranks))
    }
}

impl PartialOrd for Ranked {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
