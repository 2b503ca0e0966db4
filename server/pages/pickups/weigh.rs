//! What is weighed before a hand-out is kept: who, how much, and what the lot's verdict was. It owns no door.

use crate::{
    pages::{Here, remarks_of},
    store::{
        Failure, lots, packing,
        people::{self, Taker},
        pickups,
        records::{self, Act},
        verdict,
    },
    trade::{
        caps::{Amounts, Of},
        channels::Channel,
        fetched::{Crate, STILL_THEIRS},
        jars::Jars,
        kinds::{Kind, kind},
        near,
        needs::Lack,
        pickups::{Offer, WALK_IN, ask_about, ask_caps, instead, is_planned, lacking_said, marks, right_lot, too_many, unnamed_way},
        records::{Cell, Remark, read},
        slips,
        verdict::{Judging, Verdict, Word, judge_for},
        when::{Day, Moment},
    },
    web::{answer::Trouble, form::Fields},
};
use chrono::Days;
use sqlx::SqliteConnection;
use std::collections::BTreeMap;

/// How somebody who is not known by a number is chosen; nobody is taken for unknown by an empty field.
const UNKNOWN: &str = "unknown";

/// What stands against keeping a hand-out.
#[derive(Clone, Default)]
pub(super) struct Said {
    pub(super) remarks: Vec<Remark>,
    pub(super) asked: String,
    /// What is asked once for a whole act, because it goes over a cap.
    pub(super) over: String,
    /// What a household lacks before it may have milk, in a sentence.
    pub(super) lacking: String,
    pub(super) refused: Option<Refused>,
    /// Of a list: the number of the household it is about, so that its row is marked.
    pub(super) whose: String,
}

impl Said {
    pub(super) fn is_nothing(&self) -> bool {
        self.remarks.is_empty() && self.asked.is_empty() && self.over.is_empty() && self.lacking.is_empty() && self.refused.is_none()
    }

    pub(super) fn remark(field: &str, says: impl ToString) -> Said {
        Said { remarks: vec![Remark::fault(field, says)], ..Said::default() }
    }
}

/// A planned hand-out that is refused out loud.
#[derive(Clone)]
pub(super) struct Refused {
    /// Whose it would have been, where several are handed out at once.
    pub(super) whose: String,
    pub(super) code: String,
    pub(super) word: Word,
    pub(super) reason: String,
    pub(super) next: String,
    pub(super) instead: Option<String>,
}

/// A lot on the shelf, with its verdict now for each way it may be asked for.
#[derive(Clone)]
pub(super) struct Shelf {
    pub(super) number: i64,
    pub(super) offer: Offer,
    day: String,
    verdicts: Vec<(Channel, Verdict)>,
}

impl Shelf {
    pub(super) fn left(&self) -> String {
        format!("{}, {}", self.offer.left.short_and_over().0, self.day)
    }

    fn verdict(&self, way: Channel) -> Option<&Verdict> {
        self.verdicts.iter().find(|(own, _)| *own == way).map(|(_, verdict)| verdict)
    }

    /// Whether it can go some way, and so stands before what cannot.
    pub(super) fn can_go(&self) -> bool {
        self.offer.words.iter().any(|(_, word)| *word == Word::CanGo)
    }

    /// Whether it can go some way only because the owner decided so.
    pub(super) fn is_decided(&self) -> bool {
        self.verdicts.iter().any(|(way, _)| self.is_decided_for(*way))
    }

    /// Whether it can go this way only because the owner decided so.
    pub(super) fn is_decided_for(&self, way: Channel) -> bool {
        self.verdict(way).is_some_and(|verdict| verdict.word() == Word::CanGo && !verdict.decided().is_empty())
    }
}

