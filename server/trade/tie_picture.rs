//! How far trouble spreads, as a picture: from cow to milking to lot to the households, of whom only the number stands there.
//!
//! A solid line is a tie by the milk itself, a dashed one is only possible. Where there is more than can be followed with a finger
//! the picture says how much of it is drawn; the list beside it always has everything.

use super::{
    picture::{Anchor, Letter, Picture, Stroke, WIDE},
    trace::{Graph, Lists},
    when::{Moment, parse_day},
};
use std::collections::{BTreeMap, BTreeSet};

/// As many rows of a column as can be followed with a finger.
const MOST: usize = 12;
/// From one row to the next.
const ROW: i32 = 24;
/// Where the first row begins.
const TOP: i32 = 26;
/// Between a word and a line.
const GAP: i32 = 4;
/// Where the columns of cows, milkings and lots begin and end.
const COLUMNS: [(i32, i32); 3] = [(0, 60), (98, 176), (214, 274)];
/// Where the line to the households ends, and room for the ties between lots before it.
const HOUSEHOLDS: i32 = 320;

/// A lot on the picture.
#[derive(Clone, Debug)]
pub struct DrawnLot {
    /// Its number.
    pub number: i64,
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// Whether the milk itself ties it.
    pub is_certain: bool,
    /// How many households have jars of it.
    pub households: usize,
    /// How many hand-outs of it went to somebody unknown.
    pub walk_ins: usize,
}

/// A milking on the picture.
#[derive(Clone, Debug)]
pub struct DrawnMilking {
    /// Its number.
    pub number: i64,
    /// Its day and session.
    pub session: String,
    /// When it began.
    pub started: Moment,
    /// Whether the milk itself leads to it.
    pub is_certain: bool,
}

/// What links them, by number.
#[derive(Clone, Debug, Default)]
pub struct Links {
    /// Which milking went into which lot.
    pub milked_into: Vec<(i64, i64)>,
    /// Which lot was made into which other.
    pub made_into: Vec<(i64, i64)>,
    /// Lots that went through one vessel with no clean break in between.
    pub pots: Vec<BTreeSet<i64>>,
}

impl Links {
    /// What links the lots and milkings of these lists.
    #[must_use]
    pub fn of(lists: &Lists, graph: &Graph<'_>) -> Links {
        Links {
            milked_into: lists.milked_into.iter().map(|(milking, lot)| (milking.0, lot.0)).collect(),
            made_into: lists.made_into.iter().map(|(from, to)| (from.0, to.0)).collect(),
            pots: graph.pots().map(|pot| pot.iter().map(|lot| lot.0).collect()).collect(),
        }
    }
}

/// The spread as it is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Drawn<'a> {
    /// The lots.
    pub lots: &'a [DrawnLot],
    /// The milkings.
    pub milkings: &'a [DrawnMilking],
    /// Which cow was milked at which session.
    pub cows: &'a [(String, String)],
    /// What links them.
    pub links: &'a Links,
}

/// A milking as a short word: `14 May AM`.
fn short_session(session: &str) -> String {
    let parts = session.split_once(' ').and_then(|(day, half)| Some((parse_day(day).ok()?, half)));
    parts.map_or_else(|| session.to_owned(), |(day, half)| format!("{} {half}", day.format("%-d %b")))
}

/// Where each row of a column stands, by what it is: the rows share out the whole height, and their words are written.
fn column<K: Ord + Copy>(picture: &mut Picture, nth: usize, tall: i32, words: &[(K, String)]) -> BTreeMap<K, i32> {
    let (left, right) = COLUMNS[nth];
    let count = i32::try_from(words.len()).unwrap_or(1).max(1);
    let mut stands = BTreeMap::new();
    for (place, (key, says)) in (0..).zip(words) {
        let middle = TOP + tall * (2 * place + 1) / (2 * count);
        picture.small((left, middle + 5), Anchor::Start, Letter::Small.lines(says, right - left, 1).pop().unwrap_or_default());
        stands.insert(*key, middle);
    }
    stands
}

