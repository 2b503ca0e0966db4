//! The file of what is due, which leaves the farm for whatever calendar the owner looks at.

#![allow(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

use crate::{
    calendar::{facts, in_milk, renewal},
    mornings::follow,
};
use std::collections::BTreeSet;
use tallypail::{paper::ics, trade::calendar::list, web::visitor::Role};

/// The content lines of a calendar file: each of at most 75 octets before its CRLF, folded ones put together again
/// (RFC 5545, 3.1).
#[track_caller]
fn content_lines(file: &str) -> Vec<String> {
    assert!(file.ends_with("\r\n") && !file.replace("\r\n", "").contains(['\r', '\n']), "every line ends with CRLF");
    let mut lines: Vec<String> = Vec::new();
    for line in file.trim_end().split("\r\n") {
        assert!(line.len() <= 75, "{} octets: {line}", line.len());
        match line.strip_prefix(' ') {
            Some(rest) => lines.last_mut().unwrap().push_str(rest),
            None => lines.push(line.to_owned()),
        }
    }
    lines
}

/// Sources: RFC 5545, 3.1 (lines), 3.4 (the object), 3.6.1 (DTSTAMP and UID once each, an all-day event), 3.6.6 (a display alarm),
/// 3.3.11 (text). That nobody's name leaves the farm is this program's own rule.
#[tokio::test]
async fn the_file_is_what_rfc_5545_asks_for_and_names_nobody() {
    let mut farm = in_milk().await;
    follow(&farm, &[("tests", "plate count, coliforms: 1 a month, each cow [read]; TB test: every 13 months [read]")]).await;
    farm.keep(
        "people",
        &[("label", "M1"), ("name", "Nora Quillfeather"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-01")],
    )
    .await;
    renewal(&farm, "agreement", "Herdshare of Nora Quillfeather", "2025-06-10", "2026-06-09").await;
    renewal(&farm, "permit", "Ours; and Tobe's, too", "2025-06-10", "2026-06-09").await;
    farm.keep("chill", &[("lot", "6001A-6"), ("at", "2026-05-13T08:00"), ("temperature", "38"), ("thermometer", "Tobe's own")]).await;
    let sent = farm.visit(Role::Owner, "/calendar.ics").await;
    assert_eq!((sent.status, sent.kind.as_str()), (200, "text/calendar; charset=utf-8"));
    let lines = content_lines(&sent.text);
    assert_eq!(lines[..4], ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tallypail//What is due//EN", "CALSCALE:GREGORIAN"]);
    assert_eq!(lines.last().unwrap(), "END:VCALENDAR");
    let whole = lines.join("\n");
    for never in ["Nora", "Quill", "Tobe", "Mina", "herdshare of", "555-"] {
        assert!(!whole.to_lowercase().contains(&never.to_lowercase()), "{never} in {whole}");
    }
    let events: Vec<&str> = whole.split("BEGIN:VEVENT\n").skip(1).map(|event| event.split("END:VEVENT").next().unwrap()).collect();
    assert_eq!(events.len(), list(&facts(&farm).await).len());
    for event in &events {
        let own = event.split("BEGIN:VALARM").next().unwrap();
        for once in ["UID:", "DTSTAMP:20260514T160000Z", "DTSTART;VALUE=DATE:", "SUMMARY:", "DESCRIPTION:"] {
            assert_eq!(own.lines().filter(|line| line.starts_with(once)).count(), 1, "{once} in {event}");
        }
        assert!(!own.contains("DTEND"), "the end of an all-day event of one day may be left out, and may not be its first day");
        assert!(own.contains("Source: ") && own.contains("Follow your local raw-milk law."), "{event}");
    }
    let alarms: Vec<&&str> = events.iter().filter(|event| event.contains("BEGIN:VALARM")).collect();
    assert_eq!(alarms.len(), 2, "a permit and an agreement");
    assert!(alarms.iter().all(|event| event.contains("ACTION:DISPLAY") && event.contains("TRIGGER:-P7D")), "{alarms:?}");
    // The same marks an hour later, and none of them twice.
    let marks = |text: &str| content_lines(text).into_iter().filter(|line| line.starts_with("UID:")).collect::<Vec<_>>();
    farm.clock("2026-05-14T13:00");
    let again = farm.visit(Role::Owner, "/calendar.ics").await;
    assert_eq!(marks(&sent.text), marks(&again.text));
    assert_eq!(marks(&sent.text).iter().collect::<BTreeSet<_>>().len(), marks(&sent.text).len());
    again.says("DTSTAMP:20260514T170000Z");
    assert!(!ics::print(&[], "Tansyditch Farm", farm.now).is_empty());
}
