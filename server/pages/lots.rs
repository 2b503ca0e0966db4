//! Jars on hand, and one lot: its verdict and what it rests on, its chill, its balance and everything that happened to it.

use super::{App, Frame, Here, field::Field, kind_of, remarks_of};
use crate::{
    store::{Ledger, lots, records, verdict},
    trade::{
        balance::{Balance, LotJars, Movement, What, find_window},
        chill::Reading,
        codes::LotCode,
        coldness::Standing,
        figures::{Holds, Part, Sheet, Table},
        jars::{Jars, Size},
        records::{Remark, Shape, read},
        slips,
        verdict::{Facts, Finding, Verdict, Word, judge},
        when::{Moment, Zone, day_shown, span_shown},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Role,
    },
};
use askama::Template;
use axum::extract::Path;

/// The sizes a lot can be filled in, the usual one first.
const SIZES: [(&str, &str, Size); 4] = [
    ("half_gallons", "Half-gallons", Size::HalfGallon),
    ("quarts", "Quarts", Size::Quart),
    ("pints", "Pints", Size::Pint),
    ("gallons", "Gallons", Size::Gallon),
];

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/jars", Role::Helper, index).look("/lots/{code}", Role::Helper, show).send(
        "/lots/{code}/asides",
        Role::Helper,
        set_aside,
    )
}

#[derive(Template)]
#[template(path = "jars/index.html")]
struct Index {
    frame: Frame,
    standing: Vec<(lots::OnHand, Verdict, String)>,
    gone: Vec<(lots::Lot, String)>,
}

