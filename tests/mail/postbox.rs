//! A mail server for the tests: the part of RFC 5321 that one letter needs, on this machine, doing what a test tells it to. It is
//! written here because a test has to stop it in the middle of any command, which no server that is meant to work lets one do.

use std::{
    collections::BTreeMap,
    sync::{Arc, Mutex},
    time::Duration,
};
use tallypail::{post::Post, web::smtp::Server};
use tokio::{
    io::{AsyncBufReadExt, AsyncWriteExt, BufReader},
    net::{TcpListener, TcpStream},
    sync::Notify,
};

/// Where in the talk the server does something else than take the letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// Before it says a word.
    Greeting,
    /// Told who signs in.
    SignIn,
    /// Told from whom.
    Mail,
    /// Told for whom.
    Rcpt,
    /// Told that the words come.
    Data,
    /// It has all the words, and has not said so.
    Content,
}

/// What it does there.
#[derive(Clone, Copy, Debug)]
pub enum Does {
    /// Says this instead.
    Says(&'static str),
    /// Closes the line.
    Closes,
    /// Says nothing any more.
    Hangs,
    /// Says nothing until the test lets it go on.
    Waits,
}

/// So many times still, at this place, for a letter to whoever's address begins so.
struct Rule(usize, At, &'static str, Does);

/// What the server got, however it answered.
#[derive(Clone, Debug)]
pub struct Got {
    /// The addresses it was told.
    pub to: Vec<String>,
    /// The letter.
    pub text: String,
}

#[derive(Default)]
struct Inside {
    rules: Mutex<Vec<Rule>>,
    got: Mutex<Vec<Got>>,
    talks: Mutex<usize>,
    signed: Mutex<Vec<String>>,
    hung: Notify,
    on: Notify,
}

/// The server.
pub struct Postbox {
    port: u16,
    inside: Arc<Inside>,
}

impl Postbox {
    /// A server that takes everything.
    pub async fn open() -> Postbox {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let (port, inside) = (listener.local_addr().unwrap().port(), Arc::<Inside>::default());
        let own = inside.clone();
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                *own.talks.lock().unwrap() += 1;
                tokio::spawn(talk(stream, own.clone()));
            }
        });
        Postbox { port, inside }
    }

    /// Has it do something else, so many times.
    pub fn has(&self, times: usize, at: At, to: &'static str, does: Does) {
        self.inside.rules.lock().unwrap().push(Rule(times, at, to, does));
    }

    /// Where it is, as the program is told.
    pub fn url(&self) -> String {
        format!("smtp://127.0.0.1:{}?tls=none", self.port)
    }

    /// The farm's post by this server.
    pub fn post(&self) -> Post {
        self.patient_for(Duration::from_secs(60))
    }

    /// The farm's post by this server, with other patience.
    pub fn patient_for(&self, whole: Duration) -> Post {
        let mut server = Server::parse(&self.url()).unwrap();
        server.whole = whole;
        Post::new(server, "farm@example.org")
    }

    /// Waits until it says nothing any more.
    pub async fn hung(&self) {
        tokio::time::timeout(Duration::from_secs(60), self.inside.hung.notified()).await.expect("nobody came to the server");
    }

    /// Lets it go on.
    pub fn goes_on(&self) {
        self.inside.on.notify_one();
    }

    /// Every letter it got.
    pub fn got(&self) -> Vec<Got> {
        self.inside.got.lock().unwrap().clone()
    }

    /// How many letters each address got.
    pub fn counts(&self) -> BTreeMap<String, usize> {
        let mut counts = BTreeMap::new();
        for to in self.got().into_iter().flat_map(|own| own.to) {
            *counts.entry(to).or_default() += 1;
        }
        counts
    }

    /// How everybody signed in who did.
    pub fn signed(&self) -> Vec<String> {
        self.inside.signed.lock().unwrap().clone()
    }

    /// How often somebody came to it.
    pub fn talks(&self) -> usize {
        *self.inside.talks.lock().unwrap()
    }
}

