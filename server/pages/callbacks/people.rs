//! Reaching everybody: the list in the order to ring, and for each household the words to say, every way to reach them by one
//! tap, what came of it, and what became of each jar. Del can go on where Mina stopped: every try stands as soon as it is kept.

use super::{
    App, Frame, Here,
    keeping::{self, Line},
};
use crate::{
    store::records,
    trade::{
        called::{Recipient, Standing, To},
        case::Case,
        jars::{Jars, Size},
        kinds::{BECAME, OUTCOMES, REACHED_BY},
        reach,
        records::Remark,
        whereabouts,
        wording::{self, Filling},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::{Path, Query};

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/callbacks/{number}/people", Who::Owner, list).look("/callbacks/{number}/people/{to}", Who::Owner, one).send(
        "/callbacks/{number}/people/{to}",
        Who::Owner,
        tried,
    )
}

#[derive(Template)]
#[template(path = "callbacks/people.html")]
struct List {
    frame: Frame,
    case: Case,
    rows: Vec<Row>,
    progress: String,
}

/// Somebody on the list.
struct Row {
    mark: String,
    called: String,
    standing: Standing,
    had: String,
    left: String,
    last: String,
    /// Whether it was they who rang.
    rang: bool,
    ways: Vec<(String, Option<String>)>,
}

fn row(here: &Here, case: &Case, own: &Recipient) -> Row {
    let last = own.tries.last().map(|own| format!("{} {}, {}, {}", own.way, here.zone().shown(own.at), own.outcome, own.who));
    Row {
        mark: own.to.mark(),
        called: own.called(),
        standing: own.standing(),
        had: own.jars().to_string(),
        left: own.left().to_string(),
        last: last.unwrap_or_default(),
        rang: case.told_it(own.to),
        ways: if case.practice { Vec::new() } else { own.ways() },
    }
}

async fn list(here: Here, Path(number): Path<i64>) -> Answer {
    let case = super::case(&here, number).await?;
    let rows = case.recipients.iter().map(|own| row(&here, &case, own)).collect();
    let frame = Frame::of(&here, "Binder", "Whom to ring").await?;
    page(&List { frame, rows, progress: case.progress().says(), case })
}

/// One field of the jars: its name, its label and what is in it.
struct Count {
    name: String,
    label: &'static str,
    value: String,
}

/// The jars of one lot and size they had.
struct Had {
    code: String,
    size: &'static str,
    count: i64,
    fields: Vec<Count>,
    note: (String, String),
    first: bool,
}

#[derive(Template)]
#[template(path = "callbacks/one.html")]
struct One {
    frame: Frame,
    case: Case,
    row: Row,
    carried: String,
    erased: bool,
    script: Vec<String>,
    dial: Vec<(String, String)>,
    had: Vec<Had>,
    tries: Vec<(String, String, String)>,
    way: String,
    outcome: String,
    note: String,
    remarks: Vec<Remark>,
    entry: String,
}

/// What somebody had and says, as fields: `12.half_gallons.drunk`.
fn had(case: &Case, own: &Recipient, typed: &Fields) -> Vec<Had> {
    let mut all = Vec::new();
    for (lot, jars) in &own.had {
        let code = code(case, *lot);
        for (nth, size) in whereabouts::sizes(std::iter::once(*jars)).into_iter().enumerate() {
            let fields = BECAME.iter().map(|became| {
                let name = format!("{lot}.{}.{became}", column(size));
                Count { value: typed.get(&name).to_owned(), name, label: became }
            });
            let note = format!("{lot}.note");
            let note = (note.clone(), typed.get(&note).to_owned());
            all.push(Had { code: code.clone(), size: size.one(), count: jars.of(size), fields: fields.collect(), note, first: nth == 0 });
        }
    }
    all
}

fn code(case: &Case, lot: i64) -> String {
    case.lots.iter().find(|known| known.number == lot).map(|known| known.code.clone()).unwrap_or_default()
}

const fn column(size: Size) -> &'static str {
    match size {
        Size::Gallon => "gallons",
        Size::HalfGallon => "half_gallons",
        Size::Quart => "quarts",
        Size::Pint => "pints",
    }
}

