//! What every template must carry, and what none may: the notice on each page, and nothing the browser would refuse.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::rooms::{files_under, named};
use std::fs;

/// The stricter half of the page's Content-Security-Policy (W3C CSP Level 3): the browser would drop these anyway.
#[test]
fn templates_hold_no_style_no_script_and_nothing_from_elsewhere() {
    let mut found = Vec::new();
    for path in files_under("templates") {
        let text = fs::read_to_string(&path).unwrap();
        for (place, line) in text.lines().enumerate() {
            let low = line.to_lowercase();
            let handler = low.match_indices(" on").any(|(at, _)| {
                let rest = &low[at + 3..];
                let word: String = rest.chars().take_while(char::is_ascii_lowercase).collect();
                !word.is_empty() && rest[word.len()..].starts_with("=\"")
            });
            let inline = low.contains("<script") && !low.contains("<script src=\"/assets/");
            let elsewhere = ["http://", "https://", "src=\"//", "javascript:"].iter().any(|word| low.contains(word));
            if low.contains(" style=") || low.contains("<style") || handler || inline || elsewhere {
                found.push(format!("{}:{}: {}", named(&path), place + 1, line.trim()));
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// A page is drawn in the frame, which carries the notice, or is a whole page of its own and carries it itself.
#[test]
fn every_template_that_is_a_page_carries_the_notice() {
    let (mut found, mut pages) = (Vec::new(), 0);
    for path in files_under("templates") {
        let text = fs::read_to_string(&path).unwrap();
        let whole = text.contains("<html");
        // The farm's frame, or the one round a household's pages; both are whole pages, and looked at as such.
        let framed = ["frame.html", "own/frame.html"].iter().any(|frame| text.contains(&format!("{{% extends \"{frame}\" %}}")));
        pages += usize::from(framed);
        if whole && !text.contains("frame.notice()") && !text.contains("NOTICE") {
            found.push(format!("{}: a whole page without the notice", named(&path)));
        }
        if framed && (text.contains("block notice") || text.contains("<footer")) {
            found.push(format!("{}: takes the place of the frame's footer", named(&path)));
        }
        if !whole && !framed && text.contains("{% extends") {
            found.push(format!("{}: extends something else than the frame", named(&path)));
        }
    }
    assert!(pages > 4, "the templates were not found");
    assert!(found.is_empty(), "{}", found.join("\n"));
}
