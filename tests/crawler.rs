//! Nobody gets in and nothing breaks: every page that can be reached as anybody, every form on it, and every address, with what
//! somebody might type who means no good.
//!
//! No answer is a fault of ours (5xx), every refusal says a sentence, nothing typed stands in a page with its brackets at work,
//! no spreadsheet runs what was typed, and the ledger checks clean afterwards. The choice is seeded. A short form runs with the
//! other tests; `TALLYPAIL_CRAWL=20` goes round so many times.
//!
//! Sources: OWASP Web Security Testing Guide, input validation testing (from memory); tests/crawler/hostile.rs names the rest.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

mod forms;
mod hostile;

use crate::{
    doors::address_of,
    farm::{Farm, Page},
    routes::{Visits, WAYS_OUT},
};
use axum::{
    body::Body,
    http::{Method, Request, header},
};
use forms::{Form, forms, links};
use hostile::{Dice, MARK, raw_in, values};
use std::{
    collections::{BTreeMap, BTreeSet, VecDeque},
    env,
    io::Cursor,
};
use tallypail::{
    pages::{PASS, SESSION, VISIT},
    store::check,
    trade::{figures::NOTICE, kinds::KINDS},
    web::{secret, visitor::Role},
};

/// Pages of a kind that are walked: they differ in a number, a code or a name.
const OF_A_KIND: usize = 1;
/// What a query may ask for, whichever page it is.
const ASKED: [&str; 12] = ["day", "from", "to", "person", "lot", "what", "back", "changes", "address", "code", "entry", "sure"];

fn rounds() -> u64 {
    env::var("TALLYPAIL_CRAWL").ok().and_then(|rounds| rounds.parse().ok()).unwrap_or(1)
}

/// Somebody who walks the farm and tries everything.
struct Crawl {
    farm: Farm,
    role: Role,
    cookie: String,
    seal: String,
    dice: Dice,
    values: Vec<String>,
    wrong: BTreeSet<String>,
    sent: usize,
    statuses: BTreeMap<u16, usize>,
}

impl Crawl {
    async fn of(farm: Farm, role: Role, seed: u64) -> Crawl {
        let Visits { cookie, seal } = Visits::of(&farm, role).await;
        let (dice, values, wrong) = (Dice::new(seed), values(), BTreeSet::new());
        Crawl { farm, role, cookie, seal, dice, values, wrong, sent: 0, statuses: BTreeMap::new() }
    }

    fn value(&mut self) -> String {
        self.dice.one(&self.values).clone()
    }

    /// Sends a request and judges what comes back.
    async fn ask(&mut self, method: &str, path: &str, body: Option<(&str, Vec<u8>)>) -> Page {
        let mut request = Request::builder().method(method).uri(path).header(header::COOKIE, &self.cookie);
        let told = body.as_ref().map(|(_, bytes)| String::from_utf8_lossy(&bytes[..bytes.len().min(300)]).into_owned()).unwrap_or_default();
        if let Some((kind, _)) = &body {
            request = request.header(header::CONTENT_TYPE, *kind);
        }
        let page = self.farm.answer(request.body(body.map_or_else(Body::empty, |(_, bytes)| Body::from(bytes))).unwrap()).await;
        self.sent += 1;
        *self.statuses.entry(page.status).or_default() += 1;
        let path: String = path.chars().take(200).collect();
        if let Some(says) = wrong_with(&page) {
            self.wrong.insert(format!("{:?} {method} {path} [{told}] came with {}: {says}", self.role, page.status));
        }
        page
    }