fn filling(here: &Here, case: &Case, own: &Recipient) -> Filling {
    let codes = case.lots.iter().filter(|known| own.had.contains_key(&known.number)).map(|known| known.code.clone());
    Filling { lots: codes.collect(), farm: here.farm.name.clone(), phone: here.farm.phone.clone() }
}

/// The words for a way: the farm's own where it wrote some, the offered ones otherwise.
fn says(case: &Case, way: &str, with: &Filling) -> String {
    let words = case.wording(way).map_or_else(|| wording::offered(way, &case.because), |own| own.says.clone());
    wording::filled(&words, with)
}

/// Links that ring, text and write to them with the words filled in.
fn dial(here: &Here, case: &Case, own: &Recipient) -> Vec<(String, String)> {
    let with = filling(here, case, own);
    let mut links = Vec::new();
    for (way, link) in own.ways().into_iter().filter_map(|(way, link)| link.map(|link| (way, link))) {
        let (verb, words) = if link.starts_with("tel:") { ("Text", "text") } else { ("Write to", "e-mail") };
        links.extend(link.starts_with("tel:").then(|| (format!("Ring {way}"), link)));
        let message = reach::message_of(&way, &wording::subject(&here.farm.name), &says(case, words, &with));
        links.extend(message.map(|link| (format!("{verb} {way}"), link)));
    }
    links
}

async fn view(here: &Here, number: i64, to: &str, typed: &Fields, remarks: Vec<Remark>) -> Result<One, Trouble> {
    let case = super::case(here, number).await?;
    let own = To::parse(to).and_then(|to| case.recipient(to)).cloned();
    let own = own.ok_or_else(|| Trouble::NotThere("They are not on the list of this call-back.".to_owned()))?;
    let zone = here.zone();
    let tries = own
        .tries
        .iter()
        .rev()
        .map(|own| (format!("{}: {}", own.way, own.outcome), format!("{}, {}", zone.shown(own.at), own.who), own.note.clone()));
    let script = says(&case, "call script", &filling(here, &case, &own));
    Ok(One {
        frame: Frame::of(here, "Binder", own.called()).await?,
        row: row(here, &case, &own),
        carried: own.carried.iter().cloned().collect::<Vec<_>>().join(", "),
        erased: own.household.is_some() && own.ways().is_empty(),
        script: script.split("\n\n").map(str::to_owned).collect(),
        dial: if case.practice { Vec::new() } else { dial(here, &case, &own) },
        had: had(&case, &own, typed),
        tries: tries.collect(),
        way: if own.household.is_none() && typed.get("way").is_empty() {
            "note at the door".to_owned()
        } else {
            typed.get("way").to_owned()
        },
        outcome: typed.get("outcome").to_owned(),
        note: typed.get("note").to_owned(),
        remarks,
        entry: typed.entry(),
        case,
    })
}

async fn one(here: Here, Path((number, to)): Path<(i64, String)>, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    page(&view(&here, number, &to, &Fields(asked), Vec::new()).await?)
}

/// Keeps a try and what they said of their jars, in one act, and goes on to whoever is next.
async fn tried(here: Here, Path((number, to)): Path<(i64, String)>, Sealed(typed): Sealed) -> Answer {
    let case = super::case(&here, number).await?;
    let Some(own) = To::parse(&to).and_then(|to| case.recipient(to)) else { return Err(Trouble::Unreadable) };
    let told = match told(&case, own, &typed) {
        Ok(told) => told,
        Err(remarks) => return again(&view(&here, number, &to, &typed, remarks).await?),
    };
    match keep(&here, &case, own, &typed, told).await? {
        Ok(()) => onward(&next(&here, number, own.to).await?),
        Err(remarks) => again(&view(&here, number, &to, &typed, remarks).await?),
    }
}

/// What they said of their jars: a line for each lot and what became of them.
struct Said {
    lot: i64,
    became: &'static str,
    jars: Jars,
    note: String,
}

