//! The real program, started as a farmer starts it, with a browser of a few lines that can be cut off in the middle.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

use crate::farm::{OWNER, PASSWORD, as_form};
use std::{
    io::{self, BufRead, BufReader, Read, Write},
    net::TcpStream,
    path::Path,
    process::{Child, Command, Output, Stdio},
    sync::{Arc, Mutex, mpsc},
    thread,
    time::Duration,
};

/// The program with nothing of this machine's settings, standing in a folder.
pub fn tallypail(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tallypail"));
    command.env_clear().env("HOME", folder).current_dir(folder).stdin(Stdio::null());
    command
}

/// Runs one command to its end.
pub fn run(folder: &Path, words: &[&str]) -> Output {
    tallypail(folder).args(words).output().unwrap()
}

/// What a command said on standard error, when it went as expected.
#[track_caller]
pub fn said(output: &Output, well: bool) -> String {
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.success(), well, "{said}");
    said
}

/// What came back.
#[derive(Clone, Debug, Default)]
pub struct Answer {
    /// The status code.
    pub status: u16,
    /// The first cookie it sets, as a browser sends it back.
    pub cookie: String,
    /// The body.
    pub text: String,
}

impl Answer {
    /// The value of a hidden field.
    pub fn hidden(&self, name: &str) -> String {
        let field = format!("<input type=\"hidden\" name=\"{name}\" value=\"");
        self.text.split_once(&field).and_then(|(_, rest)| rest.split_once('"')).map_or("", |(value, _)| value).to_owned()
    }
}

/// A program that serves, until it is killed.
pub struct Program {
    child: Child,
    /// Where it listens; empty when it ended before it did.
    pub address: String,
    said: Arc<Mutex<String>>,
}

impl Program {
    /// Serves a ledger on a port of its own, and waits until it listens.
    pub fn serve(ledger: &Path, more: &[&str]) -> Program {
        let folder = ledger.parent().unwrap();
        let mut command = tallypail(folder);
        command.arg("--ledger").arg(ledger).args(["serve", "--listen", "127.0.0.1:0"]).args(more);
        Program::begin(command)
    }

    /// Starts a command that serves, and waits until it listens or has ended.
    pub fn begin(mut command: Command) -> Program {
        let mut child = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
        let (lines, said) = (BufReader::new(child.stderr.take().unwrap()), Arc::<Mutex<String>>::default());
        let (tell, told) = mpsc::channel();
        let own = said.clone();
        thread::spawn(move || {
            for line in lines.lines().map_while(Result::ok) {
                if let Some((_, rest)) = line.split_once("Tallypail is at http://") {
                    let _ = tell.send(rest.split(' ').next().unwrap().to_owned());
                }
                own.lock().unwrap().push_str(&format!("{line}\n"));
            }
        });
        // The sender is dropped when the program ends.
        let address = told.recv_timeout(Duration::from_secs(60)).unwrap_or_default();
        Program { child, address, said }
    }

    /// What it said so far.
    pub fn said(&self) -> String {
        self.said.lock().unwrap().clone()
    }

    /// Its number, for whoever sets it limits.
    pub fn number(&self) -> String {
        self.child.id().to_string()
    }

    /// Ends it as a power switch does: SIGKILL.
    pub fn kill(mut self) {
        self.end();
    }

    fn end(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }

    /// Signs the owner in: the cookie and the seal of her forms.
    pub fn sign_in(&self) -> (String, String) {
        let page = ask(&self.address, "GET", "/signin", "", &[]).unwrap();
        let door = page.hidden("door");
        let fields = [("door", door.as_str()), ("back", "/"), ("name", OWNER), ("password", PASSWORD)];
        let came = ask(&self.address, "POST", "/signin", &page.cookie, &fields).unwrap();
        assert_eq!(came.status, 303, "{}", came.text);
        let stop = ask(&self.address, "GET", "/stop", &came.cookie, &[]).unwrap();
        (came.cookie, stop.hidden("seal"))
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        self.end();
    }
}

/// Sends one request over a line of its own, as HTTP/1.0, so that the end of the answer is the end of the line.
///
/// # Errors
/// When the line broke off before the answer was whole.
pub fn ask(address: &str, method: &str, path: &str, cookie: &str, fields: &[(&str, &str)]) -> io::Result<Answer> {
    let mut line = TcpStream::connect(address)?;
    line.set_read_timeout(Some(Duration::from_secs(60)))?;
    let body = as_form(fields);
    write!(
        line,
        "{method} {path} HTTP/1.0\r\nHost: {address}\r\nCookie: {cookie}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )?;
    let mut bytes = Vec::new();
    line.read_to_end(&mut bytes)?;
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, text) = text.split_once("\r\n\r\n").ok_or(io::ErrorKind::UnexpectedEof)?;
    let header = |name: &str| {
        let found = head.lines().find_map(|line| line.split_once(": ").filter(|(own, _)| own.eq_ignore_ascii_case(name)));
        found.map_or("", |(_, value)| value)
    };
    let status = head.split(' ').nth(1).and_then(|own| own.parse().ok()).ok_or(io::ErrorKind::InvalidData)?;
    // An answer cut off in the middle is none.
    if header("content-length").parse::<usize>().is_ok_and(|length| length != text.len()) {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    let cookie = header("set-cookie").split(';').next().unwrap_or_default().to_owned();
    Ok(Answer { status, cookie, text: text.to_owned() })
}
