//! What each outcome of a probe would mean, in the technician's words.

use machine::Probe;
use quantity::show;

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
    let mut told: Vec<(Outcome, f64, String)> = Vec::new();
    for (outcome, meaning) in bins.outcomes.iter().zip(&meanings) {
        if meaning.probability < 0.015 {
            continue;
        }
        let points_at = points_at(meaning, &title);
        match (told.last_mut(), outcome) {
            (Some((Outcome::Between(_, high), share, text)), Outcome::Between(low, top))
                if *text == points_at && *high == *low =>
            {
                *high = *top;
                *share += meaning.probability;
            }
            _ => told.push((*outcome, meaning.probability, points_at)),
        }
    }
    let words = |(outcome, probability, means): (Outcome, f64, String)| OutcomeMeans {
        when: in_words(probe, outcome),
        means,
        probability,
    };
    told.into_iter().map(words).collect()
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
