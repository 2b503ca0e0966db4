//! An invented farm to test on: a ledger in a throwaway folder, an owner, a helper, and a clock that stands still until a
//! test moves it. A test visits pages and sends forms through the same front door as a browser, and has no other way in.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]
#![allow(dead_code, reason = "each subject's tests use their own part of the farm")]

use crate::book_sums::sides;
use axum::{
    body::Body,
    http::{Method, Request, header},
};
use http_body_util::BodyExt;
use sqlx::{ConnectOptions, sqlite::SqliteConnectOptions};
use std::{collections::BTreeSet, fs, path::Path, sync::OnceLock, thread};
use tallypail::{
    copies::Copies,
    pages::{self, App},
    paper::{folder, sample},
    post::Post,
    store::{Ledger, books, farm, hands, records},
    trade::{
        booksheet,
        kinds::{Kind, kind},
        measure::Scale,
        money::Money,
        records::{Cell, Record, Ways, read},
        rules::places,
        transfers::{Account, balance},
        when::{Moment, Zone, parse_day},
    },
    web::{clock::Clock, rooms::Door, secret, visitor::Role},
};
use tempfile::TempDir;
use tokio::sync::OnceCell;
use tower::ServiceExt;

/// The owner, who sees everything.
pub const OWNER: &str = "Mina";
/// The helper, who sees no phone number, money or complaint.
pub const HELPER: &str = "Tobe";
/// The password of both.
pub const PASSWORD: &str = "tansy and clover";
/// The afternoon on which the sample farm's records end.
pub const SAMPLE_AFTERNOON: &str = "2026-11-21T15:05:00-05:00";

/// The farm under test.
pub struct Farm {
    /// The open ledger.
    pub ledger: Ledger,
    /// What the farm's clock shows.
    pub now: Moment,
    /// Holds the ledger's file until the test ends.
    pub folder: TempDir,
    /// How its letters leave; nothing unless a test says so.
    pub post: Option<Post>,
    /// Where its copies go by themselves; nowhere unless a test says so.
    pub copies: Option<Copies>,
    sessions: [Session; 2],
}

#[derive(Clone, Debug, Default)]
struct Session {
    token: String,
    seal: String,
}

/// What came back.
#[derive(Clone, Debug)]
pub struct Page {
    /// The status code.
    pub status: u16,
    /// The body, as text.
    pub text: String,
    /// The body, as bytes.
    pub bytes: Vec<u8>,
    /// Where it sends the browser on to; empty for nowhere.
    pub location: String,
    /// Every cookie it sets, with its attributes.
    pub cookies: Vec<String>,
    /// The kind of thing it is.
    pub kind: String,
}

impl Page {
    /// The value of a hidden field of a form on the page; empty when there is none.
    pub fn hidden(&self, name: &str) -> String {
        let field = format!("<input type=\"hidden\" name=\"{name}\" value=\"");
        self.text.split_once(&field).and_then(|(_, rest)| rest.split_once('"')).map_or("", |(value, _)| value).to_owned()
    }

    /// The entry mark the page's form carries.
    pub fn entry(&self) -> String {
        self.hidden("entry")
    }

    /// A cookie as a browser would send it back: `name=value`.
    pub fn cookie(&self) -> String {
        let pairs: Vec<&str> = self.cookies.iter().filter_map(|cookie| cookie.split(';').next()).collect();
        pairs.join("; ")
    }

    /// The page, when it says this; fails with the page's own words otherwise.
    #[track_caller]
    pub fn says(&self, words: &str) -> &Page {
        assert!(self.text.contains(words), "status {}, no “{words}” on:\n{}", self.status, self.text);
        self
    }

    /// The page, when it does not say this.
    #[track_caller]
    pub fn never_says(&self, words: &str) -> &Page {
        assert!(!self.text.contains(words), "status {}, “{words}” on:\n{}", self.status, self.text);
        self
    }

    /// The page, when it came with this status.
    #[track_caller]
    pub fn came_with(&self, status: u16) -> &Page {
        assert_eq!(self.status, status, "to “{}”:\n{}", self.location, self.text);
        self
    }
}

/// A moment on the farm's clock: `2026-05-14T06:20`.
pub fn at(typed: &str) -> Moment {
    Zone::parse("America/New_York").unwrap().parse_moment(typed).unwrap()
}

/// The kind with this name.
#[track_caller]
pub fn kind_of(name: &str) -> &'static Kind {
    kind(name).unwrap_or_else(|| panic!("no kind {name}"))
}

