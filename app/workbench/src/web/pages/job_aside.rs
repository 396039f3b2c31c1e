//! The right of a job's page: the odds, why, what was said so far, notes and pictures.

use std::sync::Arc;

use diagnosis::advice::Advice;
use diagnosis::request::{self, INSTRUMENTS};
use journal::{Entry, Kept};
use maud::{Markup, html};
use quantity::Celsius;

use super::job_view::View;
use crate::shop::bill;
use crate::shop::machines::Ready;
use crate::shop::practice::cure_name;
use crate::shop::wants::LIMIT;
use crate::shop::words;
use crate::web::Shared;
use crate::web::form::seal;

/// Suspects shown at once.
const SUSPECTS: usize = 6;

/// All of it.
pub fn so_far(workshop: &Shared, view: &View, ready: &Arc<Ready>, advice: Option<&Advice>) -> Markup {
    let open = view.bench.job.closed().is_none();
    html! {
        @if let Some(advice) = advice { (suspects(view, advice)) (why(advice)) }
        (entries(workshop, view, ready))
        (costs(workshop, view, ready))
        (report(&view.bench.job.id))
        @if open { (more(workshop, view, ready)) }
    }
}

/// What is told of the job to others.
fn report(id: &str) -> Markup {
    html! {
        p.row {
            a.button href={ "/job/" (id) "/report" } { "Report" }
            a.button href={ "/job/" (id) "/report.pdf" } { "as PDF" }
            a.button href={ "/job/" (id) "/report.txt" } { "as a message" }
        }
    }
}

fn suspects(view: &View, advice: &Advice) -> Markup {
    let (id, lessons) = (&view.bench.job.machine, &view.bench.lessons);
    let leaders = advice.suspects.iter().filter(|suspect| suspect.probability >= 0.01).take(SUSPECTS);
    html! {
        h2 { "Odds" }
        ul.suspects role="list" {
            @for suspect in leaders { (bar(suspect.probability, &suspect.title)) }
            @if advice.unexplained >= 0.02 { (bar(advice.unexplained, "something that is not in the catalogue")) }
        }
        @if lessons.taught() {
            p.hint { "Begun with " a href={ "/machine/" (id) "/history" } { "what jobs have taught" } ": " (lessons.said()) "." }
        }
    }
}

fn bar(probability: f64, title: &str) -> Markup {
    html! {
        li {
            span.odds { (words::odds(probability)) }
            span { (title) }
            progress value=(format!("{probability:.3}")) max="1" aria-label={ "Odds of " (title) } {}
        }
    }
}

fn why(advice: &Advice) -> Markup {
    html! {
        details {
            summary { "Why the odds stand so" }
            @if advice.reasons.is_empty() { p { "Nothing has been read yet; the odds are those of the trade." } }
            ul {
                @for reason in &advice.reasons {
                    li { b { (format!("{:+.1} bit", reason.weight)) } " " (reason.reading) br; (reason.text) }
                }
            }
            @if let Some(keystone) = &advice.keystone { p { "The reading this rests on: " (keystone) } }
            @for outlier in &advice.outliers { p { "Does not fit the leader: " (outlier) } }
        }
    }
}

fn entries(workshop: &Shared, view: &View, ready: &Arc<Ready>) -> Markup {
    let job = &view.bench.job;
    let air = job.request(None).air;
    let standing: Vec<u64> = job.standing().iter().map(|kept| kept.number).collect();
    let shown: Vec<&Kept> = job.entries.iter().filter(|kept| kept.entry != Entry::Undo).collect();
    let photos: Vec<&Kept> = shown
        .iter()
        .copied()
        .filter(|kept| matches!(kept.entry, Entry::Photo { .. }) && standing.contains(&kept.number))
        .collect();
    html! {
        h2 { "So far" }
        @if job.closed().is_none() && job.last_undoable().is_some() {
            form method="post" action={ "/job/" (job.id) "/undo" } data-once { (seal(workshop)) button { "Take back the last" } }
        }
        div.scroll tabindex="0" role="region" aria-label="What was said so far" {
            table {
                thead { tr { th scope="col" { "Time" } th scope="col" { "What" } th.n scope="col" { "Shown" } } }
                tbody {
                    @for kept in shown.iter().rev() {
                        @let gone = kept.entry.can_be_undone() && !standing.contains(&kept.number);
                        tr.gone[gone] { (line(workshop, ready, air, kept)) }
                    }
                }
            }
        }
        @if !photos.is_empty() {
            div.photos {
                @for kept in photos {
                    @if let Entry::Photo { hash, text } = &kept.entry {
                        a href={ "/photo/" (hash) } { img src={ "/photo/" (hash) } alt=(if text.is_empty() { "picture" } else { text }) loading="lazy"; }
                    }
                }
            }
        }
    }
}

