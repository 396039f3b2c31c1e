//! What is known of a machine over the years: its jobs, what was proven, and the readings of each probe by date.

use std::collections::BTreeMap;

use axum::Router;
use axum::extract::{Path, State};
use axum::routing::get;
use journal::Entry;
use maud::{Markup, html};

use super::jobs;
use crate::shop::words;
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/machine/{name}/history", get(show))
}

/// Jobs that are looked at.
const MOST: usize = 500;

async fn show(State(workshop): State<Shared>, Path(name): Path<String>) -> Result<Markup, Trouble> {
    blocking(move || {
        let known = workshop.machines.known(&name)?;
        let sheet = known.ready.as_ref().map(|ready| &ready.machine.sheet);
        let id = sheet.map_or(name.as_str(), |sheet| sheet.id.as_str());
        let jobs = workshop.journal.jobs(Some(id), MOST)?;
        let mut readings: BTreeMap<String, Vec<(String, String, String)>> = BTreeMap::new();
        for brief in &jobs {
            let job = workshop.journal.job(&brief.id)?;
            for kept in job.standing() {
                if let Entry::Reading { probe, value } = &kept.entry
                    && probe.contains('@')
                    && !probe.starts_with("try:")
                    && value != "skip"
                {
                    let (day, _) = words::when(&kept.at);
                    readings.entry(probe.clone()).or_default().push((day, value.clone(), brief.id.clone()));
                }
            }
        }
        let title = |probe: &str| {
            let ready = known.ready.as_ref();
            ready.and_then(|ready| ready.machine.probe(probe).ok()).map_or_else(|| probe.to_owned(), |probe| probe.title)
        };
        Ok(Frame::new(&format!("History: {name}"), Where::Machines).page(&html! {
            p.hint { a href={ "/machine/" (name) } { (sheet.map_or(name.as_str(), |sheet| sheet.title.as_str())) } }
            h1 { "History" }
            @if jobs.is_empty() { p { "No job yet." } } @else { (jobs::table(&jobs)) }
            @if !readings.is_empty() {
                h2 { "Readings over time" }
                @for (probe, all) in &readings {
                    h3 { (title(probe)) }
                    table {
                        thead { tr { th scope="col" { "Date" } th.n scope="col" { "Shown" } th scope="col" { "Job" } } }
                        tbody { @for (day, value, job) in all { tr { td { (day) } td.n { (value) } td { a href={ "/job/" (job) } { (job) } } } } }
                    }
                }
            }
        }))
    })
    .await?
}
