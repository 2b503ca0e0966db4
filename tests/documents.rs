//! The lab's own paper: kept by its bytes, given back as a file, carried in the farm folder, and missed when a byte changes.
//!
//! Sources: ISO 32000-1 7.5.2 (a PDF begins with %PDF-); RFC 7578 (multipart/form-data); RFC 6266 (a file's name in a
//! header); FIPS 180-4 for SHA-256, with its own example of three letters.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::{Farm, Page, kind_of},
    lab_page::bottled,
};
use axum::{
    body::Body,
    http::{Request, header},
};
use sqlx::{ConnectOptions, Connection, sqlite::SqliteConnectOptions};
use tallypail::{
    pages::{self, App},
    paper::folder::{self, Files},
    store::{check, records},
    trade::book::sha256,
    web::{
        clock::Clock,
        secret,
        visitor::Role::{self, Helper, Owner},
    },
};
use tower::ServiceExt;

/// The smallest thing that begins as a PDF does.
const PDF: &[u8] = b"%PDF-1.4\nferrier valley\n%%EOF\n";

fn form(seal: &str, entry: &str, name: &str, bytes: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    for (field, value) in [("seal", seal), ("entry", entry)] {
        body.extend(format!("--tansy\r\nContent-Disposition: form-data; name=\"{field}\"\r\n\r\n{value}\r\n").bytes());
    }
    let head =
        format!("--tansy\r\nContent-Disposition: form-data; name=\"paper\"; filename=\"{name}\"\r\nContent-Type: application/pdf\r\n\r\n");
    body.extend(head.bytes());
    body.extend(bytes);
    body.extend(b"\r\n--tansy--\r\n");
    body
}

fn request(farm: &Farm, role: Role, path: &str, body: Vec<u8>) -> Request<Body> {
    Request::post(path)
        .header(header::COOKIE, farm.cookie(role))
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=tansy")
        .header(header::CONTENT_LENGTH, body.len())
        .body(Body::from(body))
        .unwrap()
}

/// Sends a paper for a sample as a browser does.
pub async fn send(farm: &Farm, role: Role, sample: i64, name: &str, bytes: &[u8]) -> Page {
    let body = form(&farm.seal(role), &secret::entry(), name, bytes);
    farm.answer(request(farm, role, &format!("/lab/samples/{sample}/paper"), body)).await
}

