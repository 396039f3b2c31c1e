//! The guide as one page: for a telephone without a network, and for paper.
//! Promise: all that it holds stands in one column with numbered places that say where to go on; nothing is wider than a
//! telephone of 320 px; the card for the pocket has a sheet of its own when printed.

use maud::{Markup, PreEscaped, html};

use super::guide_course::{self, capital, checks, hundredths};
use super::{guide_said as said, page};
use crate::shop::guide::{CardGroup, Care, Guide, Named, RemedyTold, StateBands, StateTold};
use crate::shop::words::{Row, minutes};

const LOOK: &str = include_str!("guide.css");

/// The whole page.
pub fn page(guide: &Guide) -> Markup {
    page::page(
        &format!("Guide: {}", guide.title),
        &html! {
            style { (PreEscaped(LOOK)) }
            h1 { (guide.title) }
            p { (said::ABOUT) }
            (contents(guide))
            (before(guide))
            (courses(guide))
            (remedies(guide))
            h2 id="circuit" { "How the circuit works" }
            p.quiet { (said::STATES) }
            @for state in &guide.states { (state_told(state)) }
            h2 id="healthy" { "What a healthy machine shows" }
            p { (said::HEALTHY[0]) span.number { (said::HEALTHY[1]) } (said::HEALTHY[2]) }
            @for state in &guide.bands { (bands(state)) }
            h2 id="care" { "Care" }
            @for care in &guide.care { (cared(care)) }
            (card(guide))
        },
    )
}

fn contents(guide: &Guide) -> Markup {
    html! {
        nav.contents {
            h2 { "What does the owner say?" }
            table {
                thead { tr { th { "Complaint" } th.n { "Of 100 jobs" } th.n { "Begin at" } } }
                tbody {
                    @for chapter in &guide.chapters {
                        @let first = chapter.places.first().map_or(0, |place| place.number);
                        tr {
                            td { a href=(format!("#c-{}", chapter.complaint)) { (capital(&chapter.title)) } }
                            td.n { (hundredths(chapter.share)) }
                            td.n { a href=(format!("#s{first}")) { "step " (first) } }
                        }
                    }
                }
            }
            @if let Some(absent) = said::absent(guide) { p { (absent) } }
            p { "Further back: " a href="#remedies" { "remedies" } ", " a href="#circuit" { "how the circuit works" } ", "
                a href="#healthy" { "what a healthy machine shows" } ", " a href="#care" { "care" } ", "
                a href="#card" { "the card for the pocket" } "." }
        }
    }
}

fn before(guide: &Guide) -> Markup {
    let (leads, rows) = crate::shop::words::LEADS;
    html! {
        h2 id="before" { "Before anything is touched" }
        @for caution in &guide.cautions { p.caution { (caution) "." } }
        h3 { (leads) }
        (labeled(&rows.map(|(label, text)| (label, text.to_owned()))))
        h3 { "How to follow it" }
        p { (said::FOLLOW[0]) code { (said::FOLLOW[1]) } "." }
        p { (said::FOLLOW[2]) }
    }
}

fn courses(guide: &Guide) -> Markup {
    html! { @for chapter in &guide.chapters { (guide_course::chapter(chapter, &guide.remedies)) } }
}

fn remedies(guide: &Guide) -> Markup {
    html! {
        h2 id="remedies" { "Remedies" }
        @if guide.remedies.is_empty() { p { "No course here ends at one." } }
        div.columns { @for (index, remedy) in guide.remedies.iter().enumerate() { (remedied(index + 1, remedy)) } }
    }
}

fn remedied(number: usize, remedy: &RemedyTold) -> Markup {
    html! {
        section.place.keep id=(format!("r{number}")) {
            h3 { span.number { "R" (number) } " " (capital(&remedy.title)) }
            @if !remedy.caution.is_empty() { p.caution { (remedy.caution) "." } }
            dl {
                dt { "mends" } dd { (remedy.mends.join("; ")) }
                @for (label, text) in &remedy.rows { dt { (label) } dd { (text) } }
                dt { "time" } dd { (minutes(remedy.minutes)) ", the way there and a trial start with it" }
            }
            @if !remedy.checks.is_empty() { p { strong { (said::CHECK[0]) } (said::CHECK[1]) } (checks(&remedy.checks)) }
            p.quiet { "From " @for (index, from) in remedy.from.iter().enumerate() {
                @if index > 0 { ", " } a href=(format!("#s{from}")) { (from) }
            } "." }
        }
    }
}

