//! Where every jar of some lots is, by size, and in which hours any went missing. What is on hand is what was counted.

use super::{
    balance::{Balance, Count, LotJars, Movement, What, find_window},
    figures::{Cell, Holds, Part, Table},
    jars::{Jars, Size},
    trace::Tie,
    verdict::Word,
    when::{Day, Moment, Zone},
};

/// A lot of the spread.
#[derive(Clone, Debug)]
pub struct Caught {
    /// Its number.
    pub number: i64,
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// From which vessel.
    pub vessel: String,
    /// What it was made into, for a made lot.
    pub made: String,
    /// How it is tied to the trouble.
    pub tie: Tie,
    /// Whether it may go out, as things stand.
    pub word: Word,
    /// Whether a hold stands on it.
    pub held: bool,
    /// Everything that came and went of it.
    pub movements: Vec<Movement>,
    /// Every count of it.
    pub counts: Vec<Count>,
}

/// The last day a lot stood in the fridge, as far as the book or a count can say: the day the book ran out, or somebody
/// counted none and nothing moved after. Nothing while it may still be there.
#[must_use]
pub fn last_on_hand(movements: &[Movement], counts: &[Count], zone: Zone) -> Option<Day> {
    let mut moved: Vec<&Movement> = movements.iter().collect();
    moved.sort_by_key(|movement| movement.at);
    let mut book = Jars::NONE;
    for movement in &moved {
        book = match movement.what {
            What::Filled | What::Returned => book + movement.jars,
            _ => book - movement.jars,
        };
    }
    let last = moved.last().map(|movement| movement.at)?;
    if book.is_none() {
        return Some(zone.day(last));
    }
    counts.iter().filter(|count| count.jars.is_none() && count.at >= last).map(|count| zone.day(count.at)).min()
}

/// The sizes that occur among these jars; the usual half-gallon when there is none.
#[must_use]
pub fn sizes(jars: impl Iterator<Item = Jars> + Clone) -> Vec<Size> {
    let found: Vec<Size> = Size::ALL.into_iter().filter(|size| jars.clone().any(|own| own.of(*size) != 0)).collect();
    if found.is_empty() { vec![Size::HalfGallon] } else { found }
}

/// The heading of a size's column.
#[must_use]
pub const fn many(size: Size) -> &'static str {
    match size {
        Size::Gallon => "Gallons",
        Size::HalfGallon => "Half-gallons",
        Size::Quart => "Quarts",
        Size::Pint => "Pints",
    }
}

/// Where jars can have gone, with the heading of each and its figure.
type Place = (&'static str, fn(&LotJars) -> Jars);

const PLACES: [Place; 9] = [
    ("Handed out", |lot| lot.handed_out),
    ("House", |lot| lot.household),
    ("Calf", |lot| lot.calf),
    ("Made into", |lot| lot.into_lots),
    ("Sample", |lot| lot.samples),
    ("Shelf jar", |lot| lot.shelf_jar),
    ("Broken", |lot| lot.broken),
    ("Thrown out", |lot| lot.thrown_out),
    ("Brought back", |lot| lot.returned),
];

/// One lot's jars: all that moved, what was counted last and when, and whether that squared then.
struct Standing<'a> {
    lot: &'a Caught,
    all: LotJars,
    at_count: LotJars,
    counted: Option<(Jars, Moment)>,
    /// Jars that left after the count, less those that came back.
    since: Jars,
}