/// What is on the shelf, and everybody who may come for it.
pub(super) struct Fridge {
    pub(super) shelf: Vec<Shelf>,
    pub(super) takers: Vec<Taker>,
    /// The day the takers are looked at for.
    day: Day,
    /// The crates of the last days and of those packed ahead, with what of each still stands.
    pub(super) crates: Vec<Crate>,
    /// From this day on what stands packed is nobody else's; what was not fetched before is free.
    today: Day,
}

impl Fridge {
    /// The jars of a lot that somebody may have: those that stand packed for others are not theirs.
    pub(super) fn left_for(&self, own: &Shelf, person: Option<i64>) -> Jars {
        let others = self.crates.iter().filter(|packed| packed.day >= self.today && Some(packed.person) != person);
        let packed = others.flat_map(|packed| &packed.lots).filter(|(lot, _, _)| *lot == own.number).map(|(_, _, jars)| jars);
        own.offer.left - Jars::halves(packed.sum())
    }

    /// Lots of which more stand packed than are there: the code, how many stand packed, how many are there, and whose they are.
    pub(super) fn lacking(&self) -> Vec<(String, i64, i64, Vec<String>)> {
        let mut packed: BTreeMap<&str, (i64, Vec<String>)> = BTreeMap::new();
        for own in self.crates.iter().filter(|own| own.day >= self.today) {
            let Some(taker) = self.takers.iter().find(|taker| taker.number == own.person) else { continue };
            for (_, code, jars) in &own.lots {
                let sum = packed.entry(code).or_default();
                sum.0 += jars;
                sum.1.push(taker.label.clone());
            }
        }
        let there = |code: &str| self.shelf.iter().find(|own| own.offer.code == code).map_or(0, |own| own.offer.left.half_gallons.max(0));
        let sums = packed.into_iter().map(|(code, (jars, whose))| (code.to_owned(), jars, there(code), whose));
        sums.filter(|(_, jars, there, _)| jars > there).collect()
    }

    /// What of a crate its household left is free for others.
    pub(super) fn free(&mut self, packing: i64, person: i64) {
        self.crates.retain(|own| (own.packing, own.person) != (packing, person));
    }

    /// The lots of the shelf as they are for somebody.
    pub(super) fn offers_for(&self, person: Option<i64>) -> Vec<Offer> {
        self.shelf.iter().map(|own| Offer { left: self.left_for(own, person), ..own.offer.clone() }).collect()
    }

    /// The number of a lot on the shelf.
    pub(super) fn number_of(&self, code: &str) -> i64 {
        self.shelf.iter().find(|own| own.offer.code == code).map_or(0, |own| own.number)
    }

    /// Somebody by the number they go by.
    pub(super) fn taker(&self, label: &str) -> Option<&Taker> {
        self.takers.iter().find(|taker| taker.label.eq_ignore_ascii_case(label))
    }

    /// Takes jars off the shelf, and off what stood packed for whoever took them.
    fn take(&mut self, number: i64, person: Option<i64>, jars: Jars) {
        if let Some(own) = self.shelf.iter_mut().find(|own| own.number == number) {
            own.offer.left = own.offer.left - jars;
        }
        let own = self.crates.iter_mut().find(|own| own.day >= self.today && Some(own.person) == person);
        if let Some(own) = own {
            own.take(number, jars.half_gallons);
        }
    }
}

/// Every way in which somebody takes milk here, each once.
pub(super) fn ways_of(takers: &[Taker]) -> Vec<Channel> {
    let used = |way: &Channel| takers.iter().any(|taker| taker.way == *way);
    Channel::WORDS.into_iter().map(|(way, _)| way).filter(used).collect()
}

/// The kind of record a hand-out is.
pub(super) fn pickup_kind() -> Result<&'static Kind, Trouble> {
    kind("pickups").ok_or_else(|| Trouble::Ours("no kind pickups".to_owned()))
}

