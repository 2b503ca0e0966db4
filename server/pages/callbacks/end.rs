//! The steps besides calls: who was told, what has to be so before milk goes again, cause, correction and prevention, and the
//! signature at the end. A practice is graded and filed here instead.

use super::{
    App, Frame, Here,
    keeping::{self, Line},
};
use crate::{
    trade::{
        case::{Case, USUAL_CONDITIONS},
        kinds::COURSE,
        practice::Grade,
        reach,
        records::Remark,
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
use chrono::Months;

/// The doors of this file.
pub(super) fn rooms() -> Rooms<App> {
    Rooms::new()
        .look("/callbacks/{number}/end", Who::Owner, show)
        .send("/callbacks/{number}/end", Who::Owner, step)
        .send("/callbacks/{number}/conditions", Who::Owner, condition)
        .send("/callbacks/{number}/conditions/{condition}", Who::Owner, met)
        .send("/callbacks/{number}/grade", Who::Owner, grade)
}

/// What a step is for, and what to write in it.
const STEPS: [(&str, &str, &str); 9] = [
    ("health department told", "Health department told", "Whom you spoke to, what they asked for, their number"),
    ("insurer told", "Insurer told", "Whom, and the claim’s number"),
    ("class by the authority", "Class the authority gave", "I, II or III, and who said so; the farm does not class a recall itself"),
    ("public warned", "Public warned", "Whether and how; the authority decides with you"),
    ("effectiveness checked", "Effectiveness checked", "How many households were asked a second time, and what they knew and did"),
    ("cause", "Cause", "What was found, or that nothing was found"),
    ("correction", "Correction", "What was put right"),
    ("prevention", "Prevention", "What keeps it from happening again"),
    ("note", "Anything else", "Never names of other households"),
];

/// A step on the page: its word, its title, its hint, and what was written of it.
struct Step {
    sort: &'static str,
    title: &'static str,
    hint: &'static str,
    written: Vec<(String, String)>,
    typed: String,
    remarks: Vec<Remark>,
}

#[derive(Template)]
#[template(path = "callbacks/end.html")]
struct End {
    frame: Frame,
    steps: Vec<Step>,
    usual: Vec<&'static str>,
    conditions: Vec<(i64, String, String)>,
    closing: Vec<Remark>,
    closed: String,
    signed: String,
    health: Vec<(String, Option<String>)>,
    grade: Vec<(String, String, bool)>,
    remarks: Vec<Remark>,
    typed: Fields,
    entry: String,
    case: Case,
}

impl End {
    /// The mark of one of the forms on the page.
    fn mark(&self, nth: usize) -> String {
        secret::entry_within(&self.entry, nth)
    }

    /// Whether only questions stand in the way of closing it.
    fn may_close_all_the_same(&self) -> bool {
        !self.closing.is_empty() && self.closing.iter().all(|own| own.question.is_some())
    }
}

async fn view(here: &Here, number: i64, typed: &Fields, remarks: Vec<Remark>) -> Result<End, Trouble> {
    let case = super::case(here, number).await?;
    let zone = here.zone();
    let steps = STEPS.iter().map(|(sort, title, hint)| {
        let own = case.courses.iter().filter(|own| own.sort == *sort);
        let is_typed = typed.get("sort") == *sort;
        Step {
            sort,
            title,
            hint,
            written: own.map(|own| (own.says.clone(), format!("{}, {}", zone.shown(own.at), own.who))).collect(),
            typed: if is_typed { typed.get("says").to_owned() } else { String::new() },
            remarks: if is_typed { remarks.clone() } else { Vec::new() },
        }
    });
    let conditions = case.conditions.iter().map(|own| {
        let met = own
            .met
            .as_ref()
            .map(|(at, signed, known)| format!("{}, {signed}{}{known}", zone.shown(*at), if known.is_empty() { "" } else { ": " }));
        (own.number, own.says.clone(), met.unwrap_or_default())
    });
    Ok(End {
        frame: Frame::of(here, "Binder", "Who was told, and the end").await?,
        steps: steps.collect(),
        usual: USUAL_CONDITIONS.into_iter().filter(|says| !case.conditions.iter().any(|own| own.says == *says)).collect(),
        conditions: conditions.collect(),
        closing: if typed.get("sort") == "closed" { remarks.clone() } else { Vec::new() },
        closed: case.closed().map(|own| format!("{}, signed {}: {}", zone.in_full(own.at), own.signed, own.says)).unwrap_or_default(),
        signed: if typed.get("signed").is_empty() { here.visitor.name.clone() } else { typed.get("signed").to_owned() },
        health: reach::numbers(&here.farm.health),
        grade: if case.practice { Grade::of(&case, here.now).lines() } else { Vec::new() },
        remarks: if typed.get("sort").is_empty() { remarks } else { Vec::new() },
        typed: typed.clone(),
        entry: secret::entry(),
        case,
    })
}

async fn show(here: Here, Path(number): Path<i64>) -> Answer {
    page(&view(&here, number, &Fields::default(), Vec::new()).await?)
}

/// Keeps a step; closing looks first at what is missing.
async fn step(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let case = super::case(&here, number).await?;
    let sort = typed.get("sort");
    if !COURSE.contains(&sort) {
        return Err(Trouble::Unreadable);
    }
    let mut remarks = if sort == "closed" { case.before_closing() } else { Vec::new() };
    remarks.retain(|own| own.question.is_none() || !typed.is_sure("closed"));
    if ["closed", "opened again"].contains(&sort) && typed.get("signed").trim().is_empty() {
        remarks.push(Remark::fault("signed", "Sign it with your name."));
    }
    if !remarks.is_empty() {
        return again(&view(&here, number, &typed, remarks).await?);
    }
    let line = Line::of("courses").now(&here).with("callback", number.to_string()).with("sort", sort);
    let line = line.with("says", typed.get("says")).with("signed", typed.get("signed"));
    kept(&here, number, &typed, vec![line]).await
}

async fn kept(here: &Here, number: i64, typed: &Fields, lines: Vec<Line>) -> Answer {
    match keeping::all(here, typed.get("entry"), lines).await? {
        Ok(_) => onward(&format!("/callbacks/{number}/end")),
        Err(remarks) => again(&view(here, number, typed, remarks).await?),
    }
}

/// Keeps conditions: the usual ones that were ticked, and one in their own words.
async fn condition(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    super::case(&here, number).await?;
    let says: Vec<&str> = typed.all("says").map(str::trim).filter(|says| !says.is_empty()).collect();
    if says.is_empty() {
        let remark = Remark::fault("condition", "Tick a condition, or write one.");
        return again(&view(&here, number, &typed, vec![remark]).await?);
    }
    let lines = says.into_iter().map(|says| Line::of("conditions").now(&here).with("callback", number.to_string()).with("says", says));
    kept(&here, number, &typed, lines.collect()).await
}

/// Ticks a condition, with how it is known and a signature.
async fn met(here: Here, Path((number, condition)): Path<(i64, i64)>, Sealed(typed): Sealed) -> Answer {
    let case = super::case(&here, number).await?;
    if !case.conditions.iter().any(|own| own.number == condition && own.met.is_none()) {
        return onward(&format!("/callbacks/{number}/end"));
    }
    if typed.get("note").trim().is_empty() {
        let remark = Remark::fault("condition", "Write how it is known: a paper, a call, who saw it.");
        return again(&view(&here, number, &typed, vec![remark]).await?);
    }
    let line = Line::of("conditions_met").now(&here).with("condition", condition.to_string());
    kept(&here, number, &typed, vec![line.with("signed", typed.get("signed")).with("note", typed.get("note"))]).await
}

/// Ends a practice: its grade in words closes it, and the yearly practice is done today.
async fn grade(here: Here, Path(number): Path<i64>, Sealed(typed): Sealed) -> Answer {
    let case = super::case(&here, number).await?;
    if !case.practice || case.closed().is_some() {
        return onward(&format!("/callbacks/{number}/end"));
    }
    if !case.progress().all_tried() && !typed.is_sure("grade") {
        let remark =
            Remark::fault("grade", "Not everybody was tried. Go on with the list, or end it all the same: what was missed is filed too.");
        return again(&view(&here, number, &typed, vec![remark]).await?);
    }
    let says = Grade::of(&case, here.now).says();
    let today = here.zone().day(here.now);
    let until = today.checked_add_months(Months::new(12)).unwrap_or(today);
    let closing = Line::of("courses").now(&here).with("callback", number.to_string()).with("sort", "closed");
    let filed = Line::of("renewals")
        .with("sort", "practice call-back")
        .with("what", format!("Practice call-back {number}: {}", case.codes().join(", ")).chars().take(100).collect::<String>());
    let lines = vec![
        closing.with("says", says.clone()).with("signed", here.visitor.name.clone()),
        filed.with("done", today.to_string()).with("until", until.to_string()).with("note", says.chars().take(200).collect::<String>()),
    ];
    kept(&here, number, &typed, lines).await
}
