//! One household: what it is promised and when it comes next, who fetches for it, what it signed, and what it took.

use super::{Row, doubles, named, next_after};
use crate::{
    pages::{Frame, Here, kind_of, papers, remarks_of},
    store::{
        corrections,
        people::{self, Person},
        pickups::{self, HandedOut},
        records,
    },
    trade::{
        agreements::{Paper, Stands, counting},
        capital, household_slips, in_an_address,
        kinds::Kind,
        needs::Lack,
        parts::Hundredths,
        pickups::written_late,
        promises::{Share, next_pickup},
        records::{Cell, Record, Remark, Shape},
        slips,
        verdict::Word,
        when::{Day, day_shown, parse_day},
    },
    web::{
        answer::{Answer, Trouble, again, onward, page},
        form::Sealed,
        secret,
        upload::Upload,
    },
};
use askama::Template;
use axum::extract::Path;
use sqlx::SqliteConnection;

/// A hand-out with its time, how late it was written, and its frozen word.
type Told = (HandedOut, String, Option<String>, Word);

/// Hand-outs shown at once; the older ones lie behind one tap.
const AT_ONCE: usize = 20;
/// The most that are on the page at all, a year of a household that comes twice a week.
const ON_THE_PAGE: i64 = 120;

#[derive(Template)]
#[template(path = "people/show.html")]
struct Show {
    frame: Frame,
    row: Row,
    since: String,
    until: String,
    /// Whether they left before today.
    has_left: bool,
    /// What is promised on their next pickup day, and when that is.
    next: Option<(String, String)>,
    shares: Vec<Held>,
    pauses: Vec<Held>,
    collectors: Vec<Held>,
    papers: Vec<Held>,
    /// What they lack, each with the page that puts it right and what is done there.
    lacks: Vec<(String, String, &'static str)>,
    /// The number a new share would get.
    next_share: String,
    today: Day,
    /// A day that was sent and cannot be, with the record and the column it was for.
    sent: Option<SetDay>,
    entry: String,
    remarks: Vec<Remark>,
    /// The day a trace starts from: that of their newest hand-out.
    trace_day: String,
    outs: Vec<Told>,
    older: Vec<Told>,
    /// How many there are in all, and how many of them came before those on the page.
    hand_outs: i64,
    earlier: i64,
    jars: String,
    doubles: Vec<Vec<(String, String)>>,
}

/// A record of a household: what it says, and whether its day can be set with one tap.
struct Held {
    kind: &'static str,
    number: i64,
    version: i64,
    says: String,
    more: String,
    /// What is odd about it.
    chip: &'static str,
    /// What a tap would write: the column, and the words on the button. Nothing for what is over, or is everybody's.
    tap: Option<(&'static str, &'static str)>,
    /// The paper itself.
    document: Option<i64>,
}

impl Held {
    fn of(kind: &'static Kind, record: &Record, says: String, more: String) -> Held {
        Held { kind: kind.name, number: record.number, version: record.version, says, more, chip: "", tap: None, document: None }
    }
}

/// A day somebody set that was not kept.
#[derive(Clone)]
struct SetDay {
    kind: &'static str,
    number: i64,
    day: String,
}

impl Show {
    /// The day that was sent for a record, if one was.
    fn sent_for(&self, own: &Held) -> Option<&str> {
        self.sent.as_ref().filter(|sent| (sent.kind, sent.number) == (own.kind, own.number)).map(|sent| sent.day.as_str())
    }
}

pub(super) async fn show(here: Here, Path(label): Path<String>) -> Answer {
    page(&view(&here, &label, None, Vec::new()).await?)
}

async fn view(here: &Here, label: &str, sent: Option<SetDay>, remarks: Vec<Remark>) -> Result<Show, Trouble> {
    let (mut db, today) = (here.app.ledger.read().await?, here.zone().day(here.now));
    let people = people::list(&mut db, today).await?;
    let person = named(&people, label)?.clone();
    let outs = pickups::of_person(&mut db, person.taker.number, ON_THE_PAGE).await?;
    let (hand_outs, jars) = pickups::taken_by(&mut db, person.taker.number).await?;
    let shares = people::shares(&mut db).await?;
    let next = next(&mut db, here, &person, &shares, &outs).await?;
    let mut doubles = doubles(&people);
    doubles.retain(|shared| shared.iter().any(|(own, _)| *own == person.taker.label));
    let (promised, paused) = (promised(&mut db, &person, today).await?, paused(&mut db, &person, today).await?);
    let (collectors, papers) = (fetching(&mut db, &person, today).await?, own_papers(&mut db, &person).await?);
    drop(db);
    Ok(Show {
        frame: Frame::of(here, "People", person.taker.called()).await?,
        since: person.taker.since.map(day_shown).unwrap_or_default(),
        until: person.taker.until.map(day_shown).unwrap_or_default(),
        has_left: person.taker.until.is_some_and(|until| until < today),
        next,
        shares: promised,
        pauses: paused,
        collectors,
        lacks: lacks(&person, &papers, today),
        papers: signed(&papers, today)?,
        next_share: next_after(shares.iter().map(|own| own.share.as_str()), "S01"),
        today,
        sent,
        entry: secret::entry(),
        remarks,
        trace_day: here.zone().day(outs.first().map_or(here.now, |out| out.at)).to_string(),
        jars: jars.to_string(),
        hand_outs,
        earlier: (hand_outs - ON_THE_PAGE).max(0),
        older: outs.iter().skip(AT_ONCE).map(|out| told(here, out)).collect(),
        outs: outs.iter().take(AT_ONCE).map(|out| told(here, out)).collect(),
        doubles,
        row: Row::of(person),
    })
}

/// What they are promised on their next pickup day, and when that is. Whoever took something today comes next on another day.
async fn next(
    db: &mut SqliteConnection,
    here: &Here,
    person: &Person,
    shares: &[Share],
    outs: &[HandedOut],
) -> Result<Option<(String, String)>, Trouble> {
    let today = here.zone().day(here.now);
    let took_today = outs.iter().any(|out| here.zone().day(out.at) == today);
    let from = if took_today { today.succ_opt().unwrap_or(today) } else { today };
    let pauses = people::pauses(db).await?;
    let next = next_pickup(person.taker.number, &person.taker.pickup_day, shares, &pauses, from);
    let next = next.filter(|(day, _)| person.taker.is_here(*day));
    Ok(next.map(|(day, jars)| (jars.half_gallons(), if day == today { "today".to_owned() } else { day_shown(day) })))
}

/// The records of a kind that name a household, the newest first.
async fn own(db: &mut SqliteConnection, kind: &'static Kind, person: i64) -> Result<Vec<Record>, Trouble> {
    let mut all = records::list(db, kind).await?;
    all.retain(|record| *record.cell(kind, "person") == Cell::To(person));
    all.sort_by(|one, other| other.cell(kind, "since").text().cmp(one.cell(kind, "since").text()));
    Ok(all)
}

/// From when to when, in words: `since Sat 1 Apr 2023`.
fn span(kind: &Kind, record: &Record) -> String {
    let day = |column: &str| parse_day(record.cell(kind, column).text()).ok().map(day_shown);
    let since = day("since").unwrap_or_default();
    day("until").map_or_else(|| format!("since {since}"), |until| format!("{since} to {until}"))
}

/// Whether it goes on after a day.
fn goes_on(kind: &Kind, record: &Record, after: Day) -> bool {
    parse_day(record.cell(kind, "until").text()).map_or(true, |until| until > after)
}

/// What more a record says: its note.
fn noted(kind: &Kind, record: &Record, says: &str) -> String {
    let note = record.cell(kind, "note").text();
    [says, note].into_iter().filter(|says| !says.is_empty()).collect::<Vec<_>>().join(". ")
}

async fn promised(db: &mut SqliteConnection, person: &Person, today: Day) -> Result<Vec<Held>, Trouble> {
    let kind = kind_of("shares")?;
    let held = |record: &Record| {
        let share = Share::of(kind, &record.cells, record.number, person.taker.number)?;
        let place = share.place.map(|place| format!(", place {place} when short")).unwrap_or_default();
        let more = format!("{}{place}, by {}", span(kind, record), share.way);
        let mut held = Held::of(kind, record, capital(&share.called()), noted(kind, record, &more));
        held.tap = goes_on(kind, record, today).then_some(("until", "End it"));
        let outlasts = person.taker.until.is_some_and(|left| share.until.is_none_or(|until| until > left));
        held.chip = match (outlasts, share.holds(today), share.since > today) {
            (true, ..) => "outlasts their leaving",
            (_, true, _) => "",
            (.., true) => "not begun",
            _ => "over",
        };
        Some(held)
    };
    Ok(own(db, kind, person.taker.number).await?.iter().filter_map(held).collect())
}

/// Their own pauses, and those for everybody that are not over.
async fn paused(db: &mut SqliteConnection, person: &Person, today: Day) -> Result<Vec<Held>, Trouble> {
    let kind = kind_of("pauses")?;
    let mut all = records::list(db, kind).await?;
    let is_here = person.taker.until.is_none_or(|left| left >= today);
    let not_over = |own: &Record| is_here && parse_day(own.cell(kind, "until").text()).is_ok_and(|until| until >= today);
    all.retain(|own| match own.cell(kind, "person") {
        Cell::To(number) => *number == person.taker.number,
        _ => not_over(own),
    });
    all.sort_by(|one, other| other.cell(kind, "since").text().cmp(one.cell(kind, "since").text()));
    let held = |record: &Record| {
        let moved = parse_day(record.cell(kind, "moved_to").text()).map(day_shown);
        let more = moved.map(|day| format!("Pickup moved to {day}")).unwrap_or_default();
        let mut held = Held::of(kind, record, capital(&span(kind, record)), noted(kind, record, &more));
        let everybodys = *record.cell(kind, "person") == Cell::Empty;
        held.chip = if everybodys { "for everybody" } else { "" };
        let has_begun = parse_day(record.cell(kind, "since").text()).is_ok_and(|since| since <= today);
        held.tap = (!everybodys && has_begun && goes_on(kind, record, today)).then_some(("until", "End it"));
        held
    };
    Ok(all.iter().map(held).collect())
}

async fn fetching(db: &mut SqliteConnection, person: &Person, today: Day) -> Result<Vec<Held>, Trouble> {
    let kind = kind_of("collectors")?;
    let held = |record: &Record| {
        let reach = record.cell(kind, "reach").text();
        let more = if reach.is_empty() { span(kind, record) } else { format!("{reach}, {}", span(kind, record)) };
        let mut held = Held::of(kind, record, record.cell(kind, "name").text().to_owned(), more);
        held.tap = goes_on(kind, record, today).then_some(("until", "End it"));
        held
    };
    Ok(own(db, kind, person.taker.number).await?.iter().map(held).collect())
}

async fn own_papers(db: &mut SqliteConnection, person: &Person) -> Result<Vec<Paper>, Trouble> {
    let mut papers = people::papers(db).await?;
    papers.retain(|own| own.person == person.taker.number);
    Ok(papers)
}

/// Whether a paper was given and only has to be signed.
fn waits_for_a_name(own: &Paper, today: Day) -> bool {
    own.stands(today) == Stands::Unsigned && own.signed.is_none()
}

/// Their papers, those that count first.
fn signed(papers: &[Paper], today: Day) -> Result<Vec<Held>, Trouble> {
    let kind = kind_of("agreements")?;
    let count: Vec<i64> = counting(papers).iter().map(|own| own.number).collect();
    let mut papers: Vec<&Paper> = papers.iter().collect();
    papers.sort_by_key(|own| (!count.contains(&own.number), own.given));
    let held = |own: &&Paper| Held {
        kind: kind.name,
        number: own.number,
        version: own.version,
        says: own.says(today),
        more: own.note.clone(),
        chip: if count.contains(&own.number) { "" } else { "one before" },
        tap: match own.stands(today) {
            Stands::Unsigned if waits_for_a_name(own, today) => Some(("signed", "It is signed")),
            Stands::Good | Stands::EndsSoon(_) if own.until.is_none() => Some(("until", "End it")),
            _ => None,
        },
        document: own.document,
    };
    Ok(papers.iter().map(held).collect())
}

/// What a household lacks, and where that is put right: a paper that was given is signed below, and not written down again.
fn lacks(person: &Person, papers: &[Paper], today: Day) -> Vec<(String, String, &'static str)> {
    let label = in_an_address(&person.taker.label);
    let given = |need: &str| papers.iter().find(|own| own.sort == need && waits_for_a_name(own, today));
    let put_right = |lack: &Lack| match lack {
        Lack::SecondWay => (format!("/records/people/{}", person.taker.number), "Write it down"),
        Lack::Unsigned(need) | Lack::RanOut(need, _) => match given(&need.to_string()) {
            Some(own) => (format!("#agreements-{}", own.number), "Say that it is signed"),
            None => {
                let sort = in_an_address(&need.to_string());
                (format!("/records/agreements/new?person={label}&sort={sort}&back=/people/{label}"), "Write it down")
            }
        },
    };
    let told = |lack: &Lack| {
        let (address, says) = put_right(lack);
        (capital(&lack.to_string()), address, says)
    };
    person.taker.lacks.iter().map(told).collect()
}

fn told(here: &Here, out: &HandedOut) -> Told {
    let words = [Word::CanGo, Word::Wait, Word::CantTell, Word::KeepBack];
    let word = words.into_iter().find(|word| word.to_string() == out.verdict).unwrap_or(Word::CantTell);
    (out.clone(), here.zone().in_full(out.at), written_late(out.at, out.written), word)
}

/// Sets one day of one record of a household: a share, a pause, a stand-in or a paper ends, or a paper is signed.
pub(super) async fn set_day(here: Here, Path(label): Path<String>, Sealed(typed): Sealed) -> Answer {
    let column = typed.get("column");
    let may =
        matches!((typed.get("kind"), column), ("shares" | "pauses" | "collectors" | "agreements", "until") | ("agreements", "signed"));
    let kind = if may { kind_of(typed.get("kind"))? } else { return Err(Trouble::NotThere("There is no such day to set.".to_owned())) };
    let mut tx = here.app.ledger.begin().await?;
    let found = records::find(&mut tx, kind, typed.get("number").parse().unwrap_or(0)).await?;
    let record = found.ok_or_else(|| Trouble::NotThere(format!("There is no {} with this number.", kind.one)))?;
    let mut remarks = Vec::new();
    if typed.get("version") != record.version.to_string() {
        remarks.push(Remark::fault("day", "Somebody corrected this in the meantime. Look at it again before you change it."));
    } else {
        remarks.extend(day_set(&mut tx, &here, kind, &record, column, typed.get("day")).await?);
    }
    if remarks.is_empty() {
        tx.commit().await?;
        return onward(&format!("/people/{label}"));
    }
    drop(tx);
    let sent = SetDay { kind: kind.name, number: record.number, day: typed.get("day").to_owned() };
    again(&view(&here, &label, Some(sent), remarks).await?)
}

/// Corrects that one day, or says what stands against it.
async fn day_set(
    db: &mut SqliteConnection,
    here: &Here,
    kind: &'static Kind,
    record: &Record,
    column: &str,
    typed: &str,
) -> Result<Vec<Remark>, Trouble> {
    let cell = match Shape::Day.read(typed, here.farm.ways) {
        Ok(Cell::Empty) => return Ok(vec![Remark::fault("day", "Which day? Choose one, then send it again.")]),
        Ok(cell) => cell,
        Err(fault) => return Ok(vec![Remark::fault("day", fault)]),
    };
    let mut cells = record.cells.clone();
    if let Some(own) = kind.place_of(column).and_then(|place| cells.get_mut(place)) {
        *own = cell;
    }
    let mut remarks = slips::remarks(kind, &cells, here.farm.ways, here.latest());
    remarks.extend(household_slips::remarks(kind, &cells, &people::beside(&mut *db).await?, Some(record.number)));
    // What is only asked about was asked when the record was written; here one day of it changes, to one somebody chose.
    remarks.retain(|remark| remark.question.is_none());
    if !remarks.is_empty() {
        return Ok(remarks);
    }
    let act = records::act(&mut *db, here.now, &here.visitor.name, "screen").await?;
    let why = if column == "signed" { "it was signed" } else { "it ends on that day" };
    match corrections::correct(db, kind, record, cells, why, &act).await {
        Ok(()) => Ok(Vec::new()),
        Err(refusal) => remarks_of(refusal),
    }
}

/// What is kept here.
const WHAT: &str = "the signed paper";

/// Keeps the PDF of an agreement beside it.
pub(super) async fn keep_paper(here: Here, Path(label): Path<String>, upload: Upload) -> Answer {
    let (kind, number) = (kind_of("agreements")?, upload.fields.get("number").parse().unwrap_or(0));
    let says = match papers::wrong(&upload, WHAT) {
        Some(says) => Some(says),
        None => papers::keep(&here, &upload, kind, number, WHAT).await?,
    };
    match says {
        None => onward(&format!("/people/{label}")),
        Some(says) => again(&view(&here, &label, None, vec![Remark::fault("paper", says)]).await?),
    }
}
