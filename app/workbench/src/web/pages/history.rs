//! What is known of a machine over the years: its jobs, what was read of each probe by date, drawn, and when the line
//! through it crosses what is healthy.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, RawQuery, State};
use axum::routing::get;
use journal::{Entry, Job};
use maud::{Markup, PreEscaped, html};
use quantity::show;

use super::jobs;
use crate::shop::history::{self, History, Series, a_year};
use crate::shop::learned::{self, Lessons, QUARTERS};
use crate::shop::machines::Ready;
use crate::shop::words;
use crate::web::form::{encoded, read};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/machine/{name}/history", get(show_page))
}

/// Jobs that are looked at, and shown.
const MOST: usize = 500;
const SHOWN: usize = 8;
/// Series that are drawn on the page of all; each has a page of its own.
const DRAWN: usize = 5;
/// Sizes of a plot, px.
const WIDE: (u32, u32) = (760, 340);
const NARROW: (u32, u32) = (348, 300);

async fn show_page(
    State(workshop): State<Shared>,
    Path(name): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Markup, Trouble> {
    blocking(move || {
        let asked = read(query.unwrap_or_default().as_bytes());
        let known = workshop.machines.known(&name)?;
        let sheet = known.ready.as_ref().map(|ready| &ready.machine.sheet);
        let (id, title) = sheet.map_or((name.as_str(), name.as_str()), |sheet| (&sheet.id, &sheet.title));
        let briefs = workshop.journal.jobs(Some(id), MOST)?;
        let all: Vec<Job> =
            briefs.iter().map(|brief| workshop.journal.job(&brief.id)).collect::<Result<_, _>>()?;
        let only = Some(asked.text("probe")).filter(|probe| !probe.is_empty());
        let told = known.ready.as_ref().map(|ready| told(&workshop, ready, &all, only));
        let taught = match (&known.ready, only) {
            (Some(ready), None) => Some(learned::lessons(&workshop.journal, &ready.machine, None)?).filter(Lessons::taught),
            _ => None,
        };
        let shown = briefs.get(..SHOWN).unwrap_or(&briefs);
        Ok(Frame::new(&format!("History: {name}"), Where::Machines).page(&html! {
            p.hint { a href={ "/machine/" (name) } { (title) } }
            h1 { "History" }
            @if only.is_some() { p { a href={ "/machine/" (name) "/history" } { "All that was read" } } }
            @else if briefs.is_empty() { p { "No job yet." } }
            @else {
                (jobs::table(shown))
                @if briefs.len() > SHOWN { p.hint { "The latest " (SHOWN) " of " (briefs.len()) "." } }
            }
            @match &told {
                Some((told, limits)) => (series(&name, told, *limits, only.is_some())),
                None => @if !briefs.is_empty() { p.mind { b { "mind " } "The machine's sheet has problems: what was read is in the jobs." } },
            }
            @if only.is_none() { (in_words(&all)) }
            @if let Some(taught) = &taught { (lessons(taught)) }
        }))
    })
    .await?
}

/// The history, and whether the healthy bands are there to hold it against.
fn told(workshop: &Shared, ready: &Arc<Ready>, jobs: &[Job], only: Option<&str>) -> (History, bool) {
    let limits = !jobs.is_empty() && workshop.desks.trial(ready, |_| ()).is_ok();
    let mut healthy = |probe: &machine::Probe, air| {
        if !limits {
            return None;
        }
        let band = |trial: &mut diagnosis::trial::Trial| {
            let desk = trial.desk();
            Some(desk.band(desk.atlas().column_of(probe)?, air))
        };
        workshop.desks.trial(ready, band).ok().flatten()
    };
    (history::history(&ready.machine, jobs, history::today(), only, &mut healthy), limits)
}

fn series(name: &str, told: &History, limits: bool, single: bool) -> Markup {
    let today = history::today();
    html! {
        @if told.series.is_empty() { @if single { p { "Nothing of that name was read." } } }
        @else {
            @if !limits { p.hint { "What healthy machines show is still being computed: load the page again for limits and dates." } }
            @if !single {
                h2 { "Over the years" }
                p { "Each line is laid through the readings since the latest repair that shows there; its dates hold in four cases of five." }
                (summary(name, told))
            }
            @for (index, series) in told.series.iter().enumerate() {
                @if single || (index < DRAWN && series.forecast.is_some()) { (one(series, today, single)) }
            }
        }
    }
}

fn address(name: &str, series: &Series) -> String {
    format!("/machine/{name}/history?probe={}", encoded(&series.probe))
}

fn summary(name: &str, told: &History) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Over the years" {
            table {
                thead { tr {
                    th scope="col" { "Probe" } th.n scope="col" { "Readings" } th.n scope="col" { "Latest" }
                    th.n scope="col" { "A year" } th.n scope="col" { "Limit" } th scope="col" { "Crossed" }
                } }
                tbody { @for series in &told.series { tr {
                    td { a href=(address(name, series)) { (series.title) } }
                    td.n { (series.readings.iter().filter(|taken| taken.current).count()) }
                    td.n { (series.readings.last().map_or("", |taken| taken.shown.as_str())) }
                    td.n { (series.forecast.as_ref().map_or_else(|| "–".to_owned(), |forecast| a_year(forecast.a_year, series.dimension))) }
                    td.n { (series.limit.as_ref().filter(|_| series.forecast.is_some()).map_or_else(|| "–".to_owned(), |limit| show(limit.value, series.dimension))) }
                    td { (crossed(series)) }
                } } }
            }
        }
    }
}

