//! The guide on paper: the same places and sentences as on the page, set by a template.
//! Promise: nothing of a sheet is read as markup; the same guide gives the same bytes.

use paper::{File, PaperError};
use serde_json::{Value, json};

use super::guide_course::{capital, hundredths};
use super::guide_said as said;
use crate::shop::guide::{Chapter, CheckTold, Guide, Place, RemedyTold, StepTold, VerdictTold, What};
use crate::shop::words::{LEADS, Row, minutes, odds};

const TEMPLATE: &str = include_str!("guide.typ");

/// The PDF.
///
/// # Errors
/// When it cannot be set.
pub fn pdf(guide: &Guide) -> Result<Vec<u8>, PaperError> {
    let drawings = guide
        .states
        .iter()
        .map(|state| File { name: drawing(&state.name), bytes: state.drawings[0].clone().into_bytes() });
    let states = guide.states.iter().map(|state| {
        json!({
            "title": capital(&state.title),
            "caution": state.caution,
            "setup": state.setup.join("; "),
            "told": state.told,
            "drawing": drawing(&state.name),
            "alt": format!("The circuit: {}", state.title),
            "carries": state.carries,
            "live": state.live,
        })
    });
    let data = json!({
        "title": format!("Guide: {}", guide.title),
        "machine": guide.title,
        "about": said::ABOUT,
        "absent": said::absent(guide),
        "cautions": guide.cautions,
        "leads": { "title": LEADS.0, "rows": LEADS.1 },
        "follow": [format!("{}{}.", said::FOLLOW[0], said::FOLLOW[1]), said::FOLLOW[2].to_owned()],
        "chapters": guide.chapters.iter().map(|one| chapter(one, &guide.remedies)).collect::<Vec<_>>(),
        "remedies": guide.remedies.iter().enumerate().map(|(index, one)| remedy(index + 1, one)).collect::<Vec<_>>(),
        "said_states": said::STATES,
        "states": states.collect::<Vec<_>>(),
        "said_healthy": said::HEALTHY.concat(),
        "bands": guide.bands,
        "care": guide.care,
        "said_card": said::CARD,
        "card_states": guide.card_states,
        "card": guide.card,
    });
    paper::pdf(TEMPLATE, &data.to_string(), drawings.collect())
}

fn drawing(state: &str) -> String {
    format!("{state}.svg")
}

fn chapter(chapter: &Chapter, remedies: &[RemedyTold]) -> Value {
    let water = chapter.after_water.as_ref().map(|step| {
        let mut told = done(step);
        told["title"] = json!(format!("After washing, rain or a fall, first: {}", step.title));
        told["notes"] = json!([said::BLOCKED]);
        told
    });
    json!({
        "title": capital(&chapter.title),
        "share": hundredths(chapter.share),
        "first": chapter.places.first().map_or(0, |place| place.number),
        "said": said::comes_to(chapter),
        "water": water,
        "places": chapter.places.iter().map(|one| place(one, remedies)).collect::<Vec<_>>(),
    })
}

/// Every place as the same fields: number, from, title, caution, rows, ways, checks, notes.
fn place(place: &Place, remedies: &[RemedyTold]) -> Value {
    let mut told = match &place.what {
        What::Step(step) => {
            let mut told = done(step);
            told["title"] = json!(capital(&step.title));
            told["notes"] = json!([said::reached(place)]);
            told
        }
        What::Verdict(verdict) => mended(place, verdict, remedies),
        What::Stop { text } => json!({ "title": text, "notes": [said::reached(place)] }),
        What::Open { next } => {
            let suspects = place.suspects.iter().map(|(title, share)| json!([odds(*share), title]));
            json!({
                "title": said::ENDS,
                "rows": suspects.collect::<Vec<_>>(),
                "notes": [said::left(place, next.as_ref())],
            })
        }
    };
    told["number"] = json!(place.number);
    told["from"] = json!(place.from.as_ref().map(|(from, when)| json!([from, when])));
    told
}

fn mended(place: &Place, verdict: &VerdictTold, remedies: &[RemedyTold]) -> Value {
    let number = remedies.iter().position(|remedy| remedy.name == verdict.remedy).map(|index| index + 1);
    let number = number.map(|number| format!(" (R{number})")).unwrap_or_default();
    let mut rows: Vec<Row> =
        vec![("remedy", format!("{}{number}", verdict.remedy_title)), ("until here", minutes(place.spent))];
    if verdict.consequence {
        rows.push(("mind", said::BEHIND.to_owned()));
    }
    let proven = verdict.pending.as_ref().map(|pending| format!("Proven only after {pending}."));
    let notes: Vec<String> = proven.into_iter().chain([said::NOT_MENDED.to_owned()]).collect();
    json!({
        "title": verdict.title,
        "caution": verdict.caution,
        "rows": rows,
        "checks": checks(&verdict.checks),
        "notes": notes,
    })
}

fn done(step: &StepTold) -> Value {
    let mut rows = step.rows.clone();
    rows.push(("time", minutes(step.minutes)));
    if !step.healthy.is_empty() {
        rows.push(("healthy", step.healthy.clone()));
    }
    let ways = step.ways.iter().map(|way| {
        let share = if way.odds > 0.0 { odds(way.odds) } else { String::new() };
        json!([way.when, way.means, share, way.to])
    });
    json!({ "caution": step.caution, "rows": rows, "ways": ways.collect::<Vec<_>>() })
}

fn remedy(number: usize, remedy: &RemedyTold) -> Value {
    let mut rows: Vec<Row> = vec![("mends", remedy.mends.join("; "))];
    rows.extend(remedy.rows.iter().cloned());
    rows.push(("time", format!("{}, the way there and a trial start with it", minutes(remedy.minutes))));
    json!({
        "label": format!("R{number}"),
        "title": capital(&remedy.title),
        "caution": remedy.caution,
        "rows": rows,
        "checks": checks(&remedy.checks),
        "from": remedy.from,
    })
}

fn checks(checks: &[CheckTold]) -> Vec<(&str, &str)> {
    checks.iter().map(|check| (check.text.as_str(), check.caution.as_str())).collect()
}