impl<'a> Standing<'a> {
    fn of(lot: &'a Caught) -> Standing<'a> {
        let last = lot.counts.iter().max_by_key(|count| count.at);
        let counted = last.map(|count| (count.jars, count.at));
        let before = |movement: &&Movement| movement.what == What::Filled || last.is_none_or(|count| movement.at <= count.at);
        let then: Vec<Movement> = lot.movements.iter().filter(before).cloned().collect();
        let all = LotJars::gathered(&lot.movements, counted.map(|(jars, _)| jars));
        let at_count = LotJars::gathered(&then, counted.map(|(jars, _)| jars));
        let since = at_count.by_the_book() - all.by_the_book();
        Standing { lot, all, at_count, counted, since }
    }

    /// Whether one size squares, in words.
    fn says(&self, size: Size) -> String {
        match self.at_count.balance() {
            Balance::NotCounted => "not counted".to_owned(),
            Balance::Squares => "squares".to_owned(),
            Balance::Off { short, over } => match (short.of(size), over.of(size)) {
                (0, 0) => "squares".to_owned(),
                (0, over) => format!("{over} over"),
                (short, _) => format!("{short} short"),
            },
        }
    }
}

/// Where every jar is: a row for each lot and size, and the hours in which any went missing or turned up.
#[must_use]
pub fn parts(lots: &[Caught], zone: Zone) -> Vec<Part> {
    let standings: Vec<Standing<'_>> = lots.iter().map(Standing::of).collect();
    let places: Vec<Place> = PLACES
        .into_iter()
        .filter(|(name, of)| *name == "Handed out" || standings.iter().any(|standing| !of(&standing.all).is_none()))
        .collect();
    let gone_since = standings.iter().any(|standing| !standing.since.is_none());
    let mut columns = vec![("Lot", Holds::Codes, 3), ("Jars", Holds::Words, 3), ("Filled", Holds::Figures, 2)];
    columns.extend(places.iter().map(|(name, _)| (*name, Holds::Figures, 2)));
    columns.push(("Counted on hand", Holds::Figures, 2));
    if gone_since {
        columns.push(("Gone since", Holds::Figures, 2));
    }
    columns.extend([("Counted at", Holds::Words, 4), ("Balance", Holds::Words, 3)]);
    let mut table = Table::new("balance", "Jars of each lot, by size", &columns);
    "No lot, so no jar.".clone_into(&mut table.when_empty);
    for standing in &standings {
        let moved = standing.lot.movements.iter().map(|movement| movement.jars).chain(standing.counted.map(|(jars, _)| jars));
        for size in sizes(moved) {
            let figure = |jars: Jars| Cell::says(jars.of(size).to_string());
            let mut row = vec![Cell::says(&standing.lot.code), Cell::says(many(size)), figure(standing.all.filled)];
            row.extend(places.iter().map(|(_, of)| figure(of(&standing.all))));
            row.push(standing.counted.map_or_else(|| Cell::says("–"), |(jars, _)| figure(jars)));
            if gone_since {
                row.push(figure(standing.since));
            }
            row.push(Cell::says(standing.counted.map_or_else(|| "never".to_owned(), |(_, at)| zone.in_full(at))));
            row.push(Cell::says(standing.says(size)));
            table.rows.push(row);
        }
    }
    vec![
        Part::Words(
            "Filled and brought back, less everything that went and what was counted: anything else is short or over. Jars gone since the \
             count are not part of it."
                .to_owned(),
        ),
        Part::Table(table),
        Part::Table(windows(lots, zone)),
    ]
}

/// The hours in which jars went missing or turned up, with everybody who called in them.
fn windows(lots: &[Caught], zone: Zone) -> Table {
    let columns = [
        ("Lot", Holds::Codes, 3),
        ("Off by", Holds::Words, 4),
        ("Between", Holds::Words, 5),
        ("And", Holds::Words, 5),
        ("Who called in between", Holds::Words, 6),
    ];
    let mut table = Table::new("windows", "When jars went missing or turned up", &columns);
    "Every counted lot squares at its last count.".clone_into(&mut table.when_empty);
    for lot in lots {
        let Some(window) = find_window(&lot.movements, &lot.counts) else { continue };
        let from = if window.from_a_count { "the good count of" } else { "the filling at" };
        let callers = if window.callers.is_empty() { "nobody that is written down".to_owned() } else { window.callers.join(", ") };
        table.row([
            lot.code.clone(),
            window.off.to_string(),
            format!("{from} {}", zone.in_full(window.from)),
            format!("the count of {}", zone.in_full(window.until)),
            callers,
        ]);
    }
    table
}