#[tokio::test]
async fn a_paper_is_kept_and_given_back_as_it_came() {
    assert_eq!(sha256(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    let farm = bottled("plate count").await;
    let sent = send(&farm, Owner, 1, "papers\\FV 26\u{2044}05.PDF", PDF).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/lab/samples/1"), "{}", sent.text);
    let (documents, samples) = (kind_of("documents"), kind_of("samples"));
    let paper = &farm.list("documents").await[0];
    assert_eq!(paper.cell(documents, "hash").text(), sha256(PDF));
    assert_eq!(paper.cell(documents, "name").text(), "FV 26\u{2044}05.pdf");
    let sample = &farm.list("samples").await[0];
    assert_eq!((sample.cell(samples, "document").whole(), sample.version), (Some(1), 2));
    farm.visit(Owner, "/records/samples/1").await.says("the lab&#39;s paper was kept");
    farm.visit(Owner, "/lab/samples/1").await.says("/documents/1");
    farm.visit(Helper, "/lab/samples/1").await.never_says("/documents/1");

    let app = App::new(farm.ledger.clone(), Clock::Stopped(farm.now));
    let asked = Request::get("/documents/1").header(header::COOKIE, farm.cookie(Owner)).body(Body::empty()).unwrap();
    let answer = pages::open(app).0.oneshot(asked).await.unwrap();
    let said = |name: &str| answer.headers().get_all(name).iter().map(|own| own.to_str().unwrap().to_owned()).collect::<Vec<_>>();
    assert_eq!(said("content-type"), ["application/pdf"]);
    assert_eq!(said("content-disposition"), ["attachment; filename=\"FV_26_05.pdf\""]);
    assert_eq!(said("content-security-policy"), ["sandbox"]);
    assert_eq!(said("x-content-type-options"), ["nosniff"]);
    assert_eq!(farm.visit(Owner, "/documents/1").await.bytes, PDF);
    farm.visit(Helper, "/documents/1").await.came_with(403);
    farm.visit(Owner, "/documents/2").await.came_with(404);
}

#[tokio::test]
async fn what_is_no_paper_is_refused_with_a_sentence() {
    let farm = bottled("plate count").await;
    send(&farm, Owner, 1, "paper.pdf", b"<html>").await.came_with(422).says("This file is not a PDF");
    send(&farm, Owner, 1, "", b"").await.came_with(422).says("Choose the lab&#39;s paper first");
    let six = [PDF, &vec![b'x'; 6 * 1024 * 1024]].concat();
    send(&farm, Owner, 1, "paper.pdf", &six).await.came_with(422).says("larger than 5 MB");
    send(&farm, Helper, 1, "paper.pdf", PDF).await.came_with(403).says("For the owner only");
    send(&farm, Owner, 99, "paper.pdf", PDF).await.came_with(404);
    let unsealed = form("guessed", &secret::entry(), "paper.pdf", PDF);
    farm.answer(request(&farm, Owner, "/lab/samples/1/paper", unsealed)).await.came_with(403).says("Sign in again");
    assert!(farm.list("documents").await.is_empty());
    let five = [PDF, &vec![b'x'; 4 * 1024 * 1024]].concat();
    send(&farm, Owner, 1, "paper.pdf", &five).await.came_with(303);
    // No other door reads so much.
    let long = "x".repeat(600 * 1024);
    farm.submit(Owner, "/lab/samples", &[("note", &long)]).await.came_with(422).says("far too long");
}

#[tokio::test]
async fn a_paper_sent_twice_is_kept_once() {
    let farm = bottled("plate count").await;
    let body = form(&farm.seal(Owner), &secret::entry(), "paper.pdf", PDF);
    for _ in 0..2 {
        farm.answer(request(&farm, Owner, "/lab/samples/1/paper", body.clone())).await.came_with(303);
    }
    assert_eq!((farm.list("documents").await.len(), farm.list("samples").await[0].version), (1, 2));
}

async fn out(farm: &Farm) -> Files {
    folder::write(&records::book(&mut farm.ledger.read().await.unwrap()).await.unwrap())
}

#[tokio::test]
async fn a_paper_goes_out_and_in_and_out_the_same() {
    let farm = bottled("plate count").await;
    send(&farm, Owner, 1, "paper.pdf", PDF).await.came_with(303);
    let files = out(&farm).await;
    let file = format!("documents/{}.pdf", sha256(PDF));
    assert_eq!(files[&file], PDF);
    let mut into = Farm::empty().await;
    into.now = farm.now;
    into.take_in(&files).await.unwrap();
    assert!(out(&into).await == files);
    assert_eq!(check::wrongs(&mut into.ledger.read().await.unwrap()).await.unwrap(), Vec::<String>::new());

    // Through the commands, as a person does it.
    let (folder, ledger) = (farm.folder.path().join("out"), farm.folder.path().join("again.ledger"));
    let run = |ledger: &std::path::Path, task: &str| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_tallypail"));
        command.env_remove("TALLYPAIL_LEDGER").arg("--ledger").arg(ledger).arg(task).arg(&folder).output().unwrap().status.success()
    };
    assert!(run(farm.file(), "export") && run(&ledger, "import"));
    assert_eq!(std::fs::read(folder.join(&file)).unwrap(), PDF);
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(run(&ledger, "export"));
    assert_eq!(std::fs::read(folder.join(&file)).unwrap(), PDF);
}

#[tokio::test]
async fn a_folder_without_its_paper_or_with_another_is_refused() {
    let farm = bottled("plate count").await;
    send(&farm, Owner, 1, "paper.pdf", PDF).await.came_with(303);
    let files = out(&farm).await;
    let file = format!("documents/{}.pdf", sha256(PDF));
    let refused = async |change: &dyn Fn(&mut Files)| {
        let mut changed = files.clone();
        change(&mut changed);
        let mut into = Farm::empty().await;
        into.now = farm.now;
        into.take_in(&changed).await.unwrap_err().iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    let missing = refused(&|files| {
        files.remove(&file);
    })
    .await;
    assert_eq!(missing, [format!("documents.csv, line 2, hash: The file {file} is missing from the folder.")]);
    let changed = refused(&|files| {
        files.insert(file.clone(), b"%PDF-1.4\nferrier valleY\n%%EOF\n".to_vec());
        files.insert("documents/stray.pdf".to_owned(), PDF.to_vec());
        files.insert(format!("documents/{}.pdf", sha256(b"%PDF-other")), b"%PDF-other".to_vec());
    })
    .await;
    assert_eq!(changed.len(), 3, "{changed:#?}");
    assert!(changed.iter().any(|says| says.starts_with(&format!("{file}: These bytes are not the paper"))), "{changed:#?}");
    assert!(changed.iter().any(|says| says.starts_with("documents/stray.pdf: These bytes are not")), "{changed:#?}");
    assert!(changed.iter().any(|says| says.contains("No line of documents.csv names this paper")), "{changed:#?}");
}

/// One byte changed behind the ledger's back.
#[tokio::test]
async fn a_changed_byte_of_a_paper_shows() {
    let farm = bottled("plate count").await;
    send(&farm, Owner, 1, "paper.pdf", PDF).await.came_with(303);
    let wrongs = async || check::wrongs(&mut farm.ledger.read().await.unwrap()).await.unwrap();
    assert_eq!(wrongs().await, Vec::<String>::new());
    let mut db = SqliteConnectOptions::new().filename(farm.file()).connect().await.unwrap();
    sqlx::query("UPDATE contents SET bytes = CAST(replace(CAST(bytes AS TEXT), 'valley', 'valleY') AS BLOB)")
        .execute(&mut db)
        .await
        .unwrap();
    assert_eq!(wrongs().await, ["documents 1 (1): The paper “paper.pdf” is not what was kept: its bytes make another SHA-256."]);
    sqlx::query("DELETE FROM contents").execute(&mut db).await.unwrap();
    assert_eq!(wrongs().await, ["documents 1 (1): The paper “paper.pdf” is named, and its bytes are not there."]);
    db.close().await.unwrap();
}
