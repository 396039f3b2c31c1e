//! A page in one file: look, drawings and text together.
//! Promise: nothing is loaded, and nothing runs but a script that the page names by its digest; it reads on a telephone at 320 px and prints on A4.

use base64::Engine;
use base64::prelude::BASE64_STANDARD as STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

const TOKENS: &str = include_str!("../web/look/tokens.css");
const LOOK: &str = include_str!("page.css");

/// What a browser must not do with such a page, whatever is written in it.
pub const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'";

/// The whole page, with one script of our own.
pub fn page_with_script(title: &str, content: &Markup, script: &str) -> Markup {
    let digest = STANDARD.encode(Sha256::digest(script));
    whole(title, content, &format!("{POLICY}; script-src 'sha256-{digest}'"), Some(script))
}

/// The whole page.
pub fn page(title: &str, content: &Markup) -> Markup {
    whole(title, content, POLICY, None)
}

fn whole(title: &str, content: &Markup, policy: &str, script: Option<&str>) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta http-equiv="Content-Security-Policy" content=(policy);
                title { (title) }
                // Style sheets of the program, without a sign that HTML would read.
                style { (PreEscaped(TOKENS)) (PreEscaped(LOOK)) }
            }
            body {
                main { (content) }
                @if let Some(script) = script { script { (PreEscaped(script)) } }
            }
        }
    }
}