/// The page of one lot.
#[derive(Template)]
#[template(path = "jars/lot.html")]
struct Show {
    frame: Frame,
    lot: lots::Lot,
    filled: String,
    state: &'static str,
    verdict: Verdict,
    findings: Vec<(&'static str, String, String, String)>,
    facts: Vec<(&'static str, String)>,
    readings: Vec<(String, String, String)>,
    chart: Option<Chart>,
    balance: Balance,
    jars: LotJars,
    window: String,
    callers: Vec<String>,
    history: Vec<(String, String, String)>,
    remarks: Vec<Remark>,
    aside: Vec<Field>,
    sizes: Vec<Field>,
    entry: String,
}

/// The readings of a lot as a picture: a point each, and the limit as a line.
struct Chart {
    says: String,
    points: Vec<(i64, i64, String)>,
    path: String,
    limit: Option<(i64, String)>,
    hours: Vec<(i64, String)>,
}

async fn index(here: Here) -> Answer {
    let mut db = here.app.ledger.read().await?;
    let standing = lots::on_hand(&mut db, here.now).await?;
    let numbers: Vec<i64> = standing.iter().map(|own| own.lot.number).collect();
    let facts = verdict::facts(&mut db, &numbers, here.zone(), here.now).await?;
    let newest = lots::newest(&mut db, 40).await?;
    drop(db);
    let standing =
        standing.into_iter().zip(&facts).map(|(own, facts)| (own, judge(facts, here.now), here.zone().shown(facts.filled))).collect();
    let gone =
        newest.into_iter().filter(|lot| !numbers.contains(&lot.number)).map(|lot| (lot.clone(), here.zone().shown(lot.filled))).collect();
    page(&Index { frame: Frame::of(&here, "Jars", "Jars").await?, standing, gone })
}

/// The jars on hand as a sheet, each lot with its verdict: what hangs on the fridge door, or goes to an inspector.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn on_hand_sheet(ledger: &Ledger, zone: Zone, now: Moment) -> Result<Sheet, Box<dyn std::error::Error>> {
    let mut db = ledger.read().await?;
    let standing = lots::on_hand(&mut db, now).await?;
    let numbers: Vec<i64> = standing.iter().map(|own| own.lot.number).collect();
    let facts = verdict::facts(&mut db, &numbers, zone, now).await?;
    let columns = [
        ("Lot", Holds::Codes, 3),
        ("Verdict", Holds::Words, 3),
        ("Why", Holds::Words, 9),
        ("Left, by the book", Holds::Words, 4),
        ("Filled", Holds::Words, 4),
        ("Best by", Holds::Words, 4),
    ];
    let mut table = Table::new("onhand", "Lots with jars left, oldest first", &columns);
    table.when_empty = "No lot has jars left.".to_owned();
    for (own, facts) in standing.iter().zip(&facts) {
        let verdict = judge(facts, now);
        let best_by = facts.best_by().map_or_else(|| "not named".to_owned(), day_shown);
        table.row([
            own.lot.code.clone(),
            verdict.word().to_string(),
            verdict.reason(),
            own.by_the_book.to_string(),
            zone.in_full(own.lot.filled),
            best_by,
        ]);
    }
    Ok(Sheet {
        name: "onhand".to_owned(),
        title: "Jars on hand".to_owned(),
        under: zone.in_full(now),
        facts: Vec::new(),
        parts: vec![Part::Table(table)],
    })
}

async fn found(here: &Here, typed: &str) -> Result<lots::Lot, Trouble> {
    let code = LotCode::parse(typed);
    let mut db = here.app.ledger.read().await?;
    if let Ok(code) = &code
        && let Some(lot) = lots::find(&mut db, code.as_str()).await?
    {
        return Ok(lot);
    }
    let newest = records::keys(&mut db, kind_of("lots")?).await?;
    let near = crate::trade::near::unknown("lot", typed, newest.iter().rev().map(|(_, code)| code.as_str()));
    Err(Trouble::NotThere(match code {
        Ok(_) => near,
        Err(fault) => format!("{fault} {near}"),
    }))
}

async fn show(here: Here, Path(typed): Path<String>) -> Answer {
    let lot = found(&here, &typed).await?;
    page(&view(&here, lot, &Fields::default(), Vec::new()).await?)
}

async fn view(here: &Here, lot: lots::Lot, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let facts = verdict::facts(&mut db, &[lot.number], here.zone(), here.now)
        .await?
        .into_iter()
        .next()
        .ok_or_else(|| Trouble::NotThere(format!("Lot {} is gone.", lot.code)))?;
    let movements = lots::moved(&mut db, &[lot.number]).await?.remove(&lot.number).unwrap_or_default();
    let counts = lots::counts(&mut db, &[lot.number]).await?.remove(&lot.number).unwrap_or_default();
    let struck = records::struck(&mut db, kind_of("lots")?, lot.number).await?;
    drop(db);
    let verdict = judge(&facts, here.now);
    let counted = counts.last().filter(|count| movements.iter().all(|own| own.at <= count.at));
    let jars = LotJars::gathered(&movements, counted.map(|count| count.jars).or_else(|| nothing_left(&movements)));
    let window = find_window(&movements, &counts);
    let mut history: Vec<(Moment, String, String)> = movements.iter().map(|own| (own.at, moved_words(own), who_of(here, own))).collect();
    history.extend(counts.iter().map(|count| (count.at, format!("Counted: {}", count.jars), String::new())));
    history.extend(facts.readings.iter().map(|reading| (reading.at, format!("Read {}", reading.temperature), String::new())));
    history.extend(facts.holds.iter().map(|hold| (hold.at, format!("{} was held", hold.what), hold.reason.clone())));
    history.extend(struck.iter().map(|own| (own.at, "Corrected".to_owned(), format!("by {}: {}", own.who, own.why))));
    history.sort_by_key(|(at, _, _)| *at);
    let field = |name, label, shape| Field::named(name, label, shape, typed, &remarks);
    Ok(Show {
        frame: Frame::of(here, "Jars", format!("Lot {}", lot.code)).await?,
        filled: here.zone().in_full(lot.filled),
        state: state(&facts, &verdict, &jars),
        findings: told(here, &verdict),
        facts: known(here, &lot, &facts),
        readings: facts
            .readings
            .iter()
            .map(|own| (here.zone().shown(own.at), after_milking(&facts, own), own.temperature.to_string()))
            .collect(),
        chart: chart(&facts),
        balance: jars.balance(),
        jars,
        window: window
            .as_ref()
            .map(|window| format!("between {} and {}", here.zone().shown(window.from), here.zone().shown(window.until)))
            .unwrap_or_default(),
        callers: window.map(|window| window.callers).unwrap_or_default().into_iter().filter(|_| here.visitor.is_owner()).collect(),
        history: history.into_iter().map(|(at, what, more)| (here.zone().shown(at), what, more)).collect(),
        aside: vec![
            field("sort", "Went to", Shape::OneOf(&["household", "calf", "sample", "shelf jar", "broken", "thrown out", "returned"]))
                .choosing(
                    ["household", "calf", "sample", "shelf jar", "broken", "thrown out", "returned"]
                        .iter()
                        .map(|word| ((*word).to_owned(), (*word).to_owned()))
                        .collect(),
                    true,
                ),
            field("reason", "Reason", Shape::Words(200)).optional(true),
        ],
        sizes: SIZES
            .iter()
            .filter(|(_, _, size)| lot.jars.of(*size) > 0)
            .map(|(name, label, _)| field(name, label, Shape::Count(0, 999)))
            .collect(),
        entry: if typed.get("entry").is_empty() { secret::entry() } else { typed.get("entry").to_owned() },
        lot,
        verdict,
        remarks,
    })
}

/// What was found, a line each; the cows about whom there is nothing to say share one.
fn told(here: &Here, verdict: &Verdict) -> Vec<(&'static str, String, String, String)> {
    let mut lines = Vec::new();
    let mut fine: Vec<(&'static str, Vec<&str>)> = Vec::new();
    for own in &verdict.findings {
        let cow = match own {
            Finding::Treated { cow, .. } | Finding::JustCalved { cow, .. } | Finding::Foremilk { cow, .. } if own.word() == Word::CanGo => {
                cow
            }
            _ => {
                lines.push((own.about(), own.word().mark().to_owned(), own.word().to_string(), own.reason(here.zone())));
                continue;
            }
        };
        match fine.iter_mut().find(|(about, _)| *about == own.about()) {
            Some((_, cows)) if !cows.contains(&cow.as_str()) => cows.push(cow),
            Some(_) => {}
            None => fine.push((own.about(), vec![cow])),
        }
    }
    lines.extend(fine.into_iter().map(|(about, cows)| {
        let says = match about {
            "Foremilk" => "First squirts as they should be",
            "Treatment" => "No treatment's time was running",
            _ => "Past her calving",
        };
        (about, Word::CanGo.mark().to_owned(), Word::CanGo.to_string(), format!("{says}: {}.", cows.join(", ")))
    }));
    lines
}

/// When the book says that nothing is left there is nothing to count.
fn nothing_left(movements: &[Movement]) -> Option<Jars> {
    LotJars::gathered(movements, None).by_the_book().is_none().then_some(Jars::NONE)
}

fn moved_words(own: &Movement) -> String {
    let what = match own.what {
        What::Filled => "Filled",
        What::Returned => "Brought back",
        What::HandedOut => "Handed out",
        What::Household => "To the household",
        What::Calf => "To the calf",
        What::IntoLot => "Made into another lot",
        What::Sample => "Sample",
        What::ShelfJar => "Shelf jar",
        What::Broken => "Broken",
        What::ThrownOut => "Thrown out",
    };
    format!("{what}: {}", own.jars)
}

/// A helper sees how many jars went, and not to whom.
fn who_of(here: &Here, own: &Movement) -> String {
    if here.visitor.is_owner() && !own.who.is_empty() { format!("to {}", own.who) } else { String::new() }
}

/// Where the milk is, as opposed to whether it may move.
fn state(facts: &Facts, verdict: &Verdict, jars: &LotJars) -> &'static str {
    let chill = verdict.findings.iter().find_map(|own| if let Finding::Chill(chilled) = own { Some(chilled.overall) } else { None });
    if !facts.holds.is_empty() {
        "Held (withheld)"
    } else if jars.by_the_book().is_none() && jars.thrown_out == jars.filled && !jars.filled.is_none() {
        "Thrown out"
    } else if jars.by_the_book().is_none() {
        "Gone"
    } else if chill == Some(Standing::Due) {
        "Chilling"
    } else {
        "Ready"
    }
}

fn known(here: &Here, lot: &lots::Lot, facts: &Facts) -> Vec<(&'static str, String)> {
    let sessions: Vec<String> = facts
        .milkings
        .iter()
        .map(|own| format!("{} ({})", own.session, own.cows.iter().map(|part| part.cow.as_str()).collect::<Vec<_>>().join(", ")))
        .collect();
    let parents: Vec<&str> = facts.parents.iter().map(|(code, _, _)| code.as_str()).collect();
    let ended = facts.milkings.iter().filter_map(|own| own.times.end).max();
    let all = [
        ("Jars filled", lot.jars.to_string()),
        ("Milk from", sessions.join("; ")),
        ("Made from", parents.join(", ")),
        ("Milking ended", ended.map(|at| here.zone().shown(at)).unwrap_or_default()),
        ("From vessel", lot.vessel.clone()),
        ("Oldest milk", here.zone().shown(facts.oldest())),
        ("Best by", facts.best_by().map(day_shown).unwrap_or_else(|| "no rule or choice names a day".to_owned())),
        ("Note", lot.note.clone()),
    ];
    all.into_iter().filter(|(_, says)| !says.is_empty()).collect()
}

fn after_milking(facts: &Facts, reading: &Reading) -> String {
    let ended = facts.milkings.iter().filter_map(|own| own.times.end).filter(|end| *end <= reading.at).max();
    ended.map(|end| span_shown(reading.at.minutes_since(end))).unwrap_or_else(|| "before it ended".to_owned())
}

/// Readings of the first eight hours after milking began, in a frame 400 wide: 40 to 390 for the hours, 20 to 140 for the
/// degrees from 30 to 105 °F.
fn chart(facts: &Facts) -> Option<Chart> {
    let start = facts.milkings.iter().map(|own| own.times.start).min()?;
    let shown: Vec<&Reading> = facts.readings.iter().filter(|own| own.at >= start && own.at.minutes_since(start) <= 480).collect();
    if shown.is_empty() {
        return None;
    }
    let across = |at: Moment| 40 + at.minutes_since(start) * 350 / 480;
    let up = |exact: i64| (140 - (exact - (-1_000)) * 120 / 37_500).clamp(12, 146);
    let points: Vec<(i64, i64, String)> =
        shown.iter().map(|own| (across(own.at), up(own.temperature.exact()), own.temperature.to_string())).collect();
    let path = points
        .iter()
        .enumerate()
        .map(|(nth, (x, y, _))| format!("{}{x} {y}", if nth == 0 { "M" } else { "L" }))
        .collect::<Vec<_>>()
        .join(" ");
    let limit = facts.rules.base.steps.0.iter().map(|step| step.limit).min().map(|limit| (up(limit.exact()), limit.to_string()));
    Some(Chart {
        says: format!(
            "What the jar of {} showed, by hours after milking began. The dashed line is the coldest limit of its rule. Lines between readings only join them; nothing is known in between.",
            facts.code
        ),
        points,
        path,
        limit,
        hours: (0..=4).map(|n| (40 + n * 350 / 4, format!("{} h", n * 2))).collect(),
    })
}

async fn set_aside(here: Here, Path(typed_code): Path<String>, Sealed(typed): Sealed) -> Answer {
    let lot = found(&here, &typed_code).await?;
    match aside_kept(&here, &lot, &typed).await? {
        remarks if remarks.is_empty() => onward(&format!("/lots/{}", lot.code)),
        remarks => again(&view(&here, lot, &typed, remarks).await?),
    }
}

async fn aside_kept(here: &Here, lot: &lots::Lot, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let zero = |name: &str| if typed.get(name).trim().is_empty() { "0".to_owned() } else { typed.get(name).to_owned() };
    let line = Fields::default()
        .with("at", here.zone().for_file(here.now))
        .with("lot", lot.code.clone())
        .with("sort", typed.get("sort"))
        .with("half_gallons", zero("half_gallons"))
        .with("gallons", zero("gallons"))
        .with("quarts", zero("quarts"))
        .with("pints", zero("pints"))
        .with("reason", typed.get("reason"));
    let kind = kind_of("asides")?;
    let cells = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(remarks),
    };
    let mut tx = here.app.ledger.begin().await?;
    let book =
        LotJars::gathered(lots::moved(&mut tx, &[lot.number]).await?.get(&lot.number).map_or(&[][..], Vec::as_slice), None).by_the_book();
    let going = kind.jars(&cells);
    let mut remarks = slips::remarks(kind, &cells, here.farm.ways, here.now);
    if going.is_none() {
        remarks.push(Remark::fault("half_gallons", "How many jars? At least one."));
    } else if typed.get("sort") != "returned"
        && !book.covers(going)
        && records::by_entry(&mut tx, kind, typed.get("entry")).await?.is_none()
    {
        remarks.push(Remark::fault(
            "half_gallons",
            format!(
                "By the book {book} are left of {}, so {going} cannot go. Count the fridge, or correct what was written before.",
                lot.code
            ),
        ));
    }
    if !remarks.is_empty() {
        return Ok(remarks);
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep(&mut tx, kind, typed.get("entry"), cells, &act).await {
        Ok(_) => tx.commit().await.map(|()| Vec::new()).map_err(Trouble::from),
        Err(refusal) => remarks_of(refusal),
    }
}