/// When a series crosses its limit, short.
fn crossed(series: &Series) -> String {
    let Some(forecast) = &series.forecast else { return "too few readings".to_owned() };
    history::in_short(forecast)
}

fn one(series: &Series, today: f64, open: bool) -> Markup {
    let drawn = |size| history::svg(series, today, size).unwrap_or_default();
    html! {
        h3 { (series.title) }
        p { (series.said) }
        div.drawn.only-wide { (PreEscaped(drawn(WIDE))) }
        div.drawn.only-narrow { (PreEscaped(drawn(NARROW))) }
        p.hint { "Filled: readings of the line; hollow: from before the latest repair. The band holds the line, the bar on the dashed limit the day on which it is crossed; a cross is a reading beyond the paper." }
        details open[open] {
            summary { "Readings" }
            div.scroll tabindex="0" role="region" aria-label={ "Readings: " (series.title) } {
                table {
                    thead { tr {
                        th scope="col" { "Date" } th.n scope="col" { "Read" } th.n scope="col" { "Air" }
                        th.n scope="col" { "At 20 °C" } th scope="col" { "Job" }
                    } }
                    tbody {
                        @for (index, taken) in series.readings.iter().enumerate() {
                            @let before = index.checked_sub(1).map_or("", |before| series.readings[before].at.as_str());
                            @for repair in series.repairs.iter().filter(|repair| repair.at.as_str() > before && repair.at <= taken.at) {
                                tr { td { (words::when(&repair.at).0) } td colspan="3" { "mended: " (repair.remedy.trim_start_matches("try:")) } td { a href={ "/job/" (encoded(&repair.job)) } { (repair.job) } } }
                            }
                            tr {
                                td { (words::when(&taken.at).0) } td.n { (taken.shown) }
                                td.n { (taken.air_c.map_or_else(|| "?".to_owned(), |air| format!("{air:.0} °C"))) }
                                td.n { @if taken.air_c.is_some() { (show(taken.compared, series.dimension)) } }
                                td { a href={ "/job/" (encoded(&taken.job)) } { (taken.job) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Faults of the table of odds.
const LEADING: usize = 10;

/// What the journal's jobs have taught, beside what the sheet says.
fn lessons(taught: &Lessons) -> Markup {
    html! {
        h2 { "What jobs have taught" }
        @if taught.own + taught.others > 0 { (odds(taught)) }
        @if !taught.severities().is_empty() { (severities(taught)) }
        @if taught.timed > 0 { (minutes(taught)) }
    }
}

/// The starting odds beside the learned ones.
fn odds(taught: &Lessons) -> Markup {
    let mut faults: Vec<_> = taught.learned.faults.iter().collect();
    faults.sort_by(|left, right| right.share.total_cmp(&left.share));
    html! {
        p {
            "From " (taught.own) " of this machine's jobs and " (taught.others) " of others. A passed repair check counts in full, "
            "a verdict without one half at most; the starting odds weigh as much as twenty. A job starts from what was learned "
            "before it; " code { "--odds sheet" } " goes back to the starting odds."
        }
        div.scroll tabindex="0" role="region" aria-label="Odds" {
            table {
                thead { tr {
                    th scope="col" { "Fault" } th.n scope="col" { "Start" } th.n scope="col" { "Learned" }
                    th.n scope="col" { "Nine cases of ten" } th.n scope="col" { "Verdicts" }
                } }
                tbody { @for fault in faults.iter().take(LEADING) { tr {
                    td { (fault.start.title) } td.n { (words::odds(fault.start.share)) } td.n { (words::odds(fault.share)) }
                    td.n { (words::odds(fault.low)) " to " (words::odds(fault.high)) }
                    td.n { @if fault.own > 0.0 { (format!("{:.1}", fault.own)) } @else { "–" } }
                } } }
            }
        }
    }
}

/// How bad faults were.
fn severities(taught: &Lessons) -> Markup {
    html! {
        h3 { "How bad it was when it was proven" }
        p { "Quarters of what is possible; 25 % each before any verdict." }
        div.scroll tabindex="0" role="region" aria-label="How bad it was" {
            table {
                thead { tr {
                    th scope="col" { "Kind and mode" }
                    @for quarter in QUARTERS { th.n scope="col" { (quarter) } }
                    th.n scope="col" { "Verdicts" }
                } }
                tbody { @for usual in taught.severities() { tr {
                    td { (usual.class) }
                    @for share in usual.shares { td.n { (words::odds(share)) } }
                    td.n { (format!("{:.1}", usual.verdicts)) }
                } } }
            }
        }
    }
}

/// How long things took.
fn minutes(taught: &Lessons) -> Markup {
    let acts = taught.times();
    let kept = acts.len().saturating_sub(1).min(LEADING);
    html! {
        h3 { "How long it took" }
        p { "By the clock between entries, over the catalogue's minutes; pauses are reckoned with. Four cases of five lie in the range." }
        div.scroll tabindex="0" role="region" aria-label="How long it took" {
            table {
                thead { tr {
                    th scope="col" { "What was done" } th.n scope="col" { "Factor" } th.n scope="col" { "Range" } th.n scope="col" { "Times" }
                } }
                tbody { @for act in acts[..kept].iter().chain(acts.last()) { tr {
                    td { (learned::act_in_words(&act.act)) } td.n { (format!("{:.2}", act.factor)) }
                    td.n { (format!("{:.2} to {:.2}", act.low, act.high)) } td.n { (act.times) }
                } } }
            }
        }
    }
}

/// Remedies and what was seen, heard or felt, of the latest jobs.
fn in_words(jobs: &[Job]) -> Markup {
    let said = |job: &Job| -> Vec<(String, String, String)> {
        let standing = job.standing().into_iter().filter_map(|kept| match &kept.entry {
            Entry::Reading { probe, value } if probe.starts_with("try:") => Some((
                words::when(&kept.at).0,
                format!("{} = {value}", probe.trim_start_matches("try:")),
                job.id.clone(),
            )),
            _ => None,
        });
        standing.collect()
    };
    let all: Vec<_> = jobs.iter().flat_map(said).take(60).collect();
    html! {
        @if !all.is_empty() {
            h2 { "What was done" }
            div.scroll tabindex="0" role="region" aria-label="What was done" {
                table {
                    thead { tr { th scope="col" { "Date" } th scope="col" { "Remedy" } th scope="col" { "Job" } } }
                    tbody { @for (day, what, job) in &all { tr { td { (day) } td { (what) } td { a href={ "/job/" (encoded(job)) } { (job) } } } } }
                }
            }
        }
    }
}
