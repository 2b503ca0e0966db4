//! E-mail of a call-back by the real program, which is killed in the middle of it: nobody gets two, nobody is forgotten, and the password
//! of the mail server is told to nobody.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::{
    farm::Farm,
    mail::{
        PAGE, TAKEN, all_asked, bad_day,
        postbox::{At, Does, Postbox},
        settled, whole, words,
    },
    program::{Program, tallypail},
};
use std::fs;
use tallypail::{
    post::Post,
    web::{clock::Clock, smtp::Server, visitor::Role},
};

/// The program, serving a farm's ledger with a mail server.
fn serving(farm: &Farm, url: &str, log: &str) -> Program {
    let mut command = tallypail(farm.folder.path());
    command.arg("--ledger").arg(farm.file()).args(["serve", "--listen", "127.0.0.1:0"]);
    command.env("TALLYPAIL_SMTP", url).env("TALLYPAIL_MAIL_FROM", "farm@example.org").env("TALLYPAIL_LOG", log);
    Program::begin(command)
}

/// Killed at every place of the talk, and started again: nobody got two, and everybody is either delivered or shown as not known.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn killed_in_the_middle_it_sends_nobody_twice_and_forgets_nobody() {
    for place in [At::Greeting, At::Mail, At::Rcpt, At::Data, At::Content] {
        let postbox = Postbox::open().await;
        let mut farm = bad_day("call-back").await;
        farm.post = Some(postbox.post());
        // The program goes by the machine's clock.
        farm.now = Clock::Real.now();
        all_asked(&farm).await;
        // The second letter is the one: what went before it stays so, and what comes after it still goes.
        let whom = if matches!(place, At::Greeting | At::Mail) { "" } else { "m02@" };
        if whom.is_empty() {
            postbox.has(1, place, whom, Does::Waits);
        }
        postbox.has(1, place, whom, Does::Hangs);
        let program = serving(&farm, &postbox.url(), "warn");
        if whom.is_empty() {
            postbox.hung().await;
            postbox.goes_on();
        }
        postbox.hung().await;
        assert_eq!(words(&farm).await, [TAKEN, "being sent", "waiting"], "{place:?}");
        program.kill();
        assert_eq!(words(&farm).await, [TAKEN, "being sent", "waiting"], "{place:?}");
        let _again = serving(&farm, &postbox.url(), "warn");
        settled(&farm, farm.now).await;
        assert_eq!(words(&farm).await, [TAKEN, "not known", TAKEN], "{place:?}");
        let counts = postbox.counts();
        assert_eq!(counts.get("m02@example.org").copied().unwrap_or(0), usize::from(place == At::Content), "{place:?}");
        assert!(counts["m01@example.org"] == 1 && counts["m03@example.org"] == 1, "{place:?}: {counts:?}");
        farm.visit(Role::Owner, PAGE).await.says("Not known: it may have gone or not").says("The program stopped while it was being sent");
        whole(&farm).await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_password_is_in_no_log_no_ledger_no_help_and_on_no_page() {
    let postbox = Postbox::open().await;
    let mut farm = bad_day("call-back").await;
    let url = postbox.url().replace("smtp://", "smtp://farm:opensesame@");
    farm.post = Some(Post::new(Server::parse(&url).unwrap(), "farm@example.org"));
    farm.now = Clock::Real.now();
    all_asked(&farm).await;
    let program = serving(&farm, &url, "debug");
    settled(&farm, farm.now).await;
    // It signed in with it (RFC 4616: a name and a password, each after a zero byte), once for each letter.
    assert_eq!((words(&farm).await, postbox.signed()), (vec![TAKEN; 3], vec!["PLAIN AGZhcm0Ab3BlbnNlc2FtZQ==".to_owned(); 3]));
    let said = program.said();
    program.kill();
    farm.visit(Role::Owner, PAGE).await.says("127.0.0.1 as farm@example.org").never_says("opensesame");
    assert!(said.contains("Tallypail is at") && !said.contains("opensesame"), "{said}");
    for file in fs::read_dir(farm.folder.path()).unwrap() {
        let bytes = fs::read(file.unwrap().path()).unwrap();
        assert!(!bytes.windows(10).any(|own| own == b"opensesame"));
    }
    let help = tallypail(farm.folder.path()).args(["serve", "--help"]).env("TALLYPAIL_SMTP", &url).output().unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    assert!(help.contains("TALLYPAIL_SMTP") && !help.contains("opensesame"), "{help}");
}
