//! The worlds that planning looks at: a few of each suspect's, drawn from what is believed now, each seen on every probe.
//! Idea: looking ahead needs no more than a sample of the belief, but needs to know what it would really show. Worlds of
//! the cast have been observed; those drawn for this job are observed here.
//! Law: systematic resampling (Kitagawa 1996, `from memory`): a world speaks for its share within 1/count.
//! Limit: for choosing only; odds are summed over all worlds.

use libm::{exp, log, sqrt};
use machine::{Machine, Observer, Program};

use crate::atlas::Atlas;
use crate::cell::Cell;
use crate::field::{Beyond, Field};
use crate::inference::{Belief, Outlook, Test, Worlds};
use crate::round::Round;

/// Delegates of all suspects together, about.
const ALL: f64 = 320.0;
/// Fewest and most of one suspect.
const FEWEST: f64 = 6.0;
const MOST: f64 = 32.0;
/// A suspect below this share has none.
const NEGLIGIBLE: f64 = 1e-5;

/// Worlds that speak for their suspects.
pub(crate) struct Delegates {
    worlds: Worlds,
    /// Which world of the field each delegate is.
    of_field: Vec<u32>,
    /// What those beyond the cast show on each probe.
    seen: Vec<Option<Vec<Cell>>>,
    /// Class of each delegate, for each probe of the atlas.
    classes: Vec<Vec<u8>>,
}

impl Delegates {
    /// Draws the delegates of a belief and looks at those that have not been seen on every probe.
    pub(crate) fn choose(machine: &Machine, atlas: &Atlas, field: &Field, belief: &Belief) -> Option<Self> {
        let explained: f64 = belief.suspects().iter().sum();
        let live = |suspect: &u32| belief.suspects()[*suspect as usize] > NEGLIGIBLE * explained;
        let suspects: Vec<u32> = (0..belief.suspects().len() as u32).filter(live).collect();
        let roots: f64 = suspects.iter().map(|suspect| sqrt(belief.suspects()[*suspect as usize])).sum();
        let (mut of_field, mut suspect_of, mut log_weight) = (Vec::new(), Vec::new(), Vec::new());
        for suspect in suspects {
            let mass = belief.suspects()[suspect as usize];
            let count = (ALL * sqrt(mass) / roots).clamp(FEWEST, MOST) as usize;
            for (world, share) in drawn(field.worlds.of_suspect(suspect), belief.worlds(), mass, count) {
                for (face, share) in faces(atlas, field, world, share) {
                    of_field.push(face);
                    suspect_of.push(suspect);
                    log_weight.push(log(mass * share));
                }
            }
        }
        let seen = seen(machine, atlas, field, &of_field);
        let classes = classes(atlas, &of_field, &seen);
        let worlds = Worlds::new(belief.suspects().len(), suspect_of, log_weight).ok()?;
        Some(Self { worlds, of_field, seen, classes })
    }

    /// What the middle one by weight of the delegates of some classes shows on a probe; nothing when there is none.
    pub(crate) fn middle(&self, atlas: &Atlas, column: usize, among: impl Fn(u8) -> bool) -> Option<Cell> {
        let weights = self.worlds.log_prior();
        let mut shown: Vec<(Cell, f64)> = Vec::new();
        for (delegate, _) in self.classes[column].iter().enumerate().filter(|(_, class)| among(**class)) {
            let of_cast = || atlas.columns[column].cell(self.of_field[delegate] as usize);
            let cell = self.seen[delegate].as_ref().map_or_else(of_cast, |cells| cells[column]);
            if !cell.low.is_nan() {
                shown.push((cell, exp(weights[delegate])));
            }
        }
        shown.sort_by(|left, right| left.0.middle().total_cmp(&right.0.middle()));
        let half = 0.5 * shown.iter().map(|(_, weight)| weight).sum::<f64>();
        let mut sum = 0.0;
        let found = shown.iter().find(|(_, weight)| {
            sum += weight;
            sum >= half
        });
        found.or(shown.last()).map(|(cell, _)| *cell)
    }