/// Every lot with jars by the book and the count, judged now for every way somebody may take it, and everybody as they stand on
/// a day.
pub(super) async fn fridge(db: &mut SqliteConnection, here: &Here, day: Day) -> Result<Fridge, Failure> {
    let takers = people::takers(&mut *db, day).await?;
    let mut ways = ways_of(&takers);
    if !ways.contains(&WALK_IN) {
        ways.push(WALK_IN);
    }
    let standing = lots::on_hand(&mut *db, here.now).await?;
    let numbers: Vec<i64> = standing.iter().map(|own| own.lot.number).collect();
    let facts = verdict::facts(&mut *db, &numbers, here.zone(), here.now).await?;
    let mut judging = Judging::at(here.now);
    let judged = standing.into_iter().zip(facts).map(|(own, facts)| {
        let verdicts: Vec<(Channel, Verdict)> = ways.iter().map(|way| (*way, judging.lot_for(&facts, *way))).collect();
        let words = verdicts.iter().map(|(way, verdict)| (*way, verdict.word())).collect();
        let offer = Offer { left: own.to_promise(), words, filled: own.lot.filled, code: own.lot.code };
        Shelf { number: own.lot.number, day: here.zone().day(own.lot.filled).format("%a %-d %b").to_string(), offer, verdicts }
    });
    let shelf = judged.collect();
    let today = here.zone().day(here.now);
    let from = today.checked_sub_days(Days::new(STILL_THEIRS)).unwrap_or(today);
    let crates = packing::crates_from(db, from, here.zone()).await?;
    Ok(Fridge { shelf, takers, day, crates, today })
}

/// A hand-out as the ledger's columns want it. An empty time is now, so that a page left open never keeps an old one.
fn line_of(typed: &Fields, here: &Here) -> Fields {
    let at = if typed.get("at").trim().is_empty() { here.zone().for_file(here.now) } else { typed.get("at").to_owned() };
    // A code that the page itself had put in its field never overrules a lot that was tapped.
    let other = typed.get("other_lot").trim();
    let own_word = !other.is_empty() && (other != typed.get("filled_in") || typed.get("lot").is_empty());
    let lot = if own_word { other } else { typed.get("lot") };
    let person = typed.get("person");
    let mut line = Fields::default().with("at", at).with("lot", lot).with("person", if person == UNKNOWN { "" } else { person });
    for size in ["gallons", "half_gallons", "quarts", "pints"] {
        let count = typed.get(size).trim();
        line = line.with(size, if count.is_empty() { "0" } else { count });
    }
    // The frozen columns are filled in once the lot has been judged.
    line = line.with("verdict", Word::CantTell.to_string()).with("because", "–").with("facts", "–");
    line.with("evidence", typed.get("evidence")).with("taken_by", typed.get("taken_by"))
}

/// Reads one hand-out, saying at once all that is off about it.
fn read_line(kind: &Kind, typed: &Fields, here: &Here) -> Result<Vec<Cell>, Vec<Remark>> {
    let line = line_of(typed, here);
    let (mut remarks, cells) = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => (slips::remarks(kind, &cells, here.farm.ways, here.latest()), cells),
        Err(remarks) => (remarks, Vec::new()),
    };
    if typed.get("person").trim().is_empty() {
        remarks.push(Remark::fault("person", "Choose who took it. If nobody knows, choose the unknown walk-in."));
    }
    if ["gallons", "half_gallons", "quarts", "pints"].iter().all(|size| line.get(size) == "0") {
        remarks.push(Remark::fault("half_gallons", "How many jars? Not one is written yet."));
    }
    if remarks.is_empty() { Ok(cells) } else { Err(remarks) }
}

/// The verdict on a lot for one way as it stood at a moment.
async fn judged_then(
    db: &mut SqliteConnection,
    here: &Here,
    lot: i64,
    way: Channel,
    at: Moment,
) -> Result<Option<(Moment, Verdict)>, Failure> {
    let Some(facts) = verdict::facts(db, &[lot], here.zone(), at).await?.pop() else { return Ok(None) };
    Ok(Some((facts.filled, judge_for(&facts, way, at))))
}