    /// Every page that can be reached, one of each kind, without the forms of paper named here.
    async fn walk(&mut self, without: &[&str]) -> Vec<(String, Page)> {
        let mut asked: VecDeque<String> = match self.role {
            Role::Stranger => ["/signin", "/own", "/pass", "/jar", "/setup"].map(str::to_owned).into(),
            Role::Member => ["/own/page", "/own", "/jar"].map(str::to_owned).into(),
            Role::Inspector => ["/pass/binder", "/pass", "/jar"].map(str::to_owned).into(),
            _ => ["/", "/stop", "/herd", "/jars", "/pickup", "/records/holds"].map(str::to_owned).into(),
        };
        if matches!(self.role, Role::Helper | Role::Owner) {
            let own = KINDS.iter().filter(|kind| self.role == Role::Owner || !kind.owner_only);
            asked.extend(own.flat_map(|kind| ["", "/new", "/1"].map(|end| format!("/records/{}{end}", kind.name))));
            let open = self.farm.doors().into_iter().filter(|door| door.method == Method::GET && door.who.lets_in(self.role));
            for door in open {
                asked.push_back(address_of(&self.farm, door.path).await);
            }
        }
        let (mut walked, mut of_a_kind) = (BTreeMap::new(), BTreeMap::<String, usize>::new());
        while let Some(path) = asked.pop_front() {
            let shape = shape(&path);
            let count = of_a_kind.entry(shape).or_default();
            let is_paper = without.iter().any(|end| path.split('?').next().unwrap().ends_with(end));
            if is_paper || walked.contains_key(&path) || path.starts_with("/assets/") || *count >= OF_A_KIND {
                continue;
            }
            *count += 1;
            let page = self.ask("GET", &path.replace(' ', "%20"), None).await;
            if page.kind.starts_with("text/html") {
                asked.extend(links(&page.text));
            }
            walked.insert(path, page);
        }
        walked.into_iter().collect()
    }

    /// Every form on these pages, each once.
    async fn fill_in(&mut self, pages: &[(String, Page)]) {
        let mut seen = BTreeSet::new();
        for (path, page) in pages.iter().filter(|(_, page)| page.kind.starts_with("text/html")) {
            for mut form in forms(&page.text) {
                if form.action.is_empty() {
                    form.action = path.split('?').next().unwrap().to_owned();
                }
                let names: BTreeSet<String> = form.fields.iter().map(|own| shape(&own.name)).collect();
                if seen.insert((shape(&form.action), form.posts, names)) && !WAYS_OUT.contains(&form.action.as_str()) {
                    self.try_form(&form, path).await;
                }
            }
        }
    }

    /// The form as it stands now: the ways in are tied to the browser they were opened in.
    async fn opened(&mut self, form: &Form, path: &str) -> Form {
        if !form.fields.iter().any(|own| own.name == "door") {
            return form.clone();
        }
        let page = self.ask("GET", path, None).await;
        let own: Vec<&str> =
            self.cookie.split("; ").filter(|pair| pair.starts_with(SESSION) || pair.starts_with(VISIT) || pair.starts_with(PASS)).collect();
        self.cookie = own.into_iter().chain([page.cookie().as_str()]).collect::<Vec<_>>().join("; ");
        forms(&page.text).into_iter().find(|own| own.action == form.action).unwrap_or_else(|| form.clone())
    }

    async fn try_form(&mut self, form: &Form, path: &str) {
        if !form.posts {
            for _ in 0..3 {
                let fields = self.filled(form, usize::MAX);
                let asked = format!("{}?{}", form.action.split('?').next().unwrap(), written(&fields));
                self.ask("GET", &asked, None).await;
            }
            return;
        }
        let one = self.dice.below(form.fields.len());
        let other = self.dice.below(form.fields.len());
        for hostile in [usize::MAX - 1, one, other, usize::MAX, usize::MAX] {
            let form = self.opened(form, path).await;
            let fields = self.filled(&form, hostile);
            self.send(&form, &fields).await;
        }
        for _ in 0..2 {
            let form = self.opened(form, path).await;
            self.misshapen(&form).await;
        }
    }

    /// A form's fields as they stand, with what no good is meant by in one of them, in all (`usize::MAX`) or in none.
    fn filled(&mut self, form: &Form, hostile: usize) -> Vec<(String, String)> {
        let mut fields = Vec::new();
        for (nth, field) in form.fields.iter().enumerate() {
            let own = match (field.name.as_str(), field.sort.as_str()) {
                ("seal", _) => field.value.clone(),
                ("door", _) if self.dice.below(8) > 0 => field.value.clone(),
                ("entry", _) if self.dice.below(8) > 0 => secret::entry(),
                _ if hostile == nth || hostile == usize::MAX => self.value(),
                (_, "button") if self.dice.below(2) > 0 => continue,
                (_, "date") if field.value.is_empty() => "2026-11-21".to_owned(),
                (_, "datetime-local") if field.value.is_empty() => "2026-11-21T14:00".to_owned(),
                (_, "number") if field.value.is_empty() => "1".to_owned(),
                (_, "text" | "textarea") if field.value.is_empty() => {
                    (*self.dice.one(&["", "1", "39 F", MARK, "2026-11-21T14:00"])).to_owned()
                }
                _ => field.value.clone(),
            };
            fields.push((field.name.clone(), own));
        }
        fields
    }

