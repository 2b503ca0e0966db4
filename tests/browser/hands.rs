//! A real browser and a farm to point it at.

use crate::farm::{OWNER, PASSWORD, SAMPLE_AFTERNOON, at};
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

/// The sample farm, served on a port of its own.
pub struct Served {
    /// Where it answers.
    pub address: String,
    /// Its ledger.
    pub ledger: Ledger,
    _folder: TempDir,
}

/// Serves the sample farm at a moment.
pub async fn served(now: Moment) -> Served {
    served_from(&sample::files(), now).await
}

/// Serves a farm folder at a moment.
pub async fn served_from(files: &folder::Files, now: Moment) -> Served {
    let folder = tempfile::tempdir().unwrap();
    let ledger = Ledger::open(&folder.path().join("browser.ledger")).await.unwrap();
    let book = folder::read(files, at(SAMPLE_AFTERNOON), "import").unwrap();
    let mut tx = ledger.begin().await.unwrap();
    let act = records::act(&mut tx, at(SAMPLE_AFTERNOON), "import", "farm folder").await.unwrap();
    records::import(&mut tx, &book, &act).await.unwrap();
    let secret = secret::hash(PASSWORD).unwrap();
    hands::record(&mut tx, &hands::Hand { name: OWNER.to_owned(), role: "owner".to_owned(), secret }, now).await.unwrap();
    tx.commit().await.unwrap();
    let (router, _) = pages::open(App::new(ledger.clone(), Clock::Stopped(now)));
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    tokio::spawn(async move { axum::serve(listener, router.into_make_service_with_connect_info::<SocketAddr>()).await });
    Served { address, ledger, _folder: folder }
}

/// The driver, stopped when the test ends however it ends.
pub struct Driver(Child);

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
pub async fn driver() -> (Driver, String) {
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
pub struct Browser {
    /// The driver's end of it.
    pub client: Client,
    farm: String,
    width: u32,
    _profile: TempDir,
}

impl Browser {
    pub async fn open(driver: &str, farm: &str, width: u32, height: u32) -> Browser {
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

    pub async fn go(&self, path: &str) {
        self.client.goto(&format!("{}{path}", self.farm)).await.unwrap();
    }

    pub async fn fill(&self, css: &str, value: &str) {
        let field = self.client.find(Locator::Css(css)).await.unwrap_or_else(|_| panic!("no field {css}"));
        field.clear().await.unwrap();
        field.send_keys(value).await.unwrap();
    }

    /// Sets a date and time field, whose keys differ by the browser's language.
    pub async fn set(&self, css: &str, value: &str) {
        self.client.execute("document.querySelector(arguments[0]).value = arguments[1]", vec![json!(css), json!(value)]).await.unwrap();
    }

    /// Taps a radio or tick by its name and value; its tile is the label around it.
    pub async fn tap(&self, name: &str, value: &str) {
        let css = format!("input[name='{name}'][value='{value}']");
        let found = self.client.execute("const own = document.querySelector(arguments[0]); if (!own) return false; const fold = own.closest('details'); if (fold) fold.open = true; own.closest('label').click(); return true", vec![json!(css)]).await.unwrap();
        assert_eq!(found, json!(true), "no tile {name}={value}");
    }

    pub async fn press(&self, css: &str) {
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
    pub async fn text(&self) -> String {
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

    pub async fn says(&self, words: &str) {
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
    pub async fn look(&self, name: &str) {
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

    pub async fn sign_in(&self) {
        self.go("/").await;
        self.fill("#name", OWNER).await;
        self.fill("#password", PASSWORD).await;
        self.look("sign-in").await;
        self.press("button.act").await;
        self.says("Today").await;
    }
}