/// One hand-out as it was asked for, read and looked up.
struct Order {
    cells: Vec<Cell>,
    number: i64,
    code: String,
    at: Moment,
    jars: Jars,
    who: String,
}

/// Reads what is asked for and finds the lot.
async fn order(db: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<Result<Order, Said>, Trouble> {
    let kind = pickup_kind()?;
    let cells = match read_line(kind, typed, here) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(Err(Said { remarks, ..Said::default() })),
    };
    let cell = |name| kind.cell(&cells, name);
    let (code, who, at) = (cell("lot").text().to_owned(), cell("person").text().to_owned(), cell("at").moment().unwrap_or(here.now));
    let Some(number) = records::number_of(&mut *db, "lots", &code, at.in_seconds()).await? else {
        let known = lots::newest(&mut *db, 60).await?;
        return Ok(Err(Said::remark("lot", near::unknown("lot", &code, known.iter().map(|lot| lot.code.as_str())))));
    };
    Ok(Ok(Order { number, code, at, jars: kind.jars(&cells), who, cells }))
}

/// Weighs one hand-out and keeps it when nothing stands against it; the jars come off the shelf for the next one.
pub(super) async fn weigh(
    db: &mut SqliteConnection,
    here: &Here,
    fridge: &mut Fridge,
    typed: &Fields,
    entry: &str,
    act: &Act,
) -> Result<Said, Trouble> {
    let order = match order(&mut *db, here, typed).await? {
        Ok(order) => order,
        Err(said) => return Ok(said),
    };
    let taker = taker_on(&mut *db, fridge, &order.who, here.zone().day(order.at)).await?;
    let way = taker.as_ref().map_or(WALK_IN, |taker| taker.way);
    let Some((filled, then)) = judged_then(&mut *db, here, order.number, way, order.at).await? else { return Ok(Said::default()) };
    if filled > order.at {
        let filled = here.zone().shown(filled);
        return Ok(Said::remark("at", format!("{} was filled on {filled}, so it cannot have gone out before.", order.code)));
    }
    let mut said = Said::default();
    if !order.who.is_empty() && !typed.is_sure(&format!("person {}", order.who)) {
        said.asked = ask(&mut *db, here, taker.as_ref(), here.zone().day(order.at)).await?;
    }
    let own = fridge.shelf.iter().find(|own| own.number == order.number);
    let (left, person) = (own.map_or(Jars::NONE, |own| own.offer.left), taker.as_ref().map(|taker| taker.number));
    let planned = |what: &str| is_planned(order.at, here.now) && typed.all("already").all(|own| own != what);
    if planned(&order.code) {
        let now = own.and_then(|own| own.verdict(way)).unwrap_or(&then);
        let free = own.map_or(Jars::NONE, |own| fridge.left_for(own, person));
        said.refused = refuse(&order.code, now, (left, free), (order.jars, way), &fridge.offers_for(person));
    }
    let lacks = taker.as_ref().map_or(&[][..], |taker| &taker.lacks);
    if planned(&order.who) {
        let says: fn(&Lack) -> String = if here.visitor.household.is_some() { Lack::to_them } else { ToString::to_string };
        said.lacking = taker.as_ref().and_then(|own| lacking_said(&called(here, own), lacks, says)).unwrap_or_default();
    }
    if !said.is_nothing() {
        return Ok(said);
    }
    let (jars, number) = (order.jars, order.number);
    if let Err(refusal) = records::keep(&mut *db, pickup_kind()?, entry, frozen(order, &then, left, lacks), act).await {
        return Ok(Said { remarks: remarks_of(refusal)?, ..Said::default() });
    }
    fridge.take(number, person, jars);
    Ok(said)
}

