//! Will they start? The mornings that are asked about, and for each machine its odds, what limits it, what to do tonight.

use axum::Router;
use axum::extract::{RawQuery, State};
use axum::routing::get;
use maud::{Markup, html};

use crate::shop::fleet::{self, Asked, Board, Found, NoForecast, Row, Told};
use crate::shop::history;
use crate::shop::words::odds;
use crate::web::form::{encoded, read};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/fleet", get(show))
}

async fn show(State(workshop): State<Shared>, RawQuery(query): RawQuery) -> Result<Markup, Trouble> {
    blocking(move || {
        let asked = read(query.unwrap_or_default().as_bytes());
        let typed = asked.text("mornings").trim().to_owned();
        let frame = Frame::new("Will they start?", Where::Machines);
        if typed.is_empty() {
            return Ok(frame.page(&page(&usual(), None, &html! {})));
        }
        let mornings = match fleet::read(&typed) {
            Ok(mornings) => mornings,
            Err(error) => return Ok(frame.page(&page(&typed, Some(&error), &html! {}))),
        };
        Ok(match workshop.board(&mornings, history::today().floor())? {
            Found::Board(board) => frame.page(&page(&typed, None, &told(&board))),
            Found::Later(done) => frame.again("").page(&page(&typed, None, &waits(done))),
            Found::Broke => return Err(Trouble::own()),
        })
    })
    .await?
}

/// What the field holds at first.
fn usual() -> String {
    fleet::usual().iter().map(|asked| format!("{} C\n", asked.air_c)).collect()
}

fn page(typed: &str, error: Option<&NoForecast>, answer: &Markup) -> Markup {
    html! {
        p.hint { a href="/" { "Machines" } }
        h1 { "Will they start?" }
        form.plain method="get" action="/fleet" {
            label for="mornings" { "The mornings, a line each: a date or a name if you like, and the temperature" }
            textarea #mornings name="mornings" rows="5" spellcheck="false" autocomplete="off" aria-describedby="how" { (typed) }
            @if let Some(error) = error { p.trouble role="alert" { (error) } }
            p.hint #how { "As in " code { "Saturday, -8 C" } " or " code { "2026-12-05, -8.5" } ". A forecast that was saved as a table can be pasted." }
            button.main { "Look" }
        }
        (answer)
    }
}

fn waits(done: f64) -> Markup {
    html! {
        p { "Cranking each machine in the cold: " progress value=(format!("{done:.2}")) max="1" aria-label="Computed so far" {} }
    }
}

fn told(board: &Board) -> Markup {
    let low = |row: &&Row| row.refused.is_some() || row.mornings.iter().any(|told| told.odds < board.enough);
    html! {
        @if board.machines.is_empty() { p { "There is no machine here yet whose sheet can be used." } }
        @else {
            h2 { "Odds of a start" }
            div.scroll tabindex="0" role="region" aria-label="Odds of a start" {
                table {
                    thead { tr {
                        th scope="col" { "Machine" }
                        @for asked in &board.mornings { th.n scope="col" { (head(asked)) } }
                    } }
                    tbody { @for row in &board.machines { tr {
                        th scope="row" { a href={ "/machine/" (encoded(&row.machine)) } { (row.machine) } }
                        @if row.refused.is_some() { td colspan=(board.mornings.len()) { "cannot be told" } }
                        @for told in &row.mornings { td.n { (cell(told, board.enough)) } }
                    } } }
                }
            }
            p.hint { "Under " (odds(board.enough)) " is marked. Odds are those of a healthy machine, in tune and with fresh fuel: up to six bursts of 5 s with 30 s of rest." }
            @if board.machines.iter().any(|row| low(&row)) { h2 { "Tonight" } }
            @for row in board.machines.iter().filter(low) { (machine(row, board)) }
            @let watched: Vec<&Row> = board.machines.iter().filter(|row| !row.watch.is_empty()).collect();
            @if !watched.is_empty() {
                h2 { "To watch" }
                ul { @for row in watched { @for watch in &row.watch { li { a href={ "/machine/" (encoded(&row.machine)) "/history" } { (row.machine) } ": " (watch) } } } }
            }
        }
    }
}

fn head(asked: &Asked) -> String {
    let air = format!("{} °C", asked.air_c);
    if asked.name == air { air } else { format!("{} {air}", asked.name) }
}

fn cell(told: &Told, enough: f64) -> Markup {
    html! { @if told.odds < enough { b.low { (odds(told.odds)) } } @else { (odds(told.odds)) } }
}

fn machine(row: &Row, board: &Board) -> Markup {
    let low: Vec<(&Asked, &Told)> =
        board.mornings.iter().zip(&row.mornings).filter(|(_, told)| told.odds < board.enough).collect();
    let worst = low.iter().min_by(|one, other| one.1.odds.total_cmp(&other.1.odds));
    let cautions = row.cautions();
    html! {
        div.card {
            h3 { (row.title) }
            @if let Some(refused) = &row.refused { p.mind { b { "mind " } (refused) } }
            @if let Some(job) = &row.open_job {
                p.mind { b { "mind " } "job " a href={ "/job/" (encoded(job)) } { (job) } " is open: these are the odds of a healthy machine" }
            }
            @if let Some((asked, told)) = worst {
                @if let Some(limit) = &told.limit { p { "At " (asked.air_c) " °C " (limit) "." } }
            }
            ul { @for (asked, told) in &low { li { (morning(asked, told)) } } }
            @if !cautions.is_empty() { p.mind { b { "mind " } (cautions.join(". ")) } }
            @for part in &row.buy { p { b { "buy " } (part.in_words()) } }
            details {
                summary { "What this rests on" }
                ul {
                    @for known in &row.knows { li { (known) } }
                    @if !row.not_read.is_empty() { li { "Not read: " (row.not_read.join("; ")) ". What is usual is taken." } }
                }
            }
        }
    }
}

/// The odds of a morning, and what would bring them up.
fn morning(asked: &Asked, told: &Told) -> Markup {
    html! {
        b { (head(asked)) ": " (odds(told.odds)) }
        @if told.tonight.is_empty() { "; nothing here brings it up: kick it where there is a kick lever, or leave it at home" }
        @for (index, tonight) in told.tonight.iter().enumerate() {
            @if index == 0 { "; " } @else { ", or " }
            (tonight.title) ": " b { (odds(tonight.odds)) }
        }
    }
}