fn state_told(state: &StateTold) -> Markup {
    html! {
        h3 { (capital(&state.title)) }
        @if !state.caution.is_empty() { p.caution { (state.caution) "." } }
        @if !state.setup.is_empty() { p { (state.setup.join("; ")) "." } }
        ul { @for line in &state.told { li { (line) } } }
        figure {
            div.on-paper { (PreEscaped(&state.drawings[0])) }
            div.on-telephone { (PreEscaped(&state.drawings[1])) }
            figcaption { "The circuit: " (state.title) }
        }
        div.columns {
            table.pairs {
                thead { tr { th.n { "Carries" } th { "Through" } } }
                tbody { @for (parts, amps) in &state.carries { tr { td.n { (amps) } td { (parts) } } } }
            }
            table.pairs {
                thead { tr { th.n { "Stands at" } th { "Points" } } }
                tbody { @for (volts, points) in &state.live { tr { td.n { (volts) } td { (points) } } } }
            }
        }
    }
}

fn bands(state: &StateBands) -> Markup {
    html! {
        h3 { (capital(&state.state.title)) }
        @if !state.caution.is_empty() { p.caution { (state.caution) "." } }
        @if !state.setup.is_empty() { p { (state.setup.join("; ")) "." } }
        div.columns { @for table in &state.tables {
            table.pairs {
                caption { (table.setting) @if !table.black.is_empty() { "; black on " (table.black) } }
                thead { tr { th.n { "Healthy" } th { @if table.black.is_empty() { "Where" } @else { "Red on" } } } }
                tbody { @for (place, shown) in &table.rows { tr { td.n { (spaced(shown)) } td { (place) } } } }
            }
        } }
    }
}

fn cared(care: &Care) -> Markup {
    html! {
        h3 { (care.title) }
        @for caution in &care.cautions { p.caution { (caution) "." } }
        ul { @for line in &care.told { li { (line) } } }
        @if let Some((heads, rows)) = &care.table {
            @if heads.len() > 3 { (stacked(heads, rows)) } @else {
                table {
                    thead { tr { @for (index, head) in heads.iter().enumerate() { th.n[index > 0] { (head) } } } }
                    tbody { @for row in rows { tr { @for (index, cell) in row.iter().enumerate() { td.n[index > 0] { (cell) } } } } }
                }
            }
        }
        p.quiet { "Sources: " (care.sources.join("; ")) "." }
    }
}

/// A wide table: side by side on paper, line under line on a telephone, each cell with its heading.
fn stacked(heads: &[String], rows: &[Vec<String>]) -> Markup {
    html! {
        table.stacked {
            thead { tr { @for head in heads { th { (head) } } } }
            tbody { @for row in rows { tr {
                @for (head, cell) in heads.iter().zip(row) { td data-head=(head) { (cell) } }
            } } }
        }
    }
}

fn card(guide: &Guide) -> Markup {
    html! {
        section.card id="card" {
            h2 { "For the pocket: " (guide.title) }
            p.quiet { (said::CARD) }
            dl.legend { @for Named { name, title } in &guide.card_states { dt { (name) } dd { (title) } } }
            p.caution { (guide.cautions.get(1).map_or("", String::as_str)) "; " (guide.cautions.get(2).map_or("", String::as_str)) "." }
            table.points {
                thead { tr { th { "Point" } @for state in &guide.card_states { th.n { (state.name) } } } }
                @for group in &guide.card { (card_group(group, &guide.card_states)) }
            }
        }
    }
}

fn card_group(group: &CardGroup, states: &[Named]) -> Markup {
    html! {
        tbody {
            tr.group { th colspan=(states.len() + 1) { (group.title) } }
            @for (point, shown) in &group.rows { tr {
                td { (point) }
                @for (state, shown) in states.iter().zip(shown) { td.n data-head=(state.name) { (spaced(shown)) } }
            } }
        }
    }
}

/// A band that may break between its ends.
fn spaced(band: &str) -> String {
    band.replace("..", " – ")
}

/// Labeled lines.
fn labeled(rows: &[Row]) -> Markup {
    html! { dl { @for (label, text) in rows { dt { (label) } dd { (text) } } } }
}
