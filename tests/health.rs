//! What watches over the program: an address that says whether it works, and a log that another program can read.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::Farm,
    program::{Program, ask},
};
use std::fs;
use tallypail::web::visitor::Role;

#[tokio::test]
async fn health_says_ok_and_nothing_of_the_farm() {
    let farm = Farm::new().await;
    let page = farm.visit(Role::Stranger, "/health").await;
    assert_eq!((page.status, page.text.as_str()), (200, "ok\n"));
    // Nobody has set it up yet, and it works all the same.
    let page = Farm::empty().await.visit(Role::Stranger, "/health").await;
    assert_eq!((page.status, page.text.as_str()), (200, "ok\n"));
}

#[tokio::test]
async fn health_says_so_when_the_ledger_is_gone() {
    let farm = Farm::new().await;
    let away = farm.folder.path().join("away.ledger");
    fs::rename(farm.file(), &away).unwrap();
    let page = farm.visit(Role::Stranger, "/health").await;
    assert_eq!(page.status, 503, "{}", page.text);
    fs::rename(&away, farm.file()).unwrap();
    farm.visit(Role::Stranger, "/health").await.came_with(200);
}

/// Source: RFC 8259 by way of serde_json: every line is an object by itself.
#[tokio::test]
async fn the_log_is_one_object_a_line_where_that_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let program = Program::serve(&folder.path().join("farm.ledger"), &["--log", "debug", "--log-as", "json"]);
    assert_eq!(ask(&program.address, "GET", "/health", "", &[]).unwrap().status, 200);
    let said = program.said();
    let lines: Vec<serde_json::Value> =
        said.lines().filter(|line| line.starts_with('{')).map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!(lines.iter().any(|line| line["level"] == "DEBUG" && line["timestamp"].is_string()), "{said}");
    let others: Vec<&str> = said.lines().filter(|line| !line.starts_with('{')).collect();
    assert!(others.iter().all(|line| line.starts_with("Tallypail is at")), "{others:?}");
}