/// Hashing is slow on purpose, so every farm shares one hash of the one password.
fn hashed() -> String {
    static HASH: OnceLock<String> = OnceLock::new();
    HASH.get_or_init(|| secret::hash(PASSWORD).unwrap()).clone()
}

/// Every test ends with books that come to nothing, whatever it did to them: the trial balance of its ledger has one sum on
/// both sides, account by account and household by household.
impl Drop for Farm {
    fn drop(&mut self) {
        if thread::panicking() {
            return;
        }
        let file = self.file().to_owned();
        let square = thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            runtime.block_on(trial_balance_squares(&file))
        });
        square.join().unwrap();
    }
}

async fn trial_balance_squares(file: &Path) {
    let options = SqliteConnectOptions::new().filename(file).read_only(true);
    let mut db = options.connect().await.unwrap();
    let all = books::all(&mut db).await.unwrap();
    let end_of_time = parse_day("2099-12-31").unwrap();
    let (debit, credit) = sides(&booksheet::trial_balance(&all, end_of_time, ""));
    assert_eq!(debit, credit, "the trial balance after the test");
    let households: BTreeSet<Option<i64>> = all.iter().map(|own| own.person).collect();
    for person in households {
        let own = all.iter().filter(|own| own.person == person);
        let sum: Money = Account::WORDS.iter().map(|(account, _)| balance(own.clone(), *account, None)).sum();
        assert_eq!(sum, Money::ZERO, "what stands for household {person:?} after the test");
    }
}

impl Farm {
    /// Promises a member so many half-gallons a week, on a share bought and boarded by signed papers.
    pub async fn promise(&self, label: &str, jars: &str, way: &str) {
        let share = [("person", label), ("part", "1"), ("half_gallons", jars), ("channel", way), ("since", "2026-01-02")];
        self.keep("shares", &share).await;
        for sort in ["bill of sale", "boarding agreement"] {
            let paper = [("person", label), ("sort", sort), ("given", "2026-01-02"), ("signed", "2026-01-02")];
            self.keep("agreements", &paper).await;
        }
    }

    /// A ledger nobody has set up yet.
    pub async fn empty() -> Farm {
        let folder = tempfile::tempdir().unwrap();
        let ledger = Ledger::open(&folder.path().join("farm.ledger")).await.unwrap();
        Farm { ledger, now: at("2026-05-14T12:00"), folder, post: None, copies: None, sessions: Default::default() }
    }

    /// Tansyditch Farm at noon on Thursday 14 May 2026: three cows, a can, a bucket, careful starting rules, and no milk yet.
    pub async fn new() -> Farm {
        let mut farm = Farm::empty().await;
        farm.keep(
            "farm",
            &[
                ("name", "Tansyditch Farm"),
                ("since", "2026-01-01"),
                ("zone", "America/New_York"),
                ("scale", "°F"),
                ("phone", "555-0100"),
                ("vet", "Dr. Ostler, 555-0110"),
                ("health", "County health department, 555-0120"),
            ],
        )
        .await;
        farm.follow("default-conservative").await;
        for (name, tag) in [("Damson", "T-01"), ("Kettle", "T-02"), ("Wren", "T-03")] {
            farm.keep("cows", &[("name", name), ("tag", tag), ("quarters", "4"), ("since", "2026-01-01")]).await;
        }
        farm.keep("vessels", &[("name", "Can 1"), ("sort", "can"), ("capacity", "43 lb"), ("since", "2026-01-01")]).await;
        farm.keep("vessels", &[("name", "Red Bucket"), ("sort", "bucket"), ("tare", "3.2 lb"), ("since", "2026-01-01")]).await;
        farm.let_in().await;
        farm
    }

    /// The sample farm, on the afternoon its records end. It is taken in once and copied for every test.
    pub async fn sample() -> Farm {
        static TAKEN_IN: OnceCell<Vec<u8>> = OnceCell::const_new();
        let now = at(SAMPLE_AFTERNOON);
        let once = async || {
            let mut farm = Farm::empty().await;
            farm.now = now;
            farm.take_in(&sample::files()).await.unwrap();
            farm.ledger.close().await;
            fs::read(farm.file()).unwrap()
        };
        let bytes = TAKEN_IN.get_or_init(once).await;
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("sample.ledger");
        fs::write(&file, bytes).unwrap();
        let ledger = Ledger::open(&file).await.unwrap();
        let mut farm = Farm { ledger, now, folder, post: None, copies: None, sessions: Default::default() };
        farm.let_in().await;
        farm
    }

