//! A course on the page: numbered places one under the other, never one inside another, each saying where to go on.
//! Promise: a step has its caution before what it warns of; a branch is a line with its odds and the number to go to.

use maud::{Markup, html};

use super::guide_said as said;
use crate::shop::guide::{Chapter, CheckTold, Place, RemedyTold, StepTold, VerdictTold, WayOn, What};
use crate::shop::words::{minutes, odds};

/// A chapter.
pub fn chapter(chapter: &Chapter, remedies: &[RemedyTold]) -> Markup {
    let [before, right, after] = said::comes_to(chapter);
    html! {
        section.chapter id=(format!("c-{}", chapter.complaint)) {
            h2 { (capital(&chapter.title)) }
            p { (before) strong { (right) } (after) }
            @if let Some(step) = &chapter.after_water {
                section.place.keep {
                    h3 { "After washing, rain or a fall, first: " (step.title) }
                    (done(step))
                    p { (said::BLOCKED) }
                }
            }
            div.columns { @for place in &chapter.places { (place_told(place, remedies)) } }
        }
    }
}

fn place_told(place: &Place, remedies: &[RemedyTold]) -> Markup {
    html! {
        section.place id=(format!("s{}", place.number)) {
            (come_from(place))
            @match &place.what {
                What::Step(step) => (step_told(place, step)),
                What::Verdict(verdict) => (verdict_told(place, verdict, remedies)),
                What::Stop { text } => {
                    h3 { span.number { (place.number) } " " (text) }
                    (suspects(place))
                },
                What::Open { next } => (open(place, next.as_ref())),
            }
        }
    }
}

fn come_from(place: &Place) -> Markup {
    html! {
        @if let Some((from, when)) = &place.from {
            p.from { "from " a href=(format!("#s{from}")) { "step " (from) } ": " (when) }
        }
    }
}

fn step_told(place: &Place, step: &StepTold) -> Markup {
    html! {
        div.keep {
            h3 { span.number { (place.number) } " " (capital(&step.title)) }
            (done(step))
        }
        table.ways {
            thead { tr { th { "You see" } th { "Points at" } th.n { "Go to" } } }
            tbody { @for way in &step.ways { (way_on(way)) } }
        }
        (suspects(place))
    }
}

/// How a step is done: caution first.
fn done(step: &StepTold) -> Markup {
    html! {
        @if !step.caution.is_empty() { p.caution { (step.caution) "." } }
        dl {
            @for (label, text) in &step.rows { dt { (label) } dd { (text) } }
            dt { "time" } dd { (minutes(step.minutes)) }
            @if !step.healthy.is_empty() { dt { "healthy" } dd.healthy { (step.healthy) } }
        }
    }
}

fn way_on(way: &WayOn) -> Markup {
    html! {
        tr {
            td.when { (way.when) }
            td { (way.means) @if way.odds > 0.0 { " " span.odds { (odds(way.odds)) } } }
            td.n { @match way.to {
                Some(to) => a.go href=(format!("#s{to}")) { (to) },
                None => "workshop",
            } }
        }
    }
}

fn verdict_told(place: &Place, verdict: &VerdictTold, remedies: &[RemedyTold]) -> Markup {
    let number = remedies.iter().position(|remedy| remedy.name == verdict.remedy).map(|index| index + 1);
    html! {
        h3 { span.number { (place.number) } " " (verdict.title) }
        @if !verdict.caution.is_empty() { p.caution { (verdict.caution) "." } }
        dl {
            dt { "remedy" }
            dd { (verdict.remedy_title) @if let Some(number) = number {
                " (" a href=(format!("#r{number}")) { "R" (number) } ")"
            } }
            dt { "until here" } dd { (minutes(place.spent)) }
            @if verdict.consequence {
                dt { "mind" } dd { (said::BEHIND) }
            }
        }
        p { strong { (said::CHECK[0]) } (said::CHECK[1]) }
        (checks(&verdict.checks))
        @if let Some(pending) = &verdict.pending { p { "Proven only after " (pending) "." } }
        p.quiet { (said::NOT_MENDED) }
    }
}

/// Where paper ends, in few lines: more than half of the places are such ends.
fn open(place: &Place, next: Option<&(String, String, f64)>) -> Markup {
    html! {
        h3 { span.number { (place.number) } " " (said::ENDS) }
        p { "Suspects: " @for (index, (title, share)) in place.suspects.iter().enumerate() {
            @if index > 0 { "; " } (title) " " span.odds { (odds(*share)) }
        } "." }
        p.quiet { (said::left(place, next)) }
    }
}

fn suspects(place: &Place) -> Markup {
    html! { p.quiet { (said::reached(place)) } }
}

/// The lines of a repair check, each with its caution.
pub fn checks(checks: &[CheckTold]) -> Markup {
    html! {
        ul.checks { @for check in checks { li {
            span.box aria-hidden="true" {} (check.text)
            @if !check.caution.is_empty() { p.caution { (check.caution) "." } }
        } } }
    }
}

/// A share in hundredths.
pub fn hundredths(share: f64) -> String {
    if share < 0.01 { "<1".to_owned() } else { format!("{:.0}", 100.0 * share) }
}

/// A title at the head of a line.
pub fn capital(title: &str) -> String {
    let mut letters = title.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
