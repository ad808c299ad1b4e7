//! The frame of every page: one file that needs nothing else, no script, no font, no picture from
//! elsewhere, light or dark as the reader's screen is.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::destination::PAGE_MARK;

const STYLE: &str = include_str!("page.css");

/// A page of this title and content, with what it needs beside the style of every page.
pub(super) fn page(title: &str, style: &str, content: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                (PreEscaped(PAGE_MARK))
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                style { (PreEscaped(STYLE)) (PreEscaped(style)) }
            }
            body {
                main {
                    h1 { (title) }
                    (content)
                }
            }
        }
    };
    page.into_string() + "\n"
}