/// Somebody as they stood on the day of a hand-out: a household that moved to another way since took it the old way then.
async fn taker_on(db: &mut SqliteConnection, fridge: &Fridge, label: &str, day: Day) -> Result<Option<Taker>, Failure> {
    if day == fridge.day {
        return Ok(fridge.taker(label).cloned());
    }
    Ok(people::takers(db, day).await?.into_iter().find(|taker| taker.label.eq_ignore_ascii_case(label)))
}

/// The cells of a hand-out with the verdict and the facts of its moment in them, for ever.
fn frozen(order: Order, then: &Verdict, left: Jars, lacks: &[Lack]) -> Vec<Cell> {
    let kept = [
        ("verdict", then.word().to_string()),
        ("because", then.reason().chars().take(600).collect()),
        ("facts", then.facts()),
        ("marked", marks(then.word(), unnamed_way(then), lacks, (left, order.jars))),
    ];
    let mut cells = order.cells;
    for (name, says) in kept {
        if let Some(cell) = kind("pickups").and_then(|kind| kind.place_of(name)).and_then(|place| cells.get_mut(place)) {
            *cell = if says.is_empty() { Cell::Empty } else { Cell::Text(says) };
        }
    }
    cells
}

/// What somebody is called. At the fridge a household stands by its number: whoever looks over a shoulder reads no name.
fn called(here: &Here, taker: &Taker) -> String {
    if here.visitor.household.is_some() { taker.label.clone() } else { taker.called() }
}

/// Asks about whoever takes the jars, when there is something to ask.
async fn ask(db: &mut SqliteConnection, here: &Here, taker: Option<&Taker>, day: Day) -> Result<String, Failure> {
    let Some(taker) = taker else { return Ok(String::new()) };
    let had = pickups::of_person_between(db, taker.number, here.zone().start_of(day), here.zone().end_of(day)).await?;
    let had: Vec<String> = had.iter().map(|out| format!("{} of {}", out.jars, out.lot)).collect();
    Ok(ask_about(&called(here, taker), day, (taker.since, taker.until), taker.paused, &had).unwrap_or_default())
}

/// Refuses a lot that cannot go that way, and more jars than are left; names what to hand out instead.
fn refuse(code: &str, now: &Verdict, (left, free): (Jars, Jars), (jars, way): (Jars, Channel), offers: &[Offer]) -> Option<Refused> {
    let word = now.word();
    if word == Word::CanGo && free.covers(jars) {
        return None;
    }
    let reason = if word == Word::CanGo { too_many(code, left, free, jars) } else { now.reason() };
    let right = right_lot(offers, jars, way).map(|offer| offer.code.clone());
    Some(Refused { whose: String::new(), code: code.to_owned(), word, reason, next: instead(offers, jars, way), instead: right })
}

/// Asks when what an act kept goes over a cap of the rules of its day. It stands inside the act, so that what is asked
/// about is everything that would then be kept.
pub(super) async fn over_cap(db: &mut SqliteConnection, here: &Here, typed: &Fields) -> Result<String, Failure> {
    if typed.is_sure("cap") {
        return Ok(String::new());
    }
    let zone = here.zone();
    let on = zone.day(zone.parse_moment(typed.get("at")).unwrap_or(here.now));
    let (mut caps, since) = pickups::caps_on(&mut *db, on, zone).await?;
    caps.retain(|cap| matches!(cap.what, Of::Quarts | Of::Gallons));
    if caps.is_empty() {
        return Ok(String::new());
    }
    // A year back for what is an average, and to the end of the month for what is a month's.
    let (first, last) = (on.checked_sub_days(Days::new(370)), on.checked_add_days(Days::new(31)));
    let handed_out = pickups::taken_between(db, zone.start_of(first.unwrap_or(on)), zone.end_of(last.unwrap_or(on)), zone).await?;
    let amounts = Amounts { handed_out: &handed_out, milked: &[], cows_in_milk: 0, cows_calved: 0, on, since };
    Ok(ask_caps(&caps, &amounts).unwrap_or_default())
}
