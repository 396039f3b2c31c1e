//! What was probably meant: the known name that differs from the written one by a slip of the finger, or by using
//! another workshop's word for the same thing.

/// Words that people bring along from other workshops, and ours for them.
const OTHER_WORDS: &[(&str, &str)] = &[
    ("accu", "battery"),
    ("address", "at"),
    ("bulb", "lamp"),
    ("button", "switch"),
    ("carries-current", "rating"),
    ("category", "kind"),
    ("cell", "source"),
    ("cross-section", "area"),
    ("description", "title"),
    ("earth", "ground"),
    ("frame", "ground"),
    ("gauge", "area"),
    ("ground", "minus"),
    ("label", "title"),
    ("lead", "cable"),
    ("lead-acid", "flooded"),
    ("lifepo", "lfp-4s"),
    ("lifepo4", "lfp-4s"),
    ("lithium", "lfp-4s"),
    ("location", "at"),
    ("name", "title"),
    ("negative", "minus"),
    ("off", "open"),
    ("on", "closed"),
    ("place", "at"),
    ("plug", "connector"),
    ("position", "at"),
    ("positive", "plus"),
    ("requires", "closed-when"),
    ("resistor", "resistance"),
    ("section", "area"),
    ("size", "area"),
    ("type", "kind"),
    ("value", "resistance"),
    ("where", "at"),
];

/// The candidate that was probably meant by what is written.
pub(super) fn nearest<'a>(written: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let written = written.trim().to_lowercase();
    let letters = written.chars().count();
    if letters == 0 || letters > 80 {
        return None;
    }
    let allowed_slips = match letters {
        1..=3 => 1,
        4..=8 => 2,
        _ => 3,
    };
    let slips = |candidate: &str| {
        let candidate = candidate.to_lowercase();
        let translated = OTHER_WORDS.iter().any(|(theirs, ours)| *theirs == written && *ours == candidate);
        let blanks_apart = written.replace(['_', ' ', '-'], "") == candidate.replace(['_', '-'], "");
        match (blanks_apart, translated) {
            (true, _) => 0,
            (_, true) => 1,
            _ if begin_alike(&written, &candidate) => allowed_slips.min(strsim::osa_distance(&written, &candidate)),
            _ => strsim::osa_distance(&written, &candidate),
        }
    };
    candidates
        .map(|candidate| (slips(candidate), candidate))
        .filter(|(slips, candidate)| *slips <= allowed_slips && *slips < candidate.chars().count())
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, candidate)| candidate)
}

/// Whether two single words have a stem in common: `volts` and `voltage`, but not `button-in` and `button-out`.
fn begin_alike(one: &str, other: &str) -> bool {
    let single = !one.contains('-') && !other.contains('-');
    single && one.chars().zip(other.chars()).take_while(|(left, right)| left == right).count() >= 4
}

/// Names for a message, a dozen at most; nothing when there are none.
pub(super) fn listed<'a>(names: impl Iterator<Item = &'a str>) -> Option<String> {
    const MOST: usize = 12;
    let names: Vec<&str> = names.collect();
    let shown = names.get(..MOST).unwrap_or(&names).join(", ");
    match names.len() {
        0 => None,
        1..=MOST => Some(shown),
        more => Some(format!("{shown} and {} more", more - MOST)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(written: &str, candidates: &[&str], expected: Option<&str>) {
        assert_eq!(nearest(written, candidates.iter().copied()), expected);
    }

    #[test]
    fn slips_and_other_words_find_what_was_meant() {
        check("resistence", &["length", "resistance"], Some("resistance"));
        check("pull_in", &["drop-out", "pull-in"], Some("pull-in"));
        check("positive", &["plus", "minus"], Some("plus"));
        check("volts", &["resistance", "voltage"], Some("voltage"));
        check("to", &["from", "title"], None);
        check("", &["a"], None);
        check("x", &["y"], None);
    }
}
