//! E-mail of a call-back: whom it may go to, with one tap to send it, and where each one stands.

use super::{App, Frame, Here, kind_of, remarks_of};
use crate::{
    store::{
        post::{self as mails, CallBack, Concerned, Mailing, Wording},
        records,
    },
    trade::{
        post::{State, may_send, state},
        reach::address_of,
        records::{Cell, Remark},
        wording::{Filling, filled},
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
use axum::extract::Path;
use sqlx::SqliteConnection;

/// The doors of this file.
#[must_use]
pub fn rooms() -> Rooms<App> {
    Rooms::new().look("/callbacks/{number}/mail", Who::Owner, show).send("/callbacks/{number}/mail", Who::Owner, send)
}

#[derive(Template)]
#[template(path = "mail/show.html")]
struct Show {
    frame: Frame,
    number: i64,
    opened: String,
    /// Why nothing can be sent; empty when it can.
    shut: String,
    /// How it leaves: host and address.
    leaves: String,
    wording: Option<Worded>,
    /// Who has no e-mail in the latest words.
    picks: Vec<Pick>,
    /// Who was not surely reached by the latest words.
    once_more: Vec<Pick>,
    /// Who has no address.
    without: Vec<String>,
    sent: Vec<Row>,
    entry: String,
    remarks: Vec<Remark>,
}

/// The latest words, and how they read for the first household.
struct Worded {
    number: i64,
    at: String,
    says: String,
}

/// A household to tick.
struct Pick {
    person: i64,
    called: String,
    hint: String,
    ticked: bool,
}

/// An e-mail that was asked for.
struct Row {
    called: String,
    address: String,
    asked: String,
    state: State,
    says: String,
    answer: String,
}

/// What is known of a call-back, for showing it and for sending.
struct Known {
    callback: CallBack,
    wording: Option<Wording>,
    concerned: Vec<Concerned>,
    mailings: Vec<Mailing>,
}

async fn known(db: &mut SqliteConnection, number: i64) -> Result<Known, Trouble> {
    let found = mails::call_back(&mut *db, number).await?;
    Ok(Known {
        callback: found.ok_or_else(|| Trouble::NotThere(format!("There is no call-back {number}.")))?,
        wording: mails::wording(&mut *db, number).await?,
        concerned: mails::concerned(&mut *db, number).await?,
        mailings: mails::of_call_back(db, number).await?,
    })
}

/// Where a household is written to: its first way that is an address.
fn address(own: &Concerned) -> Option<&str> {
    address_of(&own.household.phone).or_else(|| address_of(&own.household.second_way))
}

impl Known {
    /// A household's e-mail in the latest words.
    fn newest(&self, person: i64) -> Option<&Mailing> {
        let wording = self.wording.as_ref()?;
        self.mailings.iter().find(|own| own.person == person && own.message == wording.number)
    }

    /// Why nothing can be sent from here; empty when it can.
    fn shut(&self, app: &App) -> String {
        match (&app.demo, may_send(&self.callback.sort), &app.post, &self.wording) {
            (Some(_), ..) => "The sample farm never sends anything.".to_owned(),
            (_, Err(fault), ..) => fault.to_string(),
            (_, _, None, _) => {
                "No mail server is set: use the one-tap links. To have one, start the program with TALLYPAIL_SMTP.".to_owned()
            }
            (.., None) => "Nothing is worded for e-mail yet.".to_owned(),
            _ => String::new(),
        }
    }
}

async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    page(&view(&here, number, &Fields::default(), Vec::new()).await?)
}

async fn view(here: &Here, number: i64, typed: &Fields, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let known = known(&mut *here.app.ledger.read().await?, number).await?;
    let example = known.concerned.first().map_or(&[][..], |own| own.lots.as_slice());
    let worded = |own: &Wording| Worded {
        number: own.number,
        at: here.zone().in_full(own.at),
        says: filled(&own.says, &Filling { lots: example.to_vec(), farm: here.farm.name.clone(), phone: here.farm.phone.clone() }),
    };
    let addressed = known.concerned.iter().filter(|own| address(own).is_some());
    let (picks, once_more): (Vec<_>, Vec<_>) = addressed
        .filter(|own| known.newest(own.household.number).is_none_or(|own| stands(own, here).is_to_be_rung()))
        .partition(|own| known.newest(own.household.number).is_none());
    Ok(Show {
        number,
        opened: here.zone().in_full(known.callback.at),
        shut: known.shut(&here.app),
        leaves: here.app.post.as_ref().map_or_else(String::new, |post| format!("{} as {}", post.host(), post.from())),
        wording: known.wording.as_ref().map(worded),
        picks: picks.into_iter().map(|own| first_time(own, &known, here, typed)).collect(),
        once_more: once_more.into_iter().map(|own| Pick::of(own, "", is_ticked(typed, "again", own))).collect(),
        without: known.concerned.iter().filter(|own| address(own).is_none()).map(|own| own.household.called()).collect(),
        sent: known.mailings.iter().rev().map(|own| row(own, here)).collect(),
        entry: typed.entry(),
        remarks,
        frame: Frame::of(here, "Binder", "E-mail of a call-back (recall)").await?,
    })
}

fn stands(own: &Mailing, here: &Here) -> State {
    state(own.asked, &own.steps, here.now)
}

fn is_ticked(typed: &Fields, name: &str, own: &Concerned) -> bool {
    typed.all(name).any(|ticked| ticked == own.household.number.to_string())
}

impl Pick {
    fn of(own: &Concerned, earlier: &str, ticked: bool) -> Pick {
        let hint = format!("{}; {}{earlier}", address(own).unwrap_or_default(), own.lots.join(", "));
        Pick { person: own.household.number, called: own.household.called(), hint, ticked }
    }
}

/// Somebody who has no e-mail in the latest words; ticked from the start where they have none in any.
fn first_time(own: &Concerned, known: &Known, here: &Here, typed: &Fields) -> Pick {
    let before = known.mailings.iter().rev().find(|mailing| mailing.person == own.household.number);
    let earlier = before.map_or_else(String::new, |own| format!("; earlier words: {}", stands(own, here).word()));
    Pick::of(own, &earlier, if here.sent { is_ticked(typed, "who", own) } else { before.is_none() })
}

fn row(own: &Mailing, here: &Here) -> Row {
    let state = stands(own, here);
    Row {
        called: own.called.clone(),
        address: own.address.clone(),
        asked: here.zone().in_full(own.asked),
        state,
        says: state.says(here.zone()),
        answer: own.steps.last().map(|step| step.answer.clone()).unwrap_or_default(),
    }
}

/// Keeps an e-mail for everybody who is ticked, all or none, and rings for whoever carries them.
async fn send(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let mut tx = here.app.ledger.begin().await?;
    let remarks = kept(&mut tx, &here, number, &typed).await?;
    if !remarks.is_empty() {
        drop(tx);
        return again(&view(&here, number, &typed, remarks).await?);
    }
    tx.commit().await?;
    if let Some(post) = &here.app.post {
        post.ring();
    }
    onward(&format!("/callbacks/{number}/mail"))
}

/// The mark of one household's e-mail, by the form's own mark and not by a place in a list.
fn mark(typed: &Fields, person: i64) -> String {
    secret::entry_within(&format!("{}/{person}", typed.get("entry")), 0)
}

async fn kept(db: &mut SqliteConnection, here: &Here, number: i64, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let known = known(&mut *db, number).await?;
    let wrong = |says: String| Ok(vec![Remark::fault("who", says)]);
    let shut = known.shut(&here.app);
    let Some(wording) = known.wording.as_ref().filter(|_| shut.is_empty()) else { return wrong(shut) };
    if !secret::is_entry(typed.get("entry")) {
        return wrong("This form has lost its mark. Open the page again and send it from there.".to_owned());
    }
    let numbers = |name: &'static str| typed.all(name).filter_map(|own| own.parse::<i64>().ok()).collect::<Vec<i64>>();
    let (first, once_more) = (numbers("who"), numbers("again"));
    if first.is_empty() && once_more.is_empty() {
        return wrong("Nobody is ticked. Tick every household that shall have it.".to_owned());
    }
    // The form came before: all of it was kept then.
    if first.iter().chain(&once_more).any(|person| known.mailings.iter().any(|own| own.entry == mark(typed, *person))) {
        return Ok(Vec::new());
    }
    if typed.get("wording") != wording.number.to_string() {
        return wrong("The words were changed in the meantime. Read them again before you send them.".to_owned());
    }
    // Whoever was asked for by another hand in the same minute has theirs already.
    let first: Vec<i64> = first.into_iter().filter(|person| known.newest(*person).is_none()).collect();
    let rung = |own: &Mailing| stands(own, here).is_to_be_rung();
    let once_more: Vec<i64> = once_more.into_iter().filter(|person| known.newest(*person).is_some_and(rung)).collect();
    let mut asked: Vec<(i64, i64)> = first.into_iter().map(|person| (wording.number, person)).collect();
    if !once_more.is_empty() {
        let words = match worded_again(&mut *db, here, number, wording, typed).await? {
            Ok(words) => words,
            Err(remarks) => return Ok(remarks),
        };
        asked.extend(once_more.into_iter().map(|person| (words, person)));
    }
    ask_for(db, here, &known, typed, &asked).await
}

/// The same words as a message of their own. One message goes to one household once, and the ledger itself holds to that; whoever
/// sends it again, knowing that it may come twice, says so with a record.
async fn worded_again(
    db: &mut SqliteConnection,
    here: &Here,
    number: i64,
    wording: &Wording,
    typed: &Fields,
) -> Result<Result<i64, Vec<Remark>>, Trouble> {
    let act = records::act(&mut *db, here.now, &here.visitor.name, "screen").await?;
    let at = Cell::Whole(here.now.in_seconds().max(wording.at.in_seconds()));
    let cells = vec![Cell::To(number), at, Cell::Text("e-mail".to_owned()), Cell::Text(wording.says.clone())];
    let entry = secret::entry_within(&format!("{}/words", typed.get("entry")), 0);
    match records::keep(db, kind_of("messages")?, &entry, cells, &act).await {
        Ok(kept) => Ok(Ok(kept.number)),
        Err(refusal) => Ok(Err(remarks_of(refusal)?)),
    }
}

async fn ask_for(
    db: &mut SqliteConnection,
    here: &Here,
    known: &Known,
    typed: &Fields,
    asked: &[(i64, i64)],
) -> Result<Vec<Remark>, Trouble> {
    let act = records::act(&mut *db, here.now, &here.visitor.name, "screen").await?;
    let kind = kind_of("mailings")?;
    for (message, person) in asked {
        let found = known.concerned.iter().find(|own| own.household.number == *person);
        let Some(address) = found.and_then(address) else {
            let says = "Somebody who is ticked has no address, or none of the lots, any more. Look at the list again.";
            return Ok(vec![Remark::fault("who", says)]);
        };
        let cells = vec![Cell::To(*message), Cell::Whole(here.now.in_seconds()), Cell::To(*person), Cell::Text(address.to_owned())];
        if let Err(refusal) = records::keep(&mut *db, kind, &mark(typed, *person), cells, &act).await {
            return remarks_of(refusal);
        }
    }
    Ok(Vec::new())
}
