//! A real browser, at a phone's width and a desk's, doing the three main jobs on the sample farm.
//!
//! Chromium and its driver are Debian's (`tests/run` installs them). Pictures of every page lie in the
//! build's own temporary folder afterwards, under `screens`, for a person to look at. Nothing here is timed.

use super::farm::{OWNER, PASSWORD, SAMPLE_AFTERNOON, at};
use fantoccini::{Client, ClientBuilder, Locator, wd::Capabilities};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::json;
use std::{
    fs,
    net::SocketAddr,
    path::PathBuf,
    process::{Child, Command, Stdio},
    time::Duration,
};
use tallypail::{
    pages::{self, App},
    paper::{folder, sample},
    store::{Ledger, hands, records},
    trade::when::Moment,
    web::{clock::Clock, secret},
};
use tempfile::TempDir;

/// Eight in the evening of the sample farm's last day: the evening milking is done and cold.
const EVENING: &str = "2026-11-21T20:00:00-05:00";

/// The sample farm, served on a port of its own.
struct Served {
    address: String,
    ledger: Ledger,
    _folder: TempDir,
}

async fn served(now: Moment) -> Served {
    let folder = tempfile::tempdir().unwrap();
    let ledger = Ledger::open(&folder.path().join("browser.ledger")).await.unwrap();
    let book = folder::read(&sample::files(), at(SAMPLE_AFTERNOON), "import").unwrap();
    let mut tx = ledger.begin().await.unwrap();
    let act = records::act(&mut tx, at(SAMPLE_AFTERNOON), "import", "farm folder").await.unwrap();
    records::import(&mut tx, &book, &act).await.unwrap();
    let secret = secret::hash(PASSWORD).unwrap();
    hands::record(&mut tx, &hands::Hand { name: OWNER.to_owned(), role: "owner".to_owned(), secret }, now).await.unwrap();
    tx.commit().await.unwrap();
    let (router, _) = pages::open(App { ledger: ledger.clone(), clock: Clock::Stopped(now), demo: None, secure: false });
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    tokio::spawn(async move { axum::serve(listener, router.into_make_service_with_connect_info::<SocketAddr>()).await });
    Served { address, ledger, _folder: folder }
}