    /// Takes a farm folder into an empty ledger, all or nothing, as the `import` command does.
    pub async fn take_in(&self, files: &folder::Files) -> Result<usize, Vec<folder::FolderFault>> {
        let book = folder::read(files, self.now, "import")?;
        let mut tx = self.ledger.begin().await.unwrap();
        let act = records::act(&mut tx, self.now, "import", "farm folder").await.unwrap();
        records::import(&mut tx, &book, &act).await.unwrap();
        tx.commit().await.unwrap();
        Ok(book.size())
    }

    /// Follows the rule set of a place from the farm's first day.
    pub async fn follow(&self, place: &str) {
        let set = places().unwrap().into_iter().find(|set| set.id == place).unwrap();
        let days = set.colostrum.and_then(|rule| rule.days_after).map(|days| days.to_string()).unwrap_or_default();
        self.keep(
            "rules",
            &[
                ("place", &set.id),
                ("since", "2026-01-01"),
                ("title", &set.title),
                ("citation", &set.citation),
                ("text_date", &set.text_date),
                ("sure", "our own choice"),
                ("channels", &set.channels.to_string()),
                ("steps", &set.steps.to_string()),
                ("fresh_days", &days),
                ("best_by_days", "10"),
                ("best_by_from", "oldest milking"),
            ],
        )
        .await;
    }

    /// Follows a rule for the shop, beside the others, that has records kept so many years.
    pub async fn follow_for(&self, years: i64) {
        let years = years.to_string();
        let own =
            [("place", "own"), ("since", "2026-01-01"), ("title", "Our own keeping time"), ("sure", "our own choice"), ("beside", "yes")];
        let more = [("channels", "shop [chosen]"), ("keep_years", years.as_str())];
        self.keep("rules", &[own.as_slice(), &more].concat()).await;
    }

    /// Lets the owner and the helper sign in, and opens a session for each that outlasts every test.
    async fn let_in(&mut self) {
        let mut tx = self.ledger.begin().await.unwrap();
        for (place, (name, role)) in [(OWNER, "owner"), (HELPER, "helper")].into_iter().enumerate() {
            let session = Session { token: secret::token(), seal: secret::token() };
            hands::record(&mut tx, &hands::Hand { name: name.to_owned(), role: role.to_owned(), secret: hashed() }, self.now)
                .await
                .unwrap();
            let (remembered, until) = (secret::remembered(&session.token), at("2099-12-31T00:00"));
            hands::open_session(&mut tx, name, &remembered, &session.seal, self.now, until).await.unwrap();
            self.sessions[place] = session;
        }
        tx.commit().await.unwrap();
    }

    /// How the farm types: its clock and its thermometers.
    pub async fn ways(&self) -> Ways {
        let found = farm::current(&mut self.ledger.read().await.unwrap()).await.unwrap();
        found.map_or(Ways { zone: Zone::parse("America/New_York").unwrap(), scale: Scale::Fahrenheit }, |farm| farm.ways)
    }

    /// Keeps a record as the owner, typed as in a form, and gives back its number. Fails when it would be refused.
    pub async fn keep(&self, name: &str, typed: &[(&str, &str)]) -> i64 {
        let kind = kind_of(name);
        let said = |column: &str| typed.iter().find(|(own, _)| *own == column).map_or("", |(_, value)| value).to_owned();
        let cells: Vec<Cell> = read(kind, said, self.ways().await).unwrap();
        let mut tx = self.ledger.begin().await.unwrap();
        let act = records::act(&mut tx, self.now, OWNER, "screen").await.unwrap();
        let kept = records::keep(&mut tx, kind, &secret::entry(), cells, &act).await.unwrap();
        tx.commit().await.unwrap();
        kept.number
    }

    /// Every record of a kind.
    pub async fn list(&self, name: &str) -> Vec<Record> {
        records::list(&mut self.ledger.read().await.unwrap(), kind_of(name)).await.unwrap()
    }

    /// Sets the farm's clock.
    pub fn clock(&mut self, typed: &str) {
        self.now = at(typed);
    }

    /// Lets so many seconds pass.
    pub fn wait(&mut self, seconds: i64) {
        self.now = Moment::seconds(self.now.in_seconds() + seconds);
    }

    /// Where the ledger lies.
    pub fn file(&self) -> &Path {
        self.ledger.file()
    }

    /// Every door there is.
    pub fn doors(&self) -> Vec<Door> {
        pages::rooms().open().1
    }

    fn session(&self, role: Role) -> Session {
        match role {
            Role::Owner => self.sessions[0].clone(),
            Role::Helper => self.sessions[1].clone(),
            // A household comes in with its number and PIN, see tests/own.rs, and an inspector with a pass, see tests/pass.rs.
            Role::Stranger | Role::Member | Role::Inspector => Session::default(),
        }
    }