/// So many of a thing, in words that fit the number.
fn so_many(count: usize, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}

impl Drawn<'_> {
    /// The lots that are drawn, in the order of filling: the certain ones before any that is only possible.
    fn lots_drawn(&self) -> Vec<&DrawnLot> {
        let mut lots: Vec<&DrawnLot> = self.lots.iter().collect();
        lots.sort_by_key(|lot| (!lot.is_certain, std::cmp::Reverse(lot.filled), lot.number));
        lots.truncate(MOST);
        lots.sort_by_key(|lot| (lot.filled, lot.number));
        lots
    }

    /// The milkings that are drawn, in their order: those that went into a lot that is, the certain ones first.
    fn milkings_drawn(&self, lots: &BTreeMap<i64, i32>) -> Vec<&DrawnMilking> {
        let into =
            |milking: &&DrawnMilking| self.links.milked_into.iter().any(|(from, to)| *from == milking.number && lots.contains_key(to));
        let mut milkings: Vec<&DrawnMilking> = self.milkings.iter().filter(into).collect();
        milkings.sort_by_key(|milking| (!milking.is_certain, std::cmp::Reverse(milking.started), milking.number));
        milkings.truncate(MOST);
        milkings.sort_by_key(|milking| (milking.started, milking.number));
        milkings
    }

    /// The picture, or nothing when no lot was found.
    #[must_use]
    pub fn picture(&self) -> Option<Picture> {
        let lots = self.lots_drawn();
        if lots.is_empty() {
            return None;
        }
        let mut picture = Picture::titled("How far it spreads");
        picture.alt = self.alt();
        for (nth, head) in ["Cow", "Milking", "Lot"].into_iter().enumerate() {
            picture.figure((COLUMNS[nth].0, 14), Anchor::Start, head);
        }
        picture.figure((WIDE, 14), Anchor::End, "Households");
        let numbers: BTreeMap<i64, i32> = lots.iter().map(|lot| (lot.number, 0)).collect();
        let milkings = self.milkings_drawn(&numbers);
        let sessions: BTreeSet<&str> = milkings.iter().map(|milking| milking.session.as_str()).collect();
        let all: BTreeSet<&str> =
            self.cows.iter().filter(|(session, _)| sessions.contains(session.as_str())).map(|(_, cow)| cow.as_str()).collect();
        let cows: Vec<&str> = all.iter().copied().take(MOST).collect();
        let most = lots.len().max(milkings.len()).max(cows.len());
        let tall = ROW * i32::try_from(most).unwrap_or_default();

        let cow_at = column(&mut picture, 0, tall, &cows.iter().map(|cow| (*cow, (*cow).to_owned())).collect::<Vec<_>>());
        let named: Vec<(i64, String)> = milkings.iter().map(|milking| (milking.number, short_session(&milking.session))).collect();
        let milking_at = column(&mut picture, 1, tall, &named);
        let coded: Vec<(i64, String)> = lots.iter().map(|lot| (lot.number, lot.code.clone())).collect();
        let lot_at = column(&mut picture, 2, tall, &coded);

        for milking in &milkings {
            let hers: BTreeSet<&str> =
                self.cows.iter().filter(|(session, _)| *session == milking.session).map(|(_, cow)| cow.as_str()).collect();
            for cow in hers {
                tie(&mut picture, 0, cow_at.get(cow), milking_at.get(&milking.number), milking.is_certain);
            }
            for lot in &lots {
                if self.links.milked_into.contains(&(milking.number, lot.number)) {
                    let certain = milking.is_certain && lot.is_certain;
                    tie(&mut picture, 1, milking_at.get(&milking.number), lot_at.get(&lot.number), certain);
                }
            }
        }
        self.between(&mut picture, &lots, &lot_at);
        for lot in &lots {
            let Some(y) = lot_at.get(&lot.number).filter(|_| lot.households + lot.walk_ins > 0) else { continue };
            let stroke = if lot.is_certain { Stroke::Heavy } else { Stroke::Dashed };
            picture.line(stroke, vec![(COLUMNS[2].1 + GAP, *y), (HOUSEHOLDS, *y)]);
            let unknown = if lot.walk_ins > 0 { format!(" (+{})", lot.walk_ins) } else { String::new() };
            picture.figure((WIDE, y + 5), Anchor::End, format!("{}{unknown}", lot.households));
        }
        picture.tall = TOP + tall + GAP;
        self.notes(&mut picture, &lots, &milkings, (cows.len(), all.len()));
        Some(picture)
    }

    /// The ties between lots: what was made of what, and what went through one vessel, each lot with the next of it.
    fn between(&self, picture: &mut Picture, lots: &[&DrawnLot], at: &BTreeMap<i64, i32>) {
        let certain: BTreeMap<i64, bool> = lots.iter().map(|lot| (lot.number, lot.is_certain)).collect();
        let mut ties: BTreeMap<(i64, i64), bool> = BTreeMap::new();
        for (from, to) in &self.links.made_into {
            ties.insert((*from, *to), certain.get(from) == Some(&true) && certain.get(to) == Some(&true));
        }
        for pot in &self.links.pots {
            let through: Vec<i64> = lots.iter().map(|lot| lot.number).filter(|lot| pot.contains(lot)).collect();
            for pair in through.windows(2) {
                ties.entry((pair[0], pair[1])).or_insert(false);
            }
        }
        let left = COLUMNS[2].1 + GAP;
        for (nth, ((from, to), certain)) in (0..).zip(ties) {
            let (Some(from), Some(to)) = (at.get(&from), at.get(&to)) else { continue };
            let out = left + 6 + nth % 5 * 6;
            let stroke = if certain { Stroke::Heavy } else { Stroke::Dashed };
            picture.line(stroke, vec![(left, *from), (out, from + 4), (out, to - 4), (left, *to)]);
        }
    }

    /// What the lines mean, and how much of it is drawn.
    fn notes(&self, picture: &mut Picture, lots: &[&DrawnLot], milkings: &[&DrawnMilking], cows: (usize, usize)) {
        let mut notes = vec!["Solid line: by the milk. Dashed: possible.".to_owned()];
        if lots.iter().any(|lot| lot.walk_ins > 0) {
            notes.push("(+1): once to somebody unknown.".to_owned());
        }
        let left_out = [(lots.len(), self.lots.len(), "lots"), (milkings.len(), self.milkings.len(), "milkings"), (cows.0, cows.1, "cows")];
        for (drawn, all, what) in left_out.into_iter().filter(|(drawn, all, _)| drawn < all) {
            notes.push(format!("Drawn: {drawn} of {all} {what}; the list has all."));
        }
        for note in notes {
            picture.small((0, picture.tall + 14), Anchor::Start, note);
            picture.tall += Letter::Small.leading();
        }
        picture.tall += GAP;
    }

    fn alt(&self) -> String {
        let certain = self.lots.iter().filter(|lot| lot.is_certain).count();
        let cows: BTreeSet<&str> = self.cows.iter().map(|(_, cow)| cow.as_str()).collect();
        let each: Vec<String> =
            self.lots.iter().take(MOST).map(|lot| format!("{} to {}", lot.code, so_many(lot.households, "household"))).collect();
        format!(
            "How far it spreads: {}, {}, {}, of which {certain} certain and {} possible. {}.",
            so_many(cows.len(), "cow"),
            so_many(self.milkings.len(), "milking"),
            so_many(self.lots.len(), "lot"),
            self.lots.len() - certain,
            each.join(", ")
        )
    }
}

/// A line from a row of a column to a row of the next.
fn tie(picture: &mut Picture, nth: usize, from: Option<&i32>, to: Option<&i32>, certain: bool) {
    if let (Some(from), Some(to)) = (from, to) {
        let stroke = if certain { Stroke::Heavy } else { Stroke::Dashed };
        picture.line(stroke, vec![(COLUMNS[nth].1 + GAP, *from), (COLUMNS[nth + 1].0 - GAP, *to)]);
    }
}