    async fn send(&mut self, form: &Form, fields: &[(String, String)]) -> Page {
        if form.has_file {
            let name = self.value().replace(['"', '\r', '\n', '\0'], "");
            let bytes = self.dice.one(&[&b"%PDF-1.4 x"[..], b"", b"<script>", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe0"]).to_vec();
            self.ask("POST", &form.action, Some(("multipart/form-data; boundary=edge", parts(fields, &name, &bytes, "edge")))).await
        } else {
            self.ask("POST", &form.action, Some(("application/x-www-form-urlencoded", written(fields).into_bytes()))).await
        }
    }

    /// A form that no browser sends.
    async fn misshapen(&mut self, form: &Form) {
        const FORM: &str = "application/x-www-form-urlencoded";
        let mut fields = self.filled(form, usize::MAX - 1);
        let place = self.dice.below(fields.len());
        let whole = written(&fields).into_bytes();
        match self.dice.below(12) {
            0 => {
                fields.retain(|(name, _)| name == "seal");
                self.send(form, &fields).await;
            }
            1 => {
                let twice: Vec<_> = fields.iter().chain(&fields).cloned().collect();
                self.send(form, &twice).await;
            }
            2 => {
                let value = self.value();
                fields.extend([("no such field".to_owned(), value.clone()), ("instead".to_owned(), format!("entry={value}"))]);
                self.send(form, &fields).await;
            }
            3 => {
                let value = self.value();
                fields.insert(0, (fields[place].0.clone(), value));
                self.send(form, &fields).await;
            }
            4 => {
                fields.retain(|(name, _)| name != "seal" && name != "door");
                fields.push(("seal".to_owned(), self.value()));
                let page = self.send(form, &fields).await;
                if !matches!(page.status, 403 | 422) && self.role != Role::Stranger {
                    self.wrong.insert(format!("POST {} took a wrong seal with {}", form.action, page.status));
                }
            }
            5 => drop(self.ask("POST", &form.action, Some(("application/json", b"{\"seal\":1}".to_vec()))).await),
            6 => drop(self.ask("POST", &form.action, Some(("text/plain; charset=utf-16", whole))).await),
            7 => drop(self.ask("POST", &form.action, Some((FORM, [&whole[..], b"&%zz=%f&%&=&&%"].concat()))).await),
            8 => drop(self.ask("POST", &form.action, Some((FORM, [&whole[..], b"&why=%ff%fe%c3%28&name=\xff\xfe"].concat()))).await),
            9 => drop(self.ask("POST", &form.action, Some((FORM, [&whole[..], b"&note=", &vec![b'x'; 600_000][..]].concat()))).await),
            10 => {
                let body = parts(&fields, "x", b"x", "edge");
                self.ask("POST", &form.action, Some(("multipart/form-data; boundary=other", body))).await;
            }
            _ => {
                self.ask("POST", &form.action, None).await;
                self.ask("PUT", &form.action, Some((FORM, whole))).await;
            }
        }
    }

    /// Every address with what does not belong there in its path and behind its question mark.
    async fn addresses(&mut self) {
        for door in self.farm.doors() {
            // A PDF is slow to draw where nothing is optimised; the short form draws a few.
            let is_passed_over = door.path.ends_with(".pdf") && rounds() == 1 && self.dice.below(4) > 0;
            if is_passed_over || WAYS_OUT.contains(&door.path) || !door.who.lets_in(self.role) {
                continue;
            }
            let method = door.method.as_str();
            let form = format!("seal={}", self.seal).into_bytes();
            let form = || (door.method == Method::POST).then(|| ("application/x-www-form-urlencoded", form.clone()));
            if door.path.contains('{') {
                for raw in ["%ff", "%00", "..%2f..%2fetc%2fpasswd"].iter().take(1 + self.dice.below(3)) {
                    self.ask(method, &filled_path(door.path, |_| (*raw).to_owned()), form()).await;
                }
                let path = filled_path(door.path, |_| spelt(&self.dice.one(&self.values).clone()));
                self.ask(method, &path, form()).await;
            }
            // Before anybody has set it up there is no lot to name.
            let is_new = self.farm.list("lots").await.is_empty();
            let path = if is_new { filled_path(door.path, |_| "1".to_owned()) } else { address_of(&self.farm, door.path).await };
            let path = path.replace(' ', "%20");
            if door.method == Method::GET {
                let mut asked = Vec::new();
                for _ in 0..3 {
                    asked.push(((*self.dice.one(&ASKED)).to_owned(), self.value()));
                }
                self.ask(method, &format!("{path}?{}", written(&asked)), None).await;
                let odd =
                    *self.dice.one(&["%zz=%ff&&&=", "day=%ff", "day=1&day=2", "day[]=1", "=", "%00", "from=2026-01-01&to=0000-00-00"]);
                self.ask(method, &format!("{path}?{odd}"), None).await;
            }
        }
    }

    async fn whole_afterwards(&self) -> Vec<String> {
        check::wrongs(&mut self.farm.ledger.read().await.unwrap()).await.unwrap()
    }
}

/// What is wrong with an answer, whatever was asked.
fn wrong_with(page: &Page) -> Option<String> {
    let start: String = page.text.chars().take(300).collect();
    if page.status >= 500 {
        return Some(format!("ours: {start}"));
    }
    if page.status >= 400 && page.kind.starts_with("text/html") {
        let says = [
            "class=\"remark",
            "class=\"question",
            "role=\"alert\"",
            "Go back",
            "Ask the owner",
            "Put in your number",
            "Hand out under",
            "role=\"status\"",
        ];
        if !says.iter().any(|words| page.text.contains(words)) || !page.text.contains(&NOTICE[..40]) {
            return Some(format!("a refusal without a sentence: {}", page.text));
        }
    } else if page.status >= 400 {
        return Some(format!("a refusal that is no page: {} {start}", page.kind));
    }
    if page.status == 303 && (!page.location.starts_with('/') || page.location.starts_with("//") || page.location.contains('\\')) {
        return Some(format!("leads away to {}", page.location));
    }
    match page.kind.split(';').next().unwrap() {
        "text/html" => raw_in(&page.text).map(|raw| format!("stands raw: {raw}")),
        "text/csv" => runs_in_csv(&page.bytes).map(|cell| format!("a spreadsheet runs {cell:?}")),
        "application/json" | "application/ld+json" => {
            serde_json::from_slice::<serde_json::Value>(&page.bytes).err().map(|error| error.to_string())
        }
        kind if kind.contains("spreadsheetml") => runs_in_workbook(&page.bytes),
        _ => None,
    }
}

/// A cell of a CSV file that a spreadsheet would take for a formula: it begins so and is no number.
fn runs_in_csv(bytes: &[u8]) -> Option<String> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes);
    let cells: Vec<String> = reader.records().flatten().flat_map(|row| row.iter().map(str::to_owned).collect::<Vec<_>>()).collect();
    let is_number = |cell: &str| cell.chars().skip(1).all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '$' | '%'));
    cells.into_iter().find(|cell| cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && !is_number(cell))
}