/// The driver, stopped when the test ends however it ends.
struct Driver(Child);

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn free_port() -> u16 {
    std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

/// A driver of this machine's Chromium and its address; nothing, said aloud, where there is no Chromium.
async fn driver() -> (Driver, String) {
    let port = free_port();
    let child = Command::new("chromedriver")
        .arg(format!("--port={port}"))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("chromedriver is not here: run `bash tests/run`, which installs it");
    let driver = Driver(child);
    for _ in 0..100 {
        if tokio::net::TcpStream::connect(("127.0.0.1", port)).await.is_ok() {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    (driver, format!("http://127.0.0.1:{port}"))
}

/// A browser of a width, with an empty profile.
struct Browser {
    client: Client,
    farm: String,
    width: u32,
    _profile: TempDir,
}

impl Browser {
    async fn open(driver: &str, farm: &str, width: u32, height: u32) -> Browser {
        let profile = tempfile::tempdir().unwrap();
        let data = format!("--user-data-dir={}", profile.path().display());
        let args = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--hide-scrollbars",
            data.as_str(),
        ];
        let mut options = json!({ "args": args });
        // Headless windows are never narrower than 500; a phone's width needs the device's own metrics.
        options["mobileEmulation"] = json!({ "deviceMetrics": { "width": width, "height": height, "pixelRatio": 1.0, "mobile": width < 500, "touch": width < 500 } });
        let mut capabilities = Capabilities::new();
        capabilities.insert("goog:chromeOptions".to_owned(), options);
        let client = ClientBuilder::new(HttpConnector::new()).capabilities(capabilities).connect(driver).await.unwrap();
        Browser { client, farm: farm.to_owned(), width, _profile: profile }
    }

    async fn go(&self, path: &str) {
        self.client.goto(&format!("{}{path}", self.farm)).await.unwrap();
    }

    async fn fill(&self, css: &str, value: &str) {
        let field = self.client.find(Locator::Css(css)).await.unwrap_or_else(|_| panic!("no field {css}"));
        field.clear().await.unwrap();
        field.send_keys(value).await.unwrap();
    }

    /// Sets a date and time field, whose keys differ by the browser's language.
    async fn set(&self, css: &str, value: &str) {
        self.client.execute("document.querySelector(arguments[0]).value = arguments[1]", vec![json!(css), json!(value)]).await.unwrap();
    }

    /// Taps a radio or tick by its name and value; its tile is the label around it.
    async fn tap(&self, name: &str, value: &str) {
        let css = format!("input[name='{name}'][value='{value}']");
        let found = self.client.execute("const own = document.querySelector(arguments[0]); if (!own) return false; const fold = own.closest('details'); if (fold) fold.open = true; own.closest('label').click(); return true", vec![json!(css)]).await.unwrap();
        assert_eq!(found, json!(true), "no tile {name}={value}");
    }

    async fn press(&self, css: &str) {
        let button = self.client.find(Locator::Css(css)).await.unwrap_or_else(|_| panic!("no button {css}"));
        // Scrolled to the middle first: a tap must not land on the bar along the bottom.
        self.client
            .execute("window.before = true; document.querySelector(arguments[0]).scrollIntoView({block: 'center'})", vec![json!(css)])
            .await
            .unwrap();
        button.click().await.unwrap();
        // Every button here sends a form, so the next page is waited for: nothing is typed into one that is going away.
        for _ in 0..200 {
            let there = self.client.execute("return !window.before && document.readyState === 'complete'", vec![]).await;
            if there.is_ok_and(|there| there == json!(true)) {
                return;
            }
            tokio::time::sleep(Duration::from_millis(25)).await;
        }
        panic!("nothing came of pressing {css}");
    }

    /// What the page says; asked again while one page is giving way to the next.
    async fn text(&self) -> String {
        for _ in 0..100 {
            if let Ok(main) = self.client.find(Locator::Css("main")).await
                && let Ok(text) = main.text().await
            {
                return text;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        String::new()
    }

    async fn says(&self, words: &str) {
        let mut text = self.text().await;
        for _ in 0..100 {
            if text.contains(words) {
                break;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
            text = self.text().await;
        }
        assert!(text.contains(words), "the page at {} does not say “{words}”:\n{text}", self.client.current_url().await.unwrap());
    }

    /// Keeps a picture, and holds the page to its width: nothing may stick out sideways.
    async fn look(&self, name: &str) {
        let out = self
            .client
            .execute("return document.documentElement.scrollWidth - document.documentElement.clientWidth", vec![])
            .await
            .unwrap();
        assert_eq!(out, json!(0), "{name} sticks out sideways at {} px", self.width);
        let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("screens");
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join(format!("{name}-{}.png", self.width)), self.client.screenshot().await.unwrap()).unwrap();
    }

    async fn sign_in(&self) {
        self.go("/").await;
        self.fill("#name", OWNER).await;
        self.fill("#password", PASSWORD).await;
        self.look("sign-in").await;
        self.press("button.act").await;
        self.says("Today").await;
    }
}

/// Writes down the evening milking, forty for twenty-four and all.
async fn milk(browser: &Browser) {
    browser.go("/milkings/new").await;
    browser.look("milking").await;
    browser.fill("#f-started", "17:05").await;
    browser.fill("#f-ended", "17:30").await;
    browser.tap("well", "yes").await;
    browser.tap("all_normal", "yes").await;
    browser.fill("[name='read.1']", "140").await;
    browser.fill("[name='read.2']", "15.4").await;
    browser.fill("[name='read.3']", "14.1").await;
    browser.press("button.act").await;
    browser.says("Not kept yet.").await;
    browser.look("milking-asked").await;
    browser.press("button[name='instead'][value^='read.1=']").await;
    browser.says("Fill jars").await;
}

/// Fills a lot from it and gives back its code.
async fn fill(browser: &Browser) -> String {
    browser.fill("#f-half_gallons", "6").await;
    browser.set("#f-filled", "2026-11-21T17:45").await;
    browser.tap("new_filter", "yes").await;
    browser.look("fill").await;
    browser.press("button.act").await;
    if browser.text().await.contains("Not kept yet.") {
        browser.look("fill-asked").await;
        browser.press("button[name='sure']").await;
    }
    let url = browser.client.current_url().await.unwrap();
    url.path().strip_prefix("/lots/").unwrap_or_else(|| panic!("not at the lot but at {url}")).to_owned()
}

async fn chill(browser: &Browser, lot: &str, when: &str, degrees: &str) {
    browser.go(&format!("/chill/new?lot={lot}")).await;
    browser.fill("#f-temperature", degrees).await;
    browser.set("#f-at", when).await;
    browser.look("chill").await;
    browser.press("button.act").await;
}

async fn hand_out(browser: &Browser, person: &str, lot: &str) {
    browser.go(&format!("/pickup?person={person}")).await;
    browser.tap("lot", lot).await;
    browser.fill("form[action='/pickup'] [name='half_gallons']", "2").await;
    let css = "form[action='/pickup'] input[name='evidence'][value='seen']";
    browser.client.execute("document.querySelector(arguments[0]).closest('label').click()", vec![json!(css)]).await.unwrap();
    browser.look("pickup").await;
    browser.press("form[action='/pickup'] button.act").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_three_main_jobs_are_done_in_a_browser_on_a_phone() {
    let farm = served(at(EVENING)).await;
    let (_driver, address) = driver().await;
    let phone = Browser::open(&address, &farm.address, 390, 844).await;
    phone.sign_in().await;
    phone.look("today").await;
    milk(&phone).await;
    let lot = fill(&phone).await;
    phone.says("Can't tell").await;

    chill(&phone, &lot, "2026-11-21T18:25", "4").await;
    phone.says("do you mean").await;
    phone.look("chill-asked").await;
    phone.fill("#f-temperature", "46.0").await;
    phone.press("button.act").await;
    chill(&phone, &lot, "2026-11-21T19:10", "38.6").await;
    phone.says("Can go").await;
    phone.look("lot").await;

    hand_out(&phone, "M05", &lot).await;
    phone.says("M05").await;
    phone.look("handed-out").await;

    phone.go("/counts/new").await;
    let fields = phone.client.find_all(Locator::Css("form[action='/counts'] .stepper input")).await.unwrap();
    assert!(!fields.is_empty(), "nothing to count");
    for field in fields {
        assert_eq!(field.prop("value").await.unwrap().as_deref(), Some(""), "a count must start empty");
        field.send_keys("1").await.unwrap();
    }
    phone.look("count").await;
    phone.press("form[action='/counts'] button.act").await;
    if phone.text().await.contains("Not kept yet.") {
        phone.press("button[name='sure']").await;
    }
    phone.says("The count, compared").await;
    phone.look("counted").await;

    phone.go("/costs").await;
    phone.says("With hours").await;
    phone.look("costs").await;
    phone.go(&format!("/trace/{lot}")).await;
    phone.says("M05").await;
    phone.look("trace").await;

    phone.go(&format!("/stop?what=lot%20{lot}")).await;
    phone.look("stop").await;
    phone.press("button.stop:not(nav *)").await;
    phone.says("held").await;
    hand_out(&phone, "M07", &lot).await;
    phone.says("Keep back").await;
    phone.says("Hand out").await;
    phone.look("refused").await;
    phone.client.clone().close().await.unwrap();

    let handed: i64 =
        records::list(&mut farm.ledger.read().await.unwrap(), super::farm::kind_of("pickups")).await.unwrap().len().try_into().unwrap();
    assert_eq!(handed, 3046 + 1, "the refused hand-out must not have been kept");
}

#[tokio::test(flavor = "multi_thread")]
async fn every_place_fits_a_phone_and_a_desk() {
    let farm = served(at(SAMPLE_AFTERNOON)).await;
    let (_driver, address) = driver().await;
    for (width, height) in [(390, 844), (1280, 900), (320, 700)] {
        let browser = Browser::open(&address, &farm.address, width, height).await;
        browser.sign_in().await;
        for (name, path) in [
            ("today", "/"),
            ("herd", "/herd"),
            ("cow", "/herd/Damson"),
            ("jars", "/jars"),
            ("lot-afternoon", "/lots/6325A-Z"),
            ("lot-short", "/lots/6238A-V"),
            ("milking-afternoon", "/milkings/new"),
            ("pickup-afternoon", "/pickup"),
            ("people", "/people"),
            ("person", "/people/M05"),
            ("costs-afternoon", "/costs"),
            ("binder", "/binder"),
            ("trace-afternoon", "/trace"),
            ("trace-person", "/trace?person=M05&day=2026-08-18"),
            ("record", "/records/lots/1"),
            ("stop-afternoon", "/stop"),
        ] {
            browser.go(path).await;
            let text = browser.client.find(Locator::Css(".notice")).await.unwrap().text().await.unwrap();
            assert!(text.contains("local raw-milk law"), "{path} has no notice");
            browser.look(name).await;
        }
        browser.client.clone().close().await.unwrap();
    }
}
