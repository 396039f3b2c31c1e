//! The table of readings as a map: every fault against every probe of a state, shaded where it shows.

use axum::Router;
use axum::extract::{Path, RawQuery, State};
use axum::routing::get;
use maud::{Markup, html};

use crate::shop::readings::{Map, Shade};
use crate::web::form::read;
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/machine/{name}/readings", get(show))
}

async fn show(
    State(workshop): State<Shared>,
    Path(name): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Markup, Trouble> {
    let state = read(query.unwrap_or_default().as_bytes()).text("state").to_owned();
    blocking(move || {
        let ready = workshop.ready(&name)?;
        let Some(ready) = ready else {
            return Err(Trouble::new(axum::http::StatusCode::CONFLICT, "this machine's sheet has problems").hint("mend its sheet first"));
        };
        let states = ready.machine.state_names();
        let state = if states.contains(&state) { state } else { states.iter().find(|name| *name == "held").or(states.first()).cloned().unwrap_or_default() };
        let map = workshop.desks.map(&ready, &state);
        let title = format!("Table of readings: {}", ready.machine.sheet.title);
        let (content, frame) = match map {
            Ok(map) => (table(&map), Frame::new(&title, Where::Machines)),
            Err(done) => {
                let waits = html! { p { "Computing it: " progress value=(format!("{done:.2}")) max="1" aria-label="Computed so far" {} } };
                (waits, Frame::new(&title, Where::Machines).again(""))
            }
        };
        Ok(frame.page(&html! {
            p.hint { a href={ "/machine/" (name) } { (ready.machine.sheet.title) } }
            h1 { "Table of readings" }
            p { "What each fault shows on each probe, in the middle of its what-if cases. A strongly marked field is a reading that no healthy machine shows, a faintly marked one is on its edge, an empty one is as healthy." }
            nav aria-label="State" {
                div.row { @for known in &states { a.button href={ "?state=" (known) } aria-current=[(*known == state).then_some("page")] { (known) } } }
            }
            (content)
        }))
    })
    .await?
}

fn table(map: &Map) -> Markup {
    html! {
        @if map.probes.is_empty() { p { "Nothing is proposed to be measured in this state." } }
        @else {
            div.scroll tabindex="0" role="region" aria-label="Faults and what they show" {
                table.map {
                    thead { tr { th scope="col" { "Fault" } @for probe in &map.probes { th.p scope="col" { (probe) } } } }
                    tbody {
                        tr { th scope="row" { "healthy" } @for healthy in &map.healthy { td { span { (healthy) } } } }
                        @for (fault, cells) in &map.rows {
                            tr {
                                th scope="row" { (fault) }
                                @for (shown, shade) in cells {
                                    td.d1[*shade == Shade::Edge].d2[*shade == Shade::Outside] { @if *shade != Shade::Healthy { span { (shown) } } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
