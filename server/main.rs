//! Reads the settings, opens the ledger, and serves it or runs one command.

use axum::{Router, extract::connect_info::IntoMakeServiceWithConnectInfo};
use clap::Parser;
use std::{fs, io::Write, net::SocketAddr, path::Path, process::ExitCode};
use tallypail::{
    copies::Copier,
    pages::{self, App},
    paper::folder::{self, Files},
    post::Carrier,
    settings::{At, Settings, Task},
    store::{Ledger, backup, check, farm, hands, place::Serving, records, restore},
    trade::when::{Day, Moment, Zone},
    web::{clock::Clock, secret},
};
use tokio::sync::watch;
use tracing_subscriber::EnvFilter;

/// Records are many small pieces, made on one thread and freed on another; the system's own allocator spends more on that than the
/// work itself.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

type Done = Result<ExitCode, Box<dyn std::error::Error>>;

/// The sample farm's records end on this afternoon, and the demo's clock starts there.
const DEMO_AFTERNOON: &str = "2026-11-21T15:05:00-05:00";
/// Who may sign in to the demo. There is no such password anywhere else.
const DEMO_HANDS: [(&str, &str, &str); 2] = [("Mina", "owner", "tansy and clover"), ("Tobe", "helper", "rinse wash acid")];

#[tokio::main]
async fn main() -> ExitCode {
    let settings = Settings::parse();
    // What a library says of a question that took long is for whoever looks for it, and not for a farmer's terminal.
    let says = if settings.log == "debug" { settings.log.clone() } else { format!("{},sqlx=error", settings.log) };
    let log = tracing_subscriber::fmt().with_env_filter(EnvFilter::new(says)).with_writer(std::io::stderr);
    if settings.log_as == "json" {
        log.json().init()
    } else {
        log.init()
    }
    match run(settings).await {
        Ok(code) => code,
        Err(error) => {
            say(&format!("tallypail: {error}"));
            ExitCode::FAILURE
        }
    }
}

/// Says something on standard error; if even that is closed, there is nobody to tell.
fn say(words: &str) {
    let _ = writeln!(std::io::stderr(), "{words}");
}

async fn run(settings: Settings) -> Done {
    match &settings.task {
        Task::Demo { at } => demo(at).await,
        Task::Serve { at, mail, keep } => {
            let (post, copies) = (mail.post()?, keep.copies()?);
            let _serving = Serving::take(&settings.ledger)?;
            let ledger = Ledger::open(&settings.ledger).await?;
            serve(App { secure: at.https, post, copies, ..App::new(ledger, Clock::Real) }, at).await
        }
        Task::Restore { copy } => restore_all(&settings.ledger, copy).await,
        Task::Import { folder } => {
            with(Ledger::open(&settings.ledger).await?, async |ledger| import(ledger, folder, Clock::Real.now()).await).await
        }
        Task::Hand { name, role } => with(existing(&settings).await?, async |ledger| hand(ledger, name, role).await).await,
        Task::Export { folder } => with(existing(&settings).await?, async |ledger| export(ledger, folder).await).await,
        Task::Report { .. } => with(existing(&settings).await?, async |ledger| report(ledger, &settings.task).await).await,
        Task::Binder { folder, from, to, names } => {
            with(existing(&settings).await?, async |ledger| binder(ledger, folder, (*from, *to), *names).await).await
        }
        Task::Backup { file } => with(existing(&settings).await?, async |ledger| copy(ledger, file).await).await,
        Task::Check => with(existing(&settings).await?, async |ledger| check_all(ledger).await).await,
    }
}

/// Does one thing with a ledger and closes it, whatever came of it: its file is whole on its own then, and whoever copies it by hand has
/// all of it.
async fn with(ledger: Ledger, task: impl AsyncFnOnce(&Ledger) -> Done) -> Done {
    let done = task(&ledger).await;
    ledger.close().await;
    done
}

/// Opens a ledger that must be there: a command that reads has no business making one.
async fn existing(settings: &Settings) -> Result<Ledger, Box<dyn std::error::Error>> {
    let file = &settings.ledger;
    if file.exists() {
        Ok(Ledger::open(file).await?)
    } else {
        Err(format!("There is no ledger at {}. Name it with --ledger.", file.display()).into())
    }
}

