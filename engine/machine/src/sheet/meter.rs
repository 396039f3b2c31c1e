//! `[meter.NAME]`: an instrument that the workshop has, with its accuracy as its leaflet states it.
//! What a sheet does not say is that of a common handheld meter: 6000 counts, 0.5 % + 2 (a clamp 2 % + 3), leads of
//! 0.14 Ω: typical, from memory.

use quantity::{Dimension, read};

use super::Meter;
use super::findings::{Findings, shortened};
use super::machine::title;
use super::state::word;
use super::value::{Limit, Wrong};
use super::walk::Block;

/// The words for an instrument's sort.
pub(crate) const SORTS: [&str; 4] = ["meter", "clamp", "lamp", "caliper"];
const COUNTS: f64 = 6000.0;
const ACCURACY: (f64, f64) = (0.005, 2.0);
const ACCURACY_OF_CLAMP: (f64, f64) = (0.02, 3.0);
const LEADS: f64 = 0.14;

/// All instruments of the sheet.
pub(super) fn meters(top: &mut Block<'_>, findings: &mut Findings<'_>) -> Vec<Meter> {
    let mut meters = Vec::new();
    for (name, mut block) in top.sections("meter", findings) {
        let title = title(&mut block, &name, findings);
        if !block.has("sort") {
            let hint = "write `sort = \"meter\"`";
            block.missing("sort", &SORTS.join(", "), hint, findings);
        }
        let sort = word("sort", &SORTS, &mut block, findings);
        let counts = block.number("counts", 100.0, 1e9, findings).unwrap_or(COUNTS);
        let usual =
            if sort.as_ref().is_some_and(|(_, named)| named.name == "clamp") { ACCURACY_OF_CLAMP } else { ACCURACY };
        let (accuracy_ratio, accuracy_counts) = accuracy(&mut block, findings).unwrap_or(usual);
        let leads = block.quantity("leads", Dimension::Resistance, Limit::NotNegative, findings);
        block.finish(findings);
        meters.push(Meter {
            name,
            title,
            sort: sort.map_or_else(String::new, |(_, named)| named.name),
            counts: counts as u32,
            accuracy_ratio,
            accuracy_counts,
            lead_ohms: leads.unwrap_or(LEADS),
        });
    }
    meters
}

/// `accuracy = "0.5 % + 2"`: share of the reading and counts.
fn accuracy(block: &mut Block<'_>, findings: &mut Findings<'_>) -> Option<(f64, f64)> {
    const ALLOWED: &str = "percent of the reading + counts, as in \"0.5 % + 2\"";
    let entry = block.take("accuracy")?;
    let named = block.as_text(&entry, ALLOWED, findings)?;
    let text = named.name.trim_start_matches(['±', ' ', '(']).trim_end_matches([' ', ')']);
    let (share, counts) = text.split_once('+').unwrap_or((text, "0"));
    let counts = counts.trim();
    let counts = counts.strip_suffix("counts").or(counts.strip_suffix("count")).unwrap_or(counts);
    let share = Some(share).filter(|share| share.contains('%'));
    let share = share.and_then(|share| read(share, Dimension::Ratio).ok());
    let counts = read(counts, Dimension::Ratio).ok();
    match (share, counts) {
        (Some(share), Some(counts)) if (0.0..=1.0).contains(&share) && counts >= 0.0 => Some((share, counts)),
        _ => {
            let wrong = Wrong {
                message: format!("\"{}\" is not an accuracy", shortened(&named.name)),
                found: shortened(&named.name),
                allowed: ALLOWED.to_owned(),
                hint: Some("write `accuracy = \"0.5 % + 2\"`".to_owned()),
            };
            block.wrong(&entry, wrong, findings);
            None
        }
    }
}
