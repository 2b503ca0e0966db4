//! The owner's passes: made at random for somebody and some days, shown once, withdrawn at once, with everything that was looked at.

use crate::{
    pages::{App, Frame, Here, bound, field::Field},
    paper::qr::Qr,
    store::{farm, passes},
    trade::{
        figures::NOTICE,
        passes::{NAMED, Pass, SECRET, days_shown, last_day, shown},
        records::{Remark, Shape},
        when::day_shown,
    },
    web::{
        address,
        answer::{Answer, Trouble, again, onward, page},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::{extract::Path, http::HeaderMap};

/// Where the passes stand.
const ADDRESS: &str = "/binder/pass";

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look(ADDRESS, Who::Owner, index).send(ADDRESS, Who::Owner, give).look("/binder/pass/{pass}", Who::Owner, one).send(
        "/binder/pass/{pass}/withdraw",
        Who::Owner,
        withdraw,
    )
}

/// Every pass, and a form for another.
#[derive(Template)]
#[template(path = "binder/passes.html")]
struct Index {
    frame: Frame,
    lines: Vec<Line>,
    fields: Vec<Field>,
    remarks: Vec<Remark>,
    names: bool,
    /// The newest pass, so that a form sent twice makes no second one.
    after: i64,
}

/// A pass in the list.
struct Line {
    number: i64,
    for_whom: String,
    /// The digits that name it, and when it was made: what tells two passes for one person apart.
    named: String,
    made: String,
    shows: String,
    stands: String,
    views: usize,
}

/// The card, with the code on it this one time.
#[derive(Template)]
#[template(path = "binder/card.html")]
struct Card {
    frame: Frame,
    number: i64,
    code: String,
    address: String,
    /// Whether that address opens on no other machine.
    only_here: bool,
    qr: Option<Qr>,
    farm: String,
    for_whom: String,
    shows: String,
    last_day: String,
}

impl Card {
    fn notice(&self) -> &'static str {
        NOTICE
    }
}

