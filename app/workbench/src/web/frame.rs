//! The frame of every page: head, navigation, look, the page's own content.

use maud::{DOCTYPE, Markup, html};

use super::asset;

/// Which part of the workbench a page belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Where {
    /// The machines.
    Machines,
    /// The jobs.
    Jobs,
    /// Practice.
    Practice,
    /// The worksheets.
    Worksheets,
    /// None of them.
    Elsewhere,
}

/// A frame.
pub struct Frame<'a> {
    title: &'a str,
    at: Where,
    again: Option<&'a str>,
    script: Option<&'a str>,
}

impl<'a> Frame<'a> {
    /// The frame of a page of that title.
    pub fn new(title: &'a str, at: Where) -> Self {
        Self { title, at, again: None, script: None }
    }

    /// What the page is for is still being computed: it is looked for there again, by script or by hand. An empty
    /// address is the page's own. A script of the page's own looks by itself.
    pub fn again(self, address: &'a str) -> Self {
        Self { again: Some(address), ..self }
    }

    /// The page loads this script of the look, too.
    pub fn with_script(self, name: &'a str) -> Self {
        Self { script: Some(name), ..self }
    }

    /// The whole page.
    pub fn page(&self, content: &Markup) -> Markup {
        let link = |at: Where, address: &str, text: &str| {
            html! { a href=(address) aria-current=[(self.at == at).then_some("page")] { (text) } }
        };
        html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    meta name="color-scheme" content="light dark";
                    title { (self.title) " · probewright" }
                    link rel="stylesheet" href=(asset::address("tokens.css"));
                    link rel="stylesheet" href=(asset::address("bench.css"));
                    link rel="icon" href="data:,";
                    script src=(asset::address("bench.js")) defer {}
                    @if let Some(name) = self.script { script src=(asset::address(name)) defer {} }
                }
                body {
                    a.skip href="#content" { "To the content" }
                    header.bar {
                        a.name href="/" { "probewright" }
                        nav aria-label="Workbench" {
                            (link(Where::Machines, "/", "Machines"))
                            (link(Where::Jobs, "/jobs", "Jobs"))
                            (link(Where::Practice, "/practice", "Practice"))
                            (link(Where::Worksheets, "/worksheets", "Worksheets"))
                        }
                        button.sun type="button" hidden data-look="sun" aria-pressed="false" { "Sunlight" }
                    }
                    main id="content" tabindex="-1" data-again[self.again.is_some() && self.script.is_none()] {
                        (content)
                        @if let Some(address) = self.again {
                            noscript { p { a.button href=(address) { "Look again" } } }
                        }
                    }
                }
            }
        }
    }
}