async fn demo(at: &At) -> Done {
    let folder = tempfile::tempdir()?;
    let ledger = Ledger::open(&folder.path().join("demo.ledger")).await?;
    let afternoon = Zone::UTC.parse_moment(DEMO_AFTERNOON).map_err(|fault| fault.to_string())?;
    let files: Files = tallypail::paper::sample::files();
    take_in(&ledger, &files, afternoon).await?;
    for (name, role, password) in DEMO_HANDS {
        let secret = secret::hash(password).ok_or("the demo's password could not be hashed")?;
        let mut tx = ledger.begin().await?;
        hands::record(&mut tx, &hands::Hand { name: name.to_owned(), role: role.to_owned(), secret }, afternoon).await?;
        tx.commit().await?;
    }
    say("This is the sample farm, in a throwaway ledger: an invented farm and invented people.");
    for (name, role, password) in DEMO_HANDS {
        say(&format!("Sign in as {name} ({role}) with the password: {password}"));
    }
    let words = "The sample farm: everything here is invented, and gone when the program stops. Its clock started on Saturday 21 November 2026, 15:05.";
    serve(App { demo: Some(words.to_owned()), secure: at.https, ..App::new(ledger, Clock::set_to(afternoon)) }, at).await
}

async fn serve(app: App, at: &At) -> Done {
    let ledger = app.ledger.clone();
    let carrier = Carrier { ledger: ledger.clone(), clock: app.clock, post: app.post.clone(), demo: app.demo.is_some() };
    let copier = app.copies.clone().map(|copies| Copier { ledger: ledger.clone(), clock: app.clock, copies });
    let (router, _) = pages::open(app);
    let listener = tokio::net::TcpListener::bind(at.listen)
        .await
        .map_err(|error| format!("--listen {}: {error}. Is the program running already, or the port taken?", at.listen))?;
    say(&format!("Tallypail is at http://{} (stop it with Ctrl-C)", listener.local_addr()?));
    let service: IntoMakeServiceWithConnectInfo<Router, SocketAddr> = router.into_make_service_with_connect_info();
    let (stop, stopping) = watch::channel(false);
    let carrying = tokio::spawn(carrier.run(stopping.clone()));
    let copying = copier.map(|copier| tokio::spawn(copier.run(stopping)));
    let told = async move {
        stopped().await;
        // The carrier finishes the letter in hand while the last pages are answered.
        stop.send_replace(true);
    };
    axum::serve(listener, service).with_graceful_shutdown(told).await?;
    carrying.await?;
    if let Some(copying) = copying {
        copying.await?;
    }
    ledger.close().await;
    Ok(ExitCode::SUCCESS)
}

async fn stopped() {
    // Without a signal to wait for, the program runs until it is killed, which the ledger survives.
    let interrupt = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let terminate = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut signal) => {
                signal.recv().await;
            }
            Err(_) => std::future::pending::<()>().await,
        }
    };
    #[cfg(not(unix))]
    let terminate = std::future::pending::<()>();
    tokio::select! { () = interrupt => {}, () = terminate => {} }
}

async fn hand(ledger: &Ledger, name: &str, role: &str) -> Done {
    say(&format!("Type a password for {name}, {} characters or more, and press Enter:", secret::SHORTEST_PASSWORD));
    let mut typed = String::new();
    std::io::stdin().read_line(&mut typed)?;
    let typed = typed.trim_end_matches(['\r', '\n']);
    if typed.chars().count() < secret::SHORTEST_PASSWORD {
        return Err(format!("That password is shorter than {} characters.", secret::SHORTEST_PASSWORD).into());
    }
    let secret = secret::hash(typed).ok_or("the password could not be hashed")?;
    let mut tx = ledger.begin().await?;
    hands::record(&mut tx, &hands::Hand { name: name.to_owned(), role: role.to_owned(), secret }, Clock::Real.now()).await?;
    tx.commit().await?;
    say(&format!("{name} may sign in as {role}."));
    Ok(ExitCode::SUCCESS)
}

async fn import(ledger: &Ledger, from: &Path, now: Moment) -> Done {
    let mut files = Files::new();
    let entries = fs::read_dir(from).map_err(|error| format!("The folder {} cannot be read: {error}", from.display()))?;
    for entry in entries {
        let path = entry?.path();
        if let Some(name) = path.file_name().and_then(|name| name.to_str()).filter(|name| !name.starts_with('.')) {
            if path.is_dir() && name == folder::PAPERS {
                for paper in fs::read_dir(&path)? {
                    let paper = paper?;
                    files.insert(format!("{name}/{}", paper.file_name().to_string_lossy()), fs::read(paper.path())?);
                }
            } else {
                files.insert(name.to_owned(), fs::read(&path)?);
            }
        }
    }
    let count = take_in(ledger, &files, now).await?;
    say(&format!("Took in {count} records."));
    Ok(ExitCode::SUCCESS)
}

