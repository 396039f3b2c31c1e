//! A page in one file: look, drawings and text together.
//! Promise: nothing is loaded, nothing runs; it reads on a telephone at 320 px and prints on A4.

use maud::{DOCTYPE, Markup, PreEscaped, html};

const TOKENS: &str = include_str!("../web/look/tokens.css");
const LOOK: &str = include_str!("page.css");

/// What a browser must not do with such a page, whatever is written in it.
const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'";

/// The whole page.
pub fn page(title: &str, content: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                title { (title) }
                // Style sheets of the program, without a sign that HTML would read.
                style { (PreEscaped(TOKENS)) (PreEscaped(LOOK)) }
            }
            body { main { (content) } }
        }
    }
}