fn runs_in_workbook(bytes: &[u8]) -> Option<String> {
    use calamine::{Reader, Xlsx};
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes.to_vec())).ok()?;
    let names = book.sheet_names();
    names.into_iter().find(|name| !book.worksheet_formula(name).is_ok_and(|found| found.is_empty()))
}

/// An address or a field's name without what differs from one record to the next.
fn shape(path: &str) -> String {
    let part = |part: &str| part.split('=').next().unwrap_or_default().to_owned();
    let part = |own: &str| if part(own) != own { part(own) } else { numberless(own) };
    path.split(['/', '?', '.', '&']).take(4).map(part).collect::<Vec<_>>().join("/")
}

fn numberless(part: &str) -> String {
    if part.contains(|c: char| c.is_ascii_digit()) || part.contains('%') { "#".to_owned() } else { part.to_owned() }
}

fn filled_path(path: &str, mut value: impl FnMut(&str) -> String) -> String {
    let part = |part: &str| match part.split_once('{').and_then(|(before, rest)| Some((before, rest.split_once('}')?))) {
        Some((before, (name, after))) => format!("{before}{}{after}", value(name)),
        None => part.to_owned(),
    };
    path.split('/').map(part).collect::<Vec<_>>().join("/")
}

fn spelt(text: &str) -> String {
    tallypail::trade::in_an_address(text)
}