/// Takes a folder into an empty ledger, all or nothing.
async fn take_in(ledger: &Ledger, files: &Files, now: Moment) -> Result<usize, Box<dyn std::error::Error>> {
    let mut tx = ledger.begin().await?;
    if farm::current(&mut tx).await?.is_some() {
        return Err(format!(
            "{} holds a farm's records already. A folder is taken into an empty ledger: name a new one with --ledger.",
            ledger.file().display()
        )
        .into());
    }
    let book = folder::read(files, now, "import").map_err(|faults| {
        let lines: Vec<String> = faults.iter().map(ToString::to_string).collect();
        format!(
            "Nothing was taken in. {} fault{} to put right:\n{}",
            faults.len(),
            if faults.len() == 1 { "" } else { "s" },
            lines.join("\n")
        )
    })?;
    let act = records::act(&mut tx, now, "import", "farm folder").await?;
    records::import(&mut tx, &book, &act).await?;
    tx.commit().await?;
    Ok(book.size())
}

async fn export(ledger: &Ledger, to: &Path) -> Done {
    let book = records::book(&mut *ledger.read().await?).await?;
    laid_down(&folder::write(&book), to)?;
    say(&format!("Wrote {} records to {}.", book.size(), to.display()));
    Ok(ExitCode::SUCCESS)
}

/// Writes files into a folder.
fn laid_down(files: &Files, to: &Path) -> std::io::Result<()> {
    fs::create_dir_all(to)?;
    for (name, bytes) in files {
        let file = to.join(name);
        file.parent().map(fs::create_dir_all).transpose()?;
        fs::write(file, bytes)?;
    }
    Ok(())
}

async fn binder(ledger: &Ledger, to: &Path, days: (Option<Day>, Option<Day>), names: bool) -> Done {
    let files = pages::reports::binder(ledger, days, names, Clock::Real.now()).await?;
    laid_down(&files, to)?;
    say(&format!("Wrote {} files to {}. Open index.html first.", files.len(), to.display()));
    Ok(ExitCode::SUCCESS)
}

async fn report(ledger: &Ledger, asked: &Task) -> Done {
    let bytes = pages::reports::print(ledger, asked, Clock::Real.now()).await?;
    std::io::stdout().write_all(&bytes)?;
    Ok(ExitCode::SUCCESS)
}

async fn restore_all(to: &Path, copy: &Path) -> Done {
    let restored = restore::restore(copy, to).await?;
    let ledger = Ledger::open(to).await?;
    let zone = farm::current(&mut *ledger.read().await?).await?.map_or(Zone::UTC, |farm| farm.ways.zone);
    ledger.close().await;
    let until = restored.until.map_or_else(|| "nothing written in it yet".to_owned(), |at| format!("as it stood on {}", zone.in_full(at)));
    say(&format!(
        "Restored and checked: {} holds {} records, {until}. What was written after that is not in it.",
        to.display(),
        restored.records
    ));
    say("Passwords and PINs came along as they were then; whoever was signed in signs in again.");
    Ok(ExitCode::SUCCESS)
}

async fn copy(ledger: &Ledger, to: &Path) -> Done {
    let lines = backup::write(ledger, to, Clock::Real.now()).await?;
    say(&format!("Copied and checked: {} holds {lines} journal lines.", to.display()));
    Ok(ExitCode::SUCCESS)
}

async fn check_all(ledger: &Ledger) -> Done {
    let wrongs = check::wrongs(&mut *ledger.read().await?).await?;
    for erased in check::erasures(&mut *ledger.read().await?).await? {
        say(&erased);
    }
    if wrongs.is_empty() {
        say("The ledger is whole: the file, the journal's chain, every record, and the laws between them.");
        return Ok(ExitCode::SUCCESS);
    }
    for wrong in &wrongs {
        say(wrong);
    }
    say(&format!(
        "{} thing{} wrong. Change nothing by hand; look at your last good backup.",
        wrongs.len(),
        if wrongs.len() == 1 { "" } else { "s" }
    ));
    Ok(ExitCode::FAILURE)
}