/// One pass with its views.
#[derive(Template)]
#[template(path = "binder/pass.html")]
struct One {
    frame: Frame,
    number: i64,
    facts: Vec<(&'static str, String)>,
    views: Vec<(String, String, String)>,
    opens: bool,
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<Index, Trouble> {
    let mut db = here.app.ledger.read().await?;
    let (all, began) = (passes::list(&mut db).await?, farm::since(&mut db).await?);
    drop(db);
    let today = here.zone().day(here.now);
    // Most passes are made the evening before a visit, and the milking of its morning belongs to it.
    let (from, tomorrow) = (bound::usual(began, today).from.to_string(), today.succ_opt().unwrap_or(today).to_string());
    let opened = || typed.clone().with("from", from).with("to", tomorrow.clone()).with("last_day", tomorrow);
    let typed = if here.sent { typed.clone() } else { opened() };
    let field = |name: &str, label: &str, shape| Field::named(name, label, shape, &typed, &remarks);
    let line = |(pass, views): &(Pass, usize)| Line {
        number: pass.number,
        for_whom: pass.for_whom.clone(),
        named: pass.named.clone(),
        made: here.zone().in_full(pass.made),
        shows: days(pass),
        stands: pass.stands(here.zone(), here.now),
        views: *views,
    };
    Ok(Index {
        frame: Frame::of(here, "Binder", "Inspector’s pass").await?,
        lines: all.iter().map(line).collect(),
        fields: vec![
            field("for_whom", "For whom", Shape::Words(80)).hinted("Their name and their office"),
            field("from", "Shows the records from", Shape::Day),
            field("to", "to", Shape::Day).hinted("Days to come show once they are there, up to the last day it opens"),
            field("last_day", "Opens until the end of", Shape::Day).hinted("90 days at most"),
            field("address", "Address their browser opens", Shape::Words(120)).hinted(of_address(typed.get("address"))),
        ],
        names: typed.get("names") == "yes",
        after: all.first().map_or(0, |(pass, _)| pass.number),
        remarks,
    })
}

/// What stands beside the address.
fn of_address(typed: &str) -> String {
    if address::is_of_this_machine(typed) { address::only_here("/pass") } else { "It stands on the card".to_owned() }
}

fn days(pass: &Pass) -> String {
    format!("{} to {}", day_shown(pass.span.from), day_shown(pass.span.to))
}

async fn index(here: Here, headers: HeaderMap) -> Answer {
    let address = address::seen(&headers, here.app.secure, "/pass").unwrap_or_default();
    page(&view(&here, &Fields::default().with("address", address), Vec::new()).await?)
}

async fn give(here: Here, Sealed(typed): Sealed) -> Answer {
    let newest = passes::list(&mut *here.app.ledger.read().await?).await?.into_iter().next().map(|(pass, _)| pass);
    match read(&here, &typed) {
        Ok(_) if typed.get("after").parse() != Ok(newest.as_ref().map_or(0, |pass| pass.number)) => {
            again(&view(&here, &typed, vec![Remark::fault("for_whom", made_since(&here, newest.as_ref()))]).await?)
        }
        Ok((pass, address)) => carded(&here, pass, address).await,
        Err(remarks) => again(&view(&here, &typed, remarks).await?),
    }
}

/// What is said of a form that is sent a second time: its pass may be there, with a code nobody saw.
fn made_since(here: &Here, newest: Option<&Pass>) -> String {
    let which = newest.map_or_else(String::new, |pass| format!(", {} …, on {}", pass.named, here.zone().in_full(pass.made)));
    format!(
        "A pass was made since this page was opened{which}. Its code is shown only once: if nobody wrote it down, withdraw that pass first, \
         then make another."
    )
}

/// The pass a form asks for, without its code, and the address on its card; or all that is wrong.
fn read(here: &Here, typed: &Fields) -> Result<(Pass, String), Vec<Remark>> {
    let mut remarks = Vec::new();
    let today = here.zone().day(here.now);
    let mut day = |name: &str, missing: &str| bound::day_of(typed, name, missing).map_err(|remark| remarks.push(remark)).ok();
    let from = day("from", "Choose the first day whose records the pass shows.");
    let to = day("to", "Choose the last day whose records the pass shows.");
    let last = day("last_day", "Choose the last day the pass opens.");
    let last = last.and_then(|day| last_day(day, today).map_err(|fault| remarks.push(Remark::fault("last_day", fault.to_string()))).ok());
    let latest = here.zone().day(here.latest());
    let span = from.zip(to).and_then(|(from, to)| days_shown(from, to, last, latest).map_err(|wrong| remarks.extend(wrong)).ok());
    let for_whom: String = typed.get("for_whom").trim().chars().filter(|c| !c.is_control()).take(80).collect();
    if for_whom.is_empty() {
        remarks.push(Remark::fault("for_whom", "For whom is it? Write their name and their office."));
    }
    let address = address::typed_for(typed.get("address"), "/pass").map_err(|says| remarks.push(Remark::fault("address", says))).ok();
    let (Some(span), Some(last_day), Some(address), true) = (span, last, address, remarks.is_empty()) else {
        return Err(remarks);
    };
    let pass = Pass {
        number: 0,
        named: String::new(),
        for_whom,
        span,
        last_day,
        names: typed.get("names") == "yes",
        made: here.now,
        who: here.visitor.name.clone(),
        withdrawn: None,
        shut: false,
    };
    Ok((pass, address))
}

async fn carded(here: &Here, pass: Pass, address: String) -> Answer {
    let (number, named, digits) = made(here, &pass).await?;
    let frame = Frame::of(here, "Binder", "Inspector’s pass").await?;
    let (shows, last_day) = (days(&pass), day_shown(pass.last_day));
    // The square opens the page with the first three digits; the secret is typed from the card, so a camera alone opens nothing.
    let qr = Qr::of(&format!("{address}?code={named}"));
    let code = shown(&named, &digits);
    let only_here = address::is_of_this_machine(&address);
    page(&Card { frame, number, code, address, only_here, qr, farm: here.farm.name.clone(), for_whom: pass.for_whom, shows, last_day })
}

/// Makes the code of a pass and keeps its hash; digits that name another pass are thrown away.
async fn made(here: &Here, pass: &Pass) -> Result<(i64, String, String), Trouble> {
    let none = || Trouble::Ours("this machine has no randomness to make a code of".to_owned());
    let digits = secret::digits(SECRET).ok_or_else(none)?;
    let typed = digits.clone();
    let hash = tokio::task::spawn_blocking(move || secret::hash(&typed)).await.ok().flatten().ok_or_else(none)?;
    let mut tx = here.app.ledger.begin().await?;
    for _ in 0..10_000 {
        let named = secret::digits(NAMED).ok_or_else(none)?;
        if let Some(number) = passes::make(&mut tx, &Pass { named: named.clone(), ..pass.clone() }, &hash).await? {
            tx.commit().await?;
            return Ok((number, named, digits));
        }
    }
    Err(Trouble::Refused("A thousand passes have been made, and no digits are left to name another.".to_owned()))
}

async fn found(here: &Here, number: i64) -> Result<Pass, Trouble> {
    let pass = passes::one(&mut *here.app.ledger.read().await?, number).await?;
    pass.ok_or_else(|| Trouble::NotThere(format!("There is no pass {number}.")))
}

async fn one(here: Here, Path(number): Path<i64>) -> Answer {
    let pass = found(&here, number).await?;
    let views = passes::views(&mut *here.app.ledger.read().await?, number).await?;
    let facts = vec![
        ("For", pass.for_whom.clone()),
        ("Shows", days(&pass)),
        ("Stands", pass.stands(here.zone(), here.now)),
        ("Households", if pass.names { "by name".to_owned() } else { "by number".to_owned() }),
        ("Made", format!("{} by {}", here.zone().in_full(pass.made), pass.who)),
        ("Code", format!("{} and nine digits that nobody can show again", pass.named)),
    ];
    let opens = pass.opens(here.zone(), here.now);
    let views = views.into_iter().map(|own| (here.zone().in_full(own.at), own.what, own.address)).collect();
    page(&One { frame: Frame::of(&here, "Binder", format!("Pass for {}", pass.for_whom)).await?, number, facts, views, opens })
}

async fn withdraw(here: Here, Path(number): Path<i64>, Sealed(_): Sealed) -> Answer {
    let pass = found(&here, number).await?;
    let mut tx = here.app.ledger.begin().await?;
    passes::withdraw(&mut tx, pass.number, here.now).await?;
    tx.commit().await?;
    onward(&format!("{ADDRESS}/{number}"))
}