    /// How much of some suspects' weight shows each class of a column.
    pub(crate) fn shown_by(&self, suspects: &[u32], atlas: &Atlas, column: usize) -> Vec<f64> {
        let mut shown = vec![0.0; atlas.columns[column].bins.outcomes.len()];
        for suspect in suspects.iter().filter(|suspect| (**suspect as usize) < self.worlds.suspects()) {
            for delegate in self.worlds.of_suspect(*suspect) {
                let class = self.classes[column][*delegate as usize];
                shown[usize::from(class)] += exp(self.worlds.log_prior()[*delegate as usize]);
            }
        }
        shown
    }

    /// What may come, as the delegates see it.
    pub(crate) fn outlook(&self, negligible: f64) -> Outlook {
        Outlook::of_prior(&self.worlds, negligible)
    }

    /// A column as a test that can be planned with.
    pub(crate) fn test<'a>(&'a self, atlas: &'a Atlas, column: usize, minutes: f64) -> Option<Test<'a>> {
        let kernel = atlas.columns[column].bins.kernel.as_ref()?;
        Test::new(&self.worlds, self.classes[column].as_slice(), kernel, minutes).ok()
    }
}

/// `count` places even over the worlds' weights: each world that has one, with its share of them.
fn drawn(worlds: &[u32], weights: &[f64], mass: f64, count: usize) -> Vec<(u32, f64)> {
    let step = mass / count as f64;
    let (mut sum, mut next) = (0.0, 0.5 * step);
    let mut drawn = Vec::new();
    for &world in worlds {
        sum += weights[world as usize];
        let mut times = 0;
        while next < sum {
            next += step;
            times += 1;
        }
        if times > 0 {
            drawn.push((world, f64::from(times) / count as f64));
        }
    }
    drawn
}

/// What a world may look like the next time one looks: a fault that comes and goes is there or not.
fn faces(atlas: &Atlas, field: &Field, world: u32, share: f64) -> Vec<(u32, f64)> {
    let cast = &atlas.cast;
    let beyond = (world as usize).checked_sub(cast.len()).and_then(|index| field.beyond.get(index));
    match beyond {
        Some(Beyond::Sometimes(of, presence)) => {
            let healthy = *of % cast.worlds_each as u32;
            vec![(*of, share * presence), (healthy, share * (1.0 - presence))]
        }
        _ => vec![(world, share)],
    }
}

/// What each delegate beyond the cast shows on every probe; those of the cast have been seen.
fn seen(machine: &Machine, atlas: &Atlas, field: &Field, of_field: &[u32]) -> Vec<Option<Vec<Cell>>> {
    let cast = atlas.cast.len() as u32;
    let program = Program::new(machine, &atlas.probes);
    let round = Round { machine, probes: &atlas.probes, program: &program };
    let mut observer = Observer::new();
    of_field
        .iter()
        .map(|world| {
            let Beyond::Drawn(left, draw, _) = field.beyond.get(world.checked_sub(cast)? as usize)? else {
                return None;
            };
            Some(round.watch(&mut observer, &atlas.cast.world_at(left, draw)).0)
        })
        .collect()
}

/// Class of each delegate for each column.
fn classes(atlas: &Atlas, of_field: &[u32], seen: &[Option<Vec<Cell>>]) -> Vec<Vec<u8>> {
    let class = |column: usize| {
        let of_cast = &atlas.columns[column].bins.classes;
        let bins = &atlas.columns[column].bins;
        let fresh = seen.iter().flatten().map(|cells| cells[column]);
        let mut fresh = bins.classes_of(&atlas.probes[column], fresh).into_iter();
        let one = |(world, seen): (&u32, &Option<Vec<Cell>>)| match seen {
            Some(_) => fresh.next().unwrap_or(0),
            None => of_cast[*world as usize],
        };
        of_field.iter().zip(seen).map(one).collect()
    };
    (0..atlas.columns.len()).map(class).collect()
}