/// What was done so far costs this much; what it may come to, and the owner's limit, where things have prices.
fn costs(workshop: &Shared, view: &View, ready: &Arc<Ready>) -> Markup {
    let job = &view.bench.job;
    let bill = bill::bill(&ready.machine, &ready.faults, &workshop.settings, job.readings());
    let currency = bill.currency.as_deref().unwrap_or_default();
    html! {
        h2 { "Cost so far" }
        p {
            (words::minutes(bill.minutes)) " of work"
            @if let Some(total) = bill.total { ", " (bill::shown(total, currency)) }
            @if let Some(limit) = job.limit() { "; the owner agrees to " (bill::shown(limit, currency)) " at most" }
        }
        @if bill.total.is_some() {
            p.row {
                a.button href={ "/job/" (job.id) "/quote" } { "What it may come to" }
            }
            @if job.closed().is_none() {
                details {
                    summary { "The owner's limit" }
                    form method="post" action={ "/job/" (job.id) "/answer" } data-once {
                        (seal(workshop))
                        input type="hidden" name="question" value=(LIMIT);
                        label for="owner-limit" { "At most, " (currency) }
                        input #owner-limit name="typed" inputmode="decimal" autocomplete="off";
                        p.hint { "It is asked again before a step would go beyond it." }
                        div.row { button { "Keep" } }
                    }
                }
            }
        }
    }
}

fn line(workshop: &Shared, ready: &Arc<Ready>, air: Option<Celsius>, kept: &Kept) -> Markup {
    let (what, shown, healthy) = match &kept.entry {
        Entry::Reading { probe, value } => {
            let title = ready.machine.probe(probe).map_or_else(|_| named(ready, probe), |probe| probe.title);
            let healthy = workshop.desks.healthy(ready, air, probe).unwrap_or_default();
            (title, shown(ready, probe, value), healthy)
        }
        Entry::Complaint { value } => {
            (format!("the owner says: {}", words::complaint(value)), String::new(), String::new())
        }
        Entry::Air { value } => ("air".to_owned(), value.clone(), String::new()),
        other => (words::entry(other), String::new(), String::new()),
    };
    let (day, time) = words::when(&kept.at);
    html! {
        td title=(day) { (time) }
        td { (what) }
        td.n { (shown) @if !healthy.is_empty() { br; span.hint { "healthy " (healthy) } } }
    }
}

/// A value as its instrument shows it; what is none, as it was typed.
fn shown(ready: &Ready, probe: &str, value: &str) -> String {
    match request::entry(&ready.machine, &ready.faults, probe, value) {
        Ok(request::Entry::Took(probe, reading)) => probe.show(&reading),
        _ => value.to_owned(),
    }
}

/// A remedy, a check of the meter or an answer in words.
fn named(ready: &Ready, name: &str) -> String {
    let remedy = name.strip_prefix("try:").and_then(|remedy| {
        let fault = ready.faults.iter().find(|fault| remedy == cure_name(&ready.machine, fault))?;
        Some(fault.remedy.title.clone())
    });
    remedy.unwrap_or_else(|| match name {
        "meter:leads" => "the meter's leads held together".to_owned(),
        "meter:amps" => "the ammeter on a known load".to_owned(),
        "ask:held-up" => "has it held up?".to_owned(),
        other => other.to_owned(),
    })
}

fn more(workshop: &Shared, view: &View, ready: &Arc<Ready>) -> Markup {
    let job = &view.bench.job;
    let at_hand = job.request(None).instruments;
    let has = |name: &str| at_hand.as_ref().is_none_or(|all| all.iter().any(|known| known == name));
    html! {
        details {
            summary { "Another reading" }
            form method="get" action={ "/job/" (job.id) } {
                label for="probe" { "Probe" }
                input #probe name="probe" list="probes" autocomplete="off" spellcheck="false";
                datalist #probes {
                    @for (name, title) in ready.proposed() { option value=(name) { (title) } }
                }
                p.hint { "as in volts@rest:battery.plus,battery.minus" }
                button { "Show how" }
            }
        }
        details {
            summary { "Note" }
            form method="post" action={ "/job/" (job.id) "/note" } data-once {
                (seal(workshop))
                label for="note" { "In your own words" }
                textarea #note name="text" {}
                div.row { button { "Keep" } }
            }
        }
        details {
            summary { "Picture" }
            form method="post" action={ "/job/" (job.id) "/photo" } enctype="multipart/form-data" data-once {
                (seal(workshop))
                label for="photo" { "From the camera or a file" }
                input #photo type="file" name="photo" accept="image/jpeg,image/png,image/webp,image/gif" capture="environment";
                label for="photo-text" { "What it shows" }
                input #photo-text name="text";
                div.row { button { "Keep" } }
            }
        }
        details {
            summary { "Instruments at hand" }
            form method="post" action={ "/job/" (job.id) "/instruments" } data-once {
                (seal(workshop))
                fieldset {
                    legend { "What there is to measure with" }
                    @for name in INSTRUMENTS.iter().filter(|name| !matches!(**name, "eyes" | "owner")) {
                        label.tick { input type="checkbox" name="instrument" value=(name) checked[has(name)]; " " (name) }
                    }
                }
                div.row { button { "Keep" } }
            }
        }
        details {
            summary { "Close the job" }
            form method="post" action={ "/job/" (job.id) "/close" } data-once {
                (seal(workshop))
                p { "It can be gone on with at any time." }
                button { "Close without a proven cause" }
            }
        }
    }
}
