//! What everybody is told: the farm's own words for the phone, an e-mail, a text and the fridge door, each looked over for what a
//! recall message has to hold and what has no place in it.

use super::{
    App, Frame, Here,
    keeping::{self, Line},
};
use crate::{
    paper::poster::{self, Poster},
    store::trace,
    trade::{
        case::Case,
        kinds::WORDED,
        records::Remark,
        wording::{self, Filling},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page, paper},
        form::{Fields, Sealed},
        rooms::Rooms,
        secret,
        visitor::Who,
    },
};
use askama::Template;
use axum::extract::Path;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new().look("/callbacks/{number}/words", Who::Owner, show).send("/callbacks/{number}/words", Who::Owner, keep).look(
        "/callbacks/{number}/door.pdf",
        Who::Owner,
        door,
    )
}

/// One wording on the page.
struct Worded {
    way: &'static str,
    title: &'static str,
    says: String,
    kept: String,
    remarks: Vec<Remark>,
    sure: bool,
}

const TITLES: [(&str, &str); 4] = [
    ("call script", "On the phone"),
    ("text", "Text message"),
    ("e-mail", "E-mail"),
    ("door sheet", "Sheet for the fridge door and the gate"),
];

#[derive(Template)]
#[template(path = "callbacks/words.html")]
struct Words {
    frame: Frame,
    case: Case,
    all: Vec<Worded>,
    blanks: [(&'static str, &'static str); 3],
    entry: String,
}

impl Words {
    /// The mark of one of the forms on the page.
    fn mark(&self, nth: usize) -> String {
        secret::entry_within(&self.entry, nth)
    }
}

async fn view(here: &Here, number: i64, typed: &Fields, remarks: Vec<Remark>) -> Result<Words, Trouble> {
    let case = super::case(here, number).await?;
    let all = TITLES.iter().map(|(way, title)| {
        let own = case.wording(way);
        let is_typed = typed.get("way") == *way;
        Worded {
            way,
            title,
            says: if is_typed {
                typed.get("says").to_owned()
            } else {
                own.map_or_else(|| wording::offered(way, &case.because), |own| own.says.clone())
            },
            kept: own.map(|own| format!("{} by {}", here.zone().shown(own.at), own.who)).unwrap_or_default(),
            sure: is_typed && !remarks.is_empty() && remarks.iter().all(|own| own.question.is_some()),
            remarks: if is_typed { remarks.clone() } else { Vec::new() },
        }
    });
    let all = all.collect();
    let frame = Frame::of(here, "Binder", "What to say").await?;
    Ok(Words { frame, all, blanks: wording::BLANKS, entry: secret::entry(), case })
}

async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    page(&view(&here, number, &Fields::default(), Vec::new()).await?)
}

async fn keep(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let names: Vec<String> = trace::households(&mut *here.app.ledger.read().await?).await?.into_iter().map(|own| own.name).collect();
    if !WORDED.contains(&typed.get("way")) {
        return Err(Trouble::Unreadable);
    }
    let mut remarks = wording::looked_over(typed.get("way"), typed.get("says"), &names);
    remarks.retain(|own| own.question.is_none() || !typed.is_sure("says"));
    if !remarks.is_empty() {
        return again(&view(&here, number, &typed, remarks).await?);
    }
    let line =
        Line::of("messages").now(&here).with("callback", number.to_string()).with("way", typed.get("way")).with("says", typed.get("says"));
    match keeping::all(&here, typed.get("entry"), vec![line]).await? {
        Ok(_) => onward(&format!("/callbacks/{number}/words")),
        Err(remarks) => again(&view(&here, number, &typed, remarks).await?),
    }
}

/// The sheet for the fridge door: few words, large, with every code.
async fn door(here: Here, Path(number): Path<i64>) -> Answer {
    let case = super::case(&here, number).await?;
    let words = case.wording("door sheet").map_or_else(|| wording::offered("door sheet", &case.because), |own| own.says.clone());
    let with = Filling { lots: case.codes(), farm: here.farm.name.clone(), phone: here.farm.phone.clone() };
    let title = if case.practice { "FOR PRACTICE ONLY" } else { "DO NOT DRINK THIS MILK" };
    let lines = wording::filled(&words, &with).split('\n').map(str::to_owned).filter(|line| !line.is_empty()).collect();
    let poster = Poster { title: title.to_owned(), under: here.farm.name.clone(), lines, address: String::new() };
    let bytes = poster::print(&poster, &here.zone().in_full(here.now)).map_err(|fault| Trouble::Ours(fault.to_string()))?;
    paper(bytes, "application/pdf", &format!("door-sheet-{number}.pdf"))
}