fn told(case: &Case, own: &Recipient, typed: &Fields) -> Result<Vec<Said>, Vec<Remark>> {
    let (mut said, mut remarks) = (Vec::new(), Vec::new());
    for lot in own.had.keys() {
        let mut all = Jars::NONE;
        for became in BECAME {
            let count = |size: Size, remarks: &mut Vec<Remark>| {
                let name = format!("{lot}.{}.{became}", column(size));
                let text = typed.get(&name).trim();
                text.is_empty().then_some(0).or_else(|| text.parse::<i64>().ok().filter(|count| (0..=999).contains(count))).unwrap_or_else(
                    || {
                        remarks.push(Remark::fault(&name, format!("“{}” is not a number of jars.", crate::trade::short(text))));
                        0
                    },
                )
            };
            let jars = Jars {
                gallons: count(Size::Gallon, &mut remarks),
                half_gallons: count(Size::HalfGallon, &mut remarks),
                quarts: count(Size::Quart, &mut remarks),
                pints: count(Size::Pint, &mut remarks),
            };
            all = all + jars;
            if !jars.is_none() {
                said.push(Said {
                    lot: *lot,
                    became,
                    jars,
                    note: if *became == "gave away" { typed.get(&format!("{lot}.note")).to_owned() } else { String::new() },
                });
            }
        }
        let had = own.had.get(lot).copied().unwrap_or(Jars::NONE);
        if !had.covers(all) && !typed.is_sure("jars") {
            let says = format!(
                "They tell of {all} of lot {}, and {had} are written as handed out. Is that right? It can be kept: the page then shows it as told too many.",
                code(case, *lot)
            );
            remarks.push(Remark::question("jars", says, None));
        }
    }
    if !said.is_empty() && typed.get("outcome") != "reached" {
        remarks.push(Remark::fault("outcome", "They said what became of their jars, so they were reached: choose that."));
    }
    if remarks.is_empty() { Ok(said) } else { Err(remarks) }
}

async fn keep(here: &Here, case: &Case, own: &Recipient, typed: &Fields, told: Vec<Said>) -> Result<Result<(), Vec<Remark>>, Trouble> {
    let (person, pickup) = match (own.to, &own.household) {
        (To::Household(_), Some(household)) => (household.label.clone(), String::new()),
        (To::WalkIn(pickup), _) => (String::new(), pickup.to_string()),
        (To::Household(_), None) => return Err(Trouble::Unreadable),
    };
    let line = Line::of("contacts")
        .now(here)
        .with("callback", case.number.to_string())
        .with("person", person)
        .with("pickup", pickup)
        .with("way", typed.get("way"))
        .with("outcome", typed.get("outcome"))
        .with("note", typed.get("note"));
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    let contact = match keeping::within(&mut tx, here, &act, typed.get("entry"), vec![line]).await? {
        Ok(numbers) => numbers.first().copied().unwrap_or_default(),
        Err(remarks) => return Ok(Err(remarks)),
    };
    let back = back(case, own, &told);
    let mut lines = Vec::new();
    for own in told {
        let line = Line::of("tellings").with("contact", contact.to_string()).with("lot", code(case, own.lot)).with("became", own.became);
        lines.push(by_size(line, own.jars).with("note", own.note));
    }
    for (lot, jars) in back {
        let line = Line::of("asides").now(here).with("lot", code(case, lot)).with("sort", "returned");
        lines.push(by_size(line, jars).with("reason", format!("Call-back {}", case.number)));
    }
    let kept = keeping::within(&mut tx, here, &act, &secret::entry_within(typed.get("entry"), 1), lines).await?;
    if kept.is_ok() {
        tx.commit().await?;
    }
    Ok(kept.map(drop))
}

/// Jars that came back since what was last told: they stand in the fridge again, so the lot's own book has to know. In practice
/// nothing came back.
fn back(case: &Case, own: &Recipient, told: &[Said]) -> Vec<(i64, Jars)> {
    let returned = told.iter().filter(|own| own.became == "returned" && !case.practice);
    returned
        .map(|now| (now.lot, (now.jars - own.became(now.lot, "returned")).short_and_over().0))
        .filter(|(_, jars)| !jars.is_none())
        .collect()
}

fn by_size(line: Line, jars: Jars) -> Line {
    Size::ALL.into_iter().fold(line, |line, size| line.with(column(size), jars.of(size).to_string()))
}

/// The next to be tried, or the list when nobody is left.
async fn next(here: &Here, number: i64, just: To) -> Result<String, Trouble> {
    let case = super::case(here, number).await?;
    let next = case.to_ring(Some(just));
    Ok(next.map_or_else(|| format!("/callbacks/{number}/people"), |to| format!("/callbacks/{number}/people/{}", to.mark())))
}