impl Inside {
    fn rule(&self, at: At, to: &[String]) -> Option<Does> {
        let mut rules = self.rules.lock().unwrap();
        let fits = |own: &Rule| own.0 > 0 && own.1 == at && (own.2.is_empty() || to.iter().any(|to| to.starts_with(own.2)));
        let own = rules.iter_mut().find(|own| fits(own))?;
        own.0 -= 1;
        Some(own.3)
    }

    /// What to say here; nothing to close the line.
    async fn answer(&self, at: At, to: &[String], otherwise: &'static str) -> Option<&'static str> {
        match self.rule(at, to) {
            None => Some(otherwise),
            Some(Does::Says(says)) => Some(says),
            Some(Does::Closes) => None,
            Some(Does::Hangs) => {
                self.hung.notify_one();
                std::future::pending().await
            }
            Some(Does::Waits) => {
                self.hung.notify_one();
                self.on.notified().await;
                Some(otherwise)
            }
        }
    }
}

async fn talk(stream: TcpStream, inside: Arc<Inside>) -> Option<()> {
    let mut line = BufReader::new(stream);
    let mut to: Vec<String> = Vec::new();
    say(&mut line, inside.answer(At::Greeting, &to, "220 postbox.example.org").await?).await?;
    loop {
        let heard = hear(&mut line).await?;
        let (verb, rest) = heard.split_once([' ', ':']).unwrap_or((&heard, ""));
        let says = match verb.to_ascii_uppercase().as_str() {
            "EHLO" | "HELO" => "250-postbox.example.org\r\n250-AUTH PLAIN\r\n250 8BITMIME",
            "AUTH" => {
                inside.signed.lock().unwrap().push(rest.to_owned());
                inside.answer(At::SignIn, &to, "235 2.7.0 Ok").await?
            }
            "MAIL" => inside.answer(At::Mail, &to, "250 2.1.0 Ok").await?,
            "RCPT" => {
                to.push(rest.split_once('<')?.1.split_once('>')?.0.to_owned());
                let says = inside.answer(At::Rcpt, &to, "250 2.1.5 Ok").await?;
                if !says.starts_with('2') {
                    to.pop();
                }
                says
            }
            "DATA" if to.is_empty() => "503 5.5.1 For whom?",
            "DATA" => {
                let says = inside.answer(At::Data, &to, "354 End with a dot").await?;
                say(&mut line, says).await?;
                if !says.starts_with('3') {
                    continue;
                }
                let text = words(&mut line).await?;
                // What is refused here was heard and is not kept; whatever else happens, it may have been.
                let says = match inside.rule(At::Content, &to) {
                    Some(Does::Says(says)) => says,
                    does => {
                        inside.got.lock().unwrap().push(Got { to: std::mem::take(&mut to), text });
                        match does {
                            Some(Does::Closes) => return None,
                            Some(Does::Hangs) => {
                                inside.hung.notify_one();
                                std::future::pending().await
                            }
                            Some(Does::Waits) => {
                                inside.hung.notify_one();
                                inside.on.notified().await;
                                "250 2.0.0 Ok: queued"
                            }
                            _ => "250 2.0.0 Ok: queued",
                        }
                    }
                };
                to.clear();
                says
            }
            "QUIT" => {
                say(&mut line, "221 2.0.0 Bye").await?;
                return None;
            }
            _ => "502 5.5.2 What?",
        };
        say(&mut line, says).await?;
    }
}

async fn say(line: &mut BufReader<TcpStream>, says: &str) -> Option<()> {
    line.get_mut().write_all(format!("{says}\r\n").as_bytes()).await.ok()
}

async fn hear(line: &mut BufReader<TcpStream>) -> Option<String> {
    let mut heard = String::new();
    let bytes = line.read_line(&mut heard).await.ok()?;
    (bytes > 0).then(|| heard.trim_end().to_owned())
}

/// The letter up to its dot, with the dots that were doubled made single again (RFC 5321, 4.5.2).
async fn words(line: &mut BufReader<TcpStream>) -> Option<String> {
    let mut text = String::new();
    loop {
        let own = hear(line).await?;
        match own.strip_prefix('.') {
            Some("") => return Some(text),
            plain => text = text + plain.unwrap_or(&own) + "\r\n",
        }
    }
}
