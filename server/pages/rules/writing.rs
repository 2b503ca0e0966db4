//! Writing a set of rules down: from a place, or like one that is followed and changed from a day on. The older set stays.

use super::{Answer, Frame, Here, Trouble, kind_of, look_again, place_of, sets};
use crate::{
    pages::{
        field::{Field, fields_of, told_apart},
        remarks_of,
    },
    store::records,
    trade::{
        followed::{questions, written},
        records::{Cell, Remark, read},
        rule_slips, slips,
        when::parse_day,
    },
    web::{
        answer::{again, onward, page},
        form::{Fields, Sealed},
        secret,
    },
};
use askama::Template;
use axum::extract::Query;

/// Which fields stand under which heading; the rest is about the set itself.
const PARTS: [(&str, &[&str]); 3] = [
    ("From when", &["since", "why", "beside", "check_by"]),
    (
        "The rules",
        &[
            "steps",
            "limits",
            "tests",
            "caps",
            "channels",
            "needs",
            "fresh_before",
            "fresh_days",
            "fresh_milkings",
            "strip_fails",
            "best_by_days",
            "best_by_from",
            "resample_after",
            "resample_within",
            "keep_years",
        ],
    ),
    ("Where they were read", &["title", "citation", "url", "text_date", "sure", "notes"]),
];