    /// The seal of somebody's forms.
    pub fn seal(&self, role: Role) -> String {
        self.session(role).seal
    }

    /// What somebody's browser sends to be known.
    pub fn cookie(&self, role: Role) -> String {
        let token = self.session(role).token;
        if token.is_empty() { token } else { format!("{}={token}", pages::SESSION) }
    }

    /// Looks at a page.
    pub async fn visit(&self, role: Role, path: &str) -> Page {
        self.ask(Method::GET, path, &self.cookie(role), None).await
    }

    /// Sends a form, with the seal of whoever sends it and a new entry mark unless the form brings its own.
    pub async fn submit(&self, role: Role, path: &str, fields: &[(&str, &str)]) -> Page {
        let (seal, entry) = (self.seal(role), secret::entry());
        let mut all = fields.to_vec();
        for (name, value) in [("seal", seal.as_str()), ("entry", entry.as_str())] {
            if !fields.iter().any(|(own, _)| *own == name) {
                all.push((name, value));
            }
        }
        self.ask(Method::POST, path, &self.cookie(role), Some(&all)).await
    }

    /// Sends a form with exactly these fields: no seal and no entry mark are added.
    pub async fn submit_bare(&self, role: Role, path: &str, fields: &[(&str, &str)]) -> Page {
        self.ask(Method::POST, path, &self.cookie(role), Some(fields)).await
    }

    /// Sends a request as a browser with these cookies would.
    pub async fn ask(&self, method: Method, path: &str, cookie: &str, fields: Option<&[(&str, &str)]>) -> Page {
        let mut request = Request::builder().method(method).uri(path.replace(' ', "%20"));
        if !cookie.is_empty() {
            request = request.header(header::COOKIE, cookie);
        }
        let body = match fields {
            Some(fields) => {
                request = request.header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
                Body::from(as_form(fields))
            }
            None => Body::empty(),
        };
        self.answer(request.body(body).unwrap()).await
    }

    /// Hands a whole request to the program, as it stands.
    pub async fn answer(&self, request: Request<Body>) -> Page {
        let app = App { post: self.post.clone(), copies: self.copies.clone(), ..App::new(self.ledger.clone(), Clock::Stopped(self.now)) };
        let answer = pages::open(app).0.oneshot(request).await.unwrap();
        let status = answer.status().as_u16();
        let all = |name| answer.headers().get_all(name).iter().map(|value| value.to_str().unwrap().to_owned()).collect::<Vec<_>>();
        let one = |name| all(name).into_iter().next().unwrap_or_default();
        let (location, cookies, kind) = (one(header::LOCATION), all(header::SET_COOKIE), one(header::CONTENT_TYPE));
        let bytes = answer.into_body().collect().await.unwrap().to_bytes().to_vec();
        Page { status, text: String::from_utf8_lossy(&bytes).into_owned(), bytes, location, cookies, kind }
    }
}

/// A form's fields as a browser sends them (WHATWG URL, application/x-www-form-urlencoded).
pub fn as_form(fields: &[(&str, &str)]) -> String {
    fields.iter().map(|(name, value)| format!("{}={}", escaped(name), escaped(value))).collect::<Vec<_>>().join("&")
}

/// Text as it may stand in an address or a form.
pub fn escaped(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'*' => char::from(byte).to_string(),
            b' ' => "+".to_owned(),
            _ => format!("%{byte:02X}"),
        })
        .collect()
}

/// The farm that the other tests stand on is itself what it says.
#[tokio::test]
async fn the_farm_opens_its_doors_to_its_own() {
    let farm = Farm::new().await;
    farm.visit(Role::Owner, "/stop").await.came_with(200).says("Tansyditch Farm").says("Damson").says("Red Bucket").says(OWNER);
    farm.visit(Role::Helper, "/stop").await.came_with(200).says(HELPER);
    assert_eq!(farm.visit(Role::Stranger, "/stop").await.location, "/signin?back=/stop");
    let form = farm.visit(Role::Helper, "/stop").await;
    assert_eq!((form.hidden("seal"), form.entry().len()), (farm.seal(Role::Helper), 36));
    let sent = farm.submit(Role::Helper, "/stop", &[("what", "cow Wren"), ("reason", "a hot quarter & “flakes”")]).await;
    assert_eq!((sent.status, sent.location.as_str()), (303, "/stop"));
    farm.visit(Role::Owner, "/stop").await.says("a hot quarter &#38; “flakes”");
}
