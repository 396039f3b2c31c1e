//! What each outcome of a probe would mean, in the technician's words.

use machine::Probe;
use quantity::{Reading, show};

use crate::advice::OutcomeMeans;
use crate::atlas::Atlas;
use crate::bins::Outcome;
use crate::delegates::Delegates;
use crate::inference::Meaning;

/// No suspect below this is shown in what an outcome means.
const NAMED: f64 = 0.15;

/// What each outcome would mean: neighbors that point at the same suspects are told as one.
pub(crate) fn outcomes(
    atlas: &Atlas,
    column: usize,
    delegates: &Delegates,
    title: impl Fn(u32) -> String,
) -> Vec<OutcomeMeans> {
    let bins = &atlas.columns[column].bins;
    let probe = &atlas.probes[column];
    let Some(test) = delegates.test(atlas, column, probe.minutes) else { return Vec::new() };
    let meanings = delegates.outlook(1e-4).meanings(&test);
    let mut told: Vec<Told> = Vec::new();
    for (class, (outcome, meaning)) in bins.outcomes.iter().zip(&meanings).enumerate() {
        if meaning.probability < 0.015 {
            continue;
        }
        let points_at = points_at(meaning, &title);
        match (told.last_mut(), outcome) {
            (
                Some(Told { outcome: Outcome::Between(_, high), classes, probability, means }),
                Outcome::Between(low, top),
            ) if *means == points_at && *high == *low => {
                *high = *top;
                classes.push(class);
                *probability += meaning.probability;
            }
            _ => told.push(Told {
                outcome: *outcome,
                classes: vec![class],
                probability: meaning.probability,
                means: points_at,
            }),
        }
    }
    let words = |told: Told| OutcomeMeans {
        when: in_words(probe, told.outcome),
        outcome: Some(told.outcome),
        reading: middle(atlas, column, delegates, &told),
        means: told.means,
        probability: told.probability,
    };
    told.into_iter().map(words).collect()
}

/// Neighboring classes of a probe that point at the same suspects.
struct Told {
    outcome: Outcome,
    classes: Vec<usize>,
    probability: f64,
    means: String,
}

/// What the middle one of those shows who give an outcome, as the instrument displays it.
fn middle(atlas: &Atlas, column: usize, delegates: &Delegates, told: &Told) -> String {
    let probe = &atlas.probes[column];
    let shown = delegates.middle(atlas, column, |class| told.classes.contains(&usize::from(class)));
    match (told.outcome, shown) {
        (Outcome::Word(word), _) => probe.words().get(word).copied().unwrap_or_default().to_owned(),
        (Outcome::Over, _) => "OL".to_owned(),
        (_, None) => String::new(),
        (Outcome::Unsteady, Some(cell)) => {
            probe.show(&Reading::Range { low: f64::from(cell.low), high: f64::from(cell.high) })
        }
        (Outcome::Between(..), Some(cell)) => probe.show(&Reading::Number(cell.middle())),
    }
}

fn points_at(meaning: &Meaning, title: impl Fn(u32) -> String) -> String {
    let likely = meaning.suspects.iter().filter(|(_, share)| *share >= NAMED).take(3);
    let named: Vec<String> = likely.map(|(suspect, _)| title(*suspect)).collect();
    if named.is_empty() { "still many suspects".to_owned() } else { named.join(", or ") }
}

fn in_words(probe: &Probe, outcome: Outcome) -> String {
    let number = |value: f64| show(value, probe.dimension());
    match outcome {
        Outcome::Between(low, high) if low.is_infinite() && high.is_infinite() => "any number".to_owned(),
        Outcome::Between(low, high) if low.is_infinite() => format!("below {}", number(high)),
        Outcome::Between(low, high) if high.is_infinite() => format!("above {}", number(low)),
        Outcome::Between(low, high) => format!("{} to {}", number(low), number(high)),
        Outcome::Over => "OL".to_owned(),
        Outcome::Unsteady => "jumps up and down".to_owned(),
        Outcome::Word(word) => probe.words().get(word).copied().unwrap_or_default().to_owned(),
    }
}

/// A title within a sentence; a word that is all capitals keeps them.
pub(crate) fn uncapitalized(title: &str) -> String {
    let mut letters = title.chars();
    match (letters.next(), title.chars().nth(1)) {
        (Some(first), Some(second)) if !second.is_uppercase() => first.to_lowercase().chain(letters).collect(),
        _ => title.to_owned(),
    }
}