fn written(fields: &[(String, String)]) -> String {
    fields.iter().map(|(name, value)| format!("{}={}", spelt(name), spelt(value))).collect::<Vec<_>>().join("&")
}

fn parts(fields: &[(String, String)], file: &str, bytes: &[u8], edge: &str) -> Vec<u8> {
    let plain = |text: &str| text.replace(['"', '\r', '\n'], "");
    let mut body = Vec::new();
    for (name, value) in fields {
        body.extend(format!("--{edge}\r\nContent-Disposition: form-data; name=\"{}\"\r\n\r\n{value}\r\n", plain(name)).into_bytes());
    }
    body.extend(format!("--{edge}\r\nContent-Disposition: form-data; name=\"paper\"; filename=\"{file}\"\r\n\r\n").into_bytes());
    body.extend_from_slice(bytes);
    body.extend(format!("\r\n--{edge}--\r\n").into_bytes());
    body
}

/// Goes round: the pages, the forms and the addresses so many times, and the pages again.
async fn crawl(is_new: bool, role: Role, times: usize, least: usize) {
    for round in 0..rounds() {
        let farm = if is_new { Farm::empty().await } else { Farm::sample().await };
        let mut crawl = Crawl::of(farm, role, 20_261_121 + round).await;
        let pages = crawl.walk(&[".pdf", ".csv", ".json", ".xlsx"]).await;
        for _ in 0..times {
            crawl.fill_in(&pages).await;
            crawl.addresses().await;
        }
        // What was typed and kept is looked at wherever it is shown.
        crawl.walk(if rounds() > 1 { &[] } else { &[".pdf"] }).await;
        if matches!(role, Role::Helper | Role::Owner) {
            crawl.ask("GET", "/stop", None).await.came_with(200);
        }
        let unwell = crawl.whole_afterwards().await;
        eprintln!("{role:?} round {round}: {} pages, {} requests, {:?}", pages.len(), crawl.sent, crawl.statuses);
        assert!(crawl.sent >= least, "the crawl went nowhere: {} requests, {:?}", crawl.sent, crawl.statuses);
        assert!(
            crawl.wrong.is_empty(),
            "round {round}: {} wrong:\n{}",
            crawl.wrong.len(),
            crawl.wrong.into_iter().collect::<Vec<_>>().join("\n")
        );
        assert!(unwell.is_empty(), "round {round}: the ledger afterwards: {unwell:?}");
    }
}

#[tokio::test]
async fn nothing_a_stranger_sends_breaks_anything() {
    crawl(false, Role::Stranger, 12, 300).await;
}

#[tokio::test]
async fn nothing_a_household_sends_breaks_anything() {
    crawl(false, Role::Member, 12, 200).await;
}

#[tokio::test]
async fn nothing_an_inspector_sends_breaks_anything() {
    crawl(false, Role::Inspector, 3, 100).await;
}

#[tokio::test]
async fn nothing_a_helper_sends_breaks_anything() {
    crawl(false, Role::Helper, 1, 300).await;
}

#[tokio::test]
async fn nothing_the_owner_sends_breaks_anything() {
    crawl(false, Role::Owner, 1, 800).await;
}

#[tokio::test]
async fn nothing_sent_to_a_ledger_nobody_has_set_up_breaks_anything() {
    crawl(true, Role::Stranger, 6, 60).await;
}