#[derive(Template)]
#[template(path = "rules/new.html")]
struct New {
    frame: Frame,
    place: String,
    parts: Vec<(&'static str, Vec<Field>)>,
    remarks: Vec<Remark>,
    entry: String,
}

async fn view(here: &Here, typed: &Fields, remarks: Vec<Remark>) -> Result<New, Trouble> {
    let drawn = fields_of(kind_of("rules")?, typed, &remarks, here.farm.ways.scale, &|_| Vec::new());
    let parts = PARTS
        .map(|(heading, names)| {
            (heading, names.iter().filter_map(|name| drawn.iter().find(|field| field.name == *name).cloned()).map(explained).collect())
        })
        .into();
    let entry = if typed.get("entry").is_empty() { secret::entry() } else { typed.get("entry").to_owned() };
    let frame = Frame::of(here, "Binder", "Rules from a day on").await?;
    Ok(New { frame, place: typed.get("place").to_owned(), parts, remarks, entry })
}

/// A field with a word of help where its label alone is not enough.
fn explained(field: Field) -> Field {
    let hint = match field.name.as_str() {
        "since" => "Every lot filled on this day or later is judged by these rules. A lot filled before it keeps the older ones.",
        "why" => return field.optional(false).hinted("In a few words, like: the state changed its limit for coliforms"),
        "check_by" => "From that day on, Today asks you to look the rules up again.",
        "beside" => "Yes: the rules before it hold too, and this set is for other ways of handing out. No: it takes their place.",
        "best_by_days" => "The longest you date a jar. Your own choice where no rule names one.",
        "notes" => "What else is to be kept to, or was read.",
        "sure" => {
            let choices = field.choices.clone();
            return field.choosing(choices, false);
        }
        _ => return field,
    };
    field.hinted(hint)
}

pub(super) async fn new(here: Here, Query(asked): Query<Vec<(String, String)>>) -> Answer {
    let asked = Fields(asked);
    let today = here.zone().day(here.now);
    let typed = if asked.get("place").is_empty() {
        like(&here, asked.get("like")).await?
    } else {
        let place = Fields(written(&place_of(asked.get("place"))?, today, ""));
        // A figure the farm chose for itself does not end with the place it stood beside.
        let own = like(&here, "").await.unwrap_or_default();
        ["best_by_days", "strip_fails"]
            .iter()
            .fold(place, |place, name| if place.get(name).is_empty() { place.with(name, own.get(name).to_owned()) } else { place })
    };
    let typed = typed.with("since", today.to_string()).with("check_by", look_again(today).to_string()).with("why", "");
    page(&view(&here, &typed, Vec::new()).await?)
}

/// What a set in the ledger says, as it would be typed. Without a number, what holds today.
async fn like(here: &Here, number: &str) -> Result<Fields, Trouble> {
    let kind = kind_of("rules")?;
    let mut db = here.app.ledger.read().await?;
    let versions = sets::versions(&mut db).await?;
    let now = super::standing(&versions, here.zone().day(here.now)).now;
    let base = now.iter().find(|own| !own.beside).map(|own| own.number);
    let Some(number) = number.parse().ok().or(base.filter(|_| number.is_empty())) else {
        return Err(Trouble::NotThere("There is no such set of rules. Start from a place's rules, under Binder, Rules.".to_owned()));
    };
    let record = records::find(&mut db, kind, number).await?;
    let record =
        record.ok_or_else(|| Trouble::NotThere(format!("There is no rule set {number}: it was never kept, or was struck through.")))?;
    let typed = kind
        .columns
        .iter()
        .zip(&record.cells)
        .map(|(column, cell)| (column.name.to_owned(), column.shape.show(cell, here.zone(), |_, number| number.to_string())));
    Ok(Fields(typed.collect()))
}

pub(super) async fn create(here: Here, Sealed(typed): Sealed) -> Answer {
    let typed = told_apart(kind_of("rules")?, typed);
    let kept = match judged(&here, &typed).await? {
        Ok(cells) => keep(&here, typed.get("entry"), cells).await?,
        Err(remarks) => remarks,
    };
    if kept.is_empty() { onward("/rules") } else { again(&view(&here, &typed, kept).await?) }
}

/// Reads the form, and asks what there is to ask about it.
async fn judged(here: &Here, typed: &Fields) -> Result<Result<Vec<Cell>, Vec<Remark>>, Trouble> {
    let kind = kind_of("rules")?;
    let read = read(kind, |column| typed.get(column).to_owned(), here.farm.ways);
    let mut remarks = match &read {
        // The day of a rule may lie ahead, which no other happening's may; how far is asked about below.
        Ok(cells) => slips::remarks(kind, cells, here.farm.ways, here.latest()).into_iter().filter(|own| own.field != "since").collect(),
        Err(remarks) => remarks.clone(),
    };
    if typed.get("why").trim().is_empty() {
        remarks.push(Remark::fault("why", "Say in a few words why these rules hold from that day. It stays beside them."));
    }
    if typed.get("beside") == "yes" && matches!(typed.get("channels").trim(), "" | "not known" | "none named") {
        let says =
            "Rules that stand beside others hold for the ways they name, and for no other. Write for which: like farm gate [chosen].";
        remarks.push(Remark::fault("channels", says));
    }
    remarks.extend(about_the_day(here, typed).await?);
    if let Ok(cells) = &read {
        remarks.extend(about_the_set(here, typed, cells).await?);
    }
    let remarks = slips::unanswered(remarks, |field| typed.is_sure(field));
    Ok(match read {
        Ok(cells) if remarks.is_empty() => Ok(cells),
        _ => Err(remarks),
    })
}

/// The one question about the day the rules hold from. The same form sent twice is not asked about itself.
async fn about_the_day(here: &Here, typed: &Fields) -> Result<Option<Remark>, Trouble> {
    let Ok(since) = parse_day(typed.get("since")) else { return Ok(None) };
    let mut db = here.app.ledger.read().await?;
    if records::by_entry(&mut db, kind_of("rules")?, typed.get("entry")).await?.is_some() {
        return Ok(None);
    }
    let (versions, began) = (sets::versions(&mut db).await?, sets::began(&mut db).await?);
    let asked = questions(since, typed.get("beside") == "yes", &versions, began, here.zone().day(here.now));
    Ok(if asked.is_empty() { None } else { Some(Remark::question("since", asked.join(" "), None)) })
}

/// The questions about what the set says, beside the set of the same place before it.
async fn about_the_set(here: &Here, typed: &Fields, cells: &[Cell]) -> Result<Vec<Remark>, Trouble> {
    let kind = kind_of("rules")?;
    let mut db = here.app.ledger.read().await?;
    if records::by_entry(&mut db, kind, typed.get("entry")).await?.is_some() {
        return Ok(Vec::new());
    }
    let said = |own: &[Cell], name: &str| kind.cell(own, name).text().to_owned();
    let set = |own: &[Cell]| rule_slips::Set::of(kind, own);
    let all = records::list(&mut db, kind).await?;
    let earlier =
        all.iter().filter(|own| said(&own.cells, "place") == said(cells, "place") && said(&own.cells, "since") <= said(cells, "since"));
    let before = earlier.max_by_key(|own| (said(&own.cells, "since"), own.number)).map(|own| set(&own.cells));
    Ok(rule_slips::remarks(&set(cells), before.as_ref(), here.zone().day(here.now)))
}

async fn keep(here: &Here, entry: &str, cells: Vec<Cell>) -> Result<Vec<Remark>, Trouble> {
    let mut tx = here.app.ledger.begin().await?;
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep(&mut tx, kind_of("rules")?, entry, cells, &act).await {
        Ok(_) => tx.commit().await.map(|()| Vec::new()).map_err(Trouble::from),
        Err(refusal) => remarks_of(refusal),
    }
}
