//! The first questions of a farm with nothing written down, and what is still guessed after they were answered.
//!
//! Somebody who begins has no year of tickets, and yet one question: what does a half-gallon cost me? A quarter of an hour of
//! good guesses says more than an empty page. So the answers become ordinary records, each marked as a guess, and as tickets and
//! milkings come in, the guesses are struck one by one.

mod owned;
mod written;

pub use written::{Answers, Written};

use super::{
    book::Book,
    guessed::{HANDED_OUT, MADE},
    kinds::kind,
    measure::figure_of,
    money::Money,
    records::{Cell, Record, Shape},
};
use rust_decimal::Decimal;
use std::collections::BTreeSet;

/// Where a figure of the first questions comes from.
pub const NOTE: &str = "A guess, from the first questions";

/// The days the questions can be about.
pub const ABOUT: &[&str] = &["last twelve months", "last month"];

/// The kinds of records the answers become, in the order they are kept.
pub const KINDS: [&str; 7] = ["assumptions", "cows", "stores", "tickets", "feedings", "usual_weeks", "gear"];

/// The gear the questions ask about.
const GEAR: [&str; 2] = ["Milking gear", "Fridge"];

/// One question.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// Its field.
    pub name: &'static str,
    /// What is asked.
    pub label: &'static str,
    /// A word of help.
    pub hint: &'static str,
    /// What is answered.
    pub shape: Shape,
    /// In what.
    pub unit: &'static str,
    /// The record it becomes, by kind and name: where that is written already, nothing is asked. Empty: asked beside others.
    makes: &'static str,
}

/// Questions that stand together.
#[derive(Clone, Copy, Debug)]
pub struct Group {
    /// What they are about.
    pub title: &'static str,
    /// The questions.
    pub asks: &'static [Question],
}

const fn ask(
    name: &'static str,
    label: &'static str,
    hint: &'static str,
    shape: Shape,
    unit: &'static str,
    makes: &'static str,
) -> Question {
    Question { name, label, hint, shape, unit, makes }
}

use Shape::{Count, Figure, OneOf, Words};

/// Every question, in the order they are asked.
pub const GROUPS: &[Group] = &[
    Group { title: "The days", asks: &[ask("about", "Which days are these answers about?", "Up to today", OneOf(ABOUT), "", "")] },
    Group {
        title: "Milk",
        asks: &[
            ask(
                "made",
                "Half-gallons made in a week",
                "All that comes out of the cows, in a usual week",
                Figure,
                "half-gallons",
                "assumptions/half-gallons made a week",
            ),
            ask(
                "handed_out",
                "Half-gallons handed out in a week",
                "What reaches people",
                Figure,
                "half-gallons",
                "assumptions/half-gallons handed out a week",
            ),
            ask(
                "brings",
                "What a half-gallon brings",
                "Or write the boarding below",
                Shape::Money,
                "$",
                "assumptions/a half-gallon brings",
            ),
            ask(
                "boarding",
                "Boarding in a month, all shares together",
                "It is shared out over the half-gallons handed out",
                Shape::Money,
                "$",
                "assumptions/a half-gallon brings",
            ),
        ],
    },
    Group {
        title: "Hay",
        asks: &[
            ask("hay_bales", "Bales fed in a day", "All cows together; a part of a bale is fine, like 1.5", Figure, "bales", "stores/Hay"),
            ask("hay_price", "What a bale costs", "", Shape::Money, "$", "stores/Hay"),
            ask("hay_weight", "What a bale weighs", "Weigh ten and write the mean", Figure, "lb", "stores/Hay"),
        ],
    },
    Group {
        title: "Grain",
        asks: &[
            ask("grain_lb", "Grain fed in a day", "All cows together", Figure, "lb", "stores/Grain"),
            ask("grain_price", "What it costs", "", Shape::Money, "$", "stores/Grain"),
            ask("grain_per", "That is for a", "A cwt is 100 lb", OneOf(&["bag", "cwt"]), "", "stores/Grain"),
            ask("grain_weight", "What a bag weighs", "It stands on the bag; empty for a cwt", Figure, "lb", "stores/Grain"),
        ],
    },
    Group {
        title: "Jars and lids",
        asks: &[
            ask("lid_price", "What a lid costs", "Empty if lids are washed and used again", Figure, "$", "tickets/Lids"),
            ask("jar_price", "What a jar costs", "", Shape::Money, "$", "tickets/Jars lost"),
            ask("jars_lost", "Jars lost out of a hundred filled", "Broken, or never brought back", Figure, "jars", "tickets/Jars lost"),
        ],
    },
    Group {
        title: "Work",
        asks: &[
            ask("who", "Who does it", "The one who does most of it", Words(60), "", ""),
            ask("milking", "Milking, in a day", "Both milkings together", Count(0, 1440), "minutes", "usual_weeks/milking"),
            ask("washing", "Washing up, in a day", "", Count(0, 1440), "minutes", "usual_weeks/washing up"),
            ask("feeding", "Feeding, in a day", "", Count(0, 1440), "minutes", "usual_weeks/feeding"),
            ask(
                "other",
                "Everything else, in a day",
                "Jars, cow care, handing out, records",
                Count(0, 1440),
                "minutes",
                "usual_weeks/cow care",
            ),
            ask(
                "hour",
                "What that hour is worth",
                "What it would earn elsewhere. Empty: the cost with hours is then not computed",
                Shape::Money,
                "$",
                "assumptions/worth of an hour",
            ),
        ],
    },
    Group {
        title: "Milking gear",
        asks: &[
            ask("gear_price", "What it cost, all together", "Machine, buckets, strainer", Shape::Money, "$", "gear/Milking gear"),
            ask("gear_year", "The year it was bought", "Like 2021", Count(1950, 2200), "", "gear/Milking gear"),
            ask("gear_life", "For how many years it serves", "Ten is usual", Count(0, 60), "years", "gear/Milking gear"),
            ask("gear_left", "What it will bring at the end", "Empty for nothing", Shape::Money, "$", "gear/Milking gear"),
        ],
    },
    Group {
        title: "Fridge",
        asks: &[
            ask("fridge_price", "What it cost", "", Shape::Money, "$", "gear/Fridge"),
            ask("fridge_year", "The year it was bought", "Like 2021", Count(1950, 2200), "", "gear/Fridge"),
            ask("fridge_life", "For how many years it serves", "Ten is usual", Count(0, 60), "years", "gear/Fridge"),
            ask("fridge_left", "What it will bring at the end", "Empty for nothing", Shape::Money, "$", "gear/Fridge"),
        ],
    },
    Group {
        title: "Cows",
        asks: &[
            ask(
                "cows",
                "How many cows there are",
                "Those not in the herd yet are written down as Cow 1, Cow 2; correct their names later",
                Count(0, 99),
                "cows",
                "gear/cow",
            ),
            ask("cow_price", "What a cow cost, or would cost", "", Shape::Money, "$", "gear/cow"),
            ask("cow_years", "For how many years she milks", "From when she came", Count(0, 60), "years", "gear/cow"),
            ask("cow_left", "What she brings at the end", "Empty for nothing", Shape::Money, "$", "gear/cow"),
            ask("cow_year", "The year they came", "Empty: just before these days", Count(1950, 2200), "", "gear/cow"),
        ],
    },
    Group {
        title: "Bills",
        asks: &[
            ask("power", "Electricity for the milk, in a month", "", Shape::Money, "$", "tickets/Electricity"),
            ask("vet", "Vet and breeding, in a year", "", Shape::Money, "$", "tickets/Vet and breeding"),
            ask("insurance", "Insurance, in a year", "", Shape::Money, "$", "tickets/Insurance"),
            ask("permit", "Permit, in a year", "", Shape::Money, "$", "tickets/Permit"),
        ],
    },
];

/// Every question, one after another.
pub fn questions() -> impl Iterator<Item = &'static Question> {
    GROUPS.iter().flat_map(|group| group.asks)
}

/// What the ledger knows already of what is asked.
#[derive(Clone, Debug, Default)]
pub struct Known {
    made: BTreeSet<String>,
    /// The half-gallons handed out a week, where they are named already.
    handed_out: Option<Decimal>,
    /// The names in the herd.
    cows: Vec<String>,
}

impl Known {
    /// What these records know.
    #[must_use]
    pub fn of(book: &Book) -> Known {
        let mut known = Known::default();
        for (name, column) in [("assumptions", "name"), ("stores", "name"), ("tickets", "what"), ("usual_weeks", "job"), ("gear", "name")] {
            known.made.extend(each(book, name).map(|own| format!("{name}/{}", said(own, name, column))));
        }
        if each(book, "gear").any(|own| said(own, "gear", "sort") == "cow") {
            known.made.insert("gear/cow".to_owned());
        }
        let named = each(book, "assumptions").filter(|own| said(own, "assumptions", "name") == HANDED_OUT).last();
        known.handed_out = named.and_then(|own| figure_of(said(own, "assumptions", "figure")));
        known.cows = each(book, "cows").map(|own| said(own, "cows", "name").to_owned()).collect();
        known
    }

    /// Whether the answer to a question is written down already.
    #[must_use]
    pub fn has(&self, question: &Question) -> bool {
        self.made.iter().any(|own| own.eq_ignore_ascii_case(question.makes))
    }

    /// Whether there is nothing left to ask.
    #[must_use]
    pub fn has_all(&self) -> bool {
        questions().filter(|own| !own.makes.is_empty()).all(|own| self.has(own))
    }
}

fn each<'a>(book: &'a Book, name: &'static str) -> impl Iterator<Item = &'a Record> {
    book.of(name).iter()
}

fn said<'a>(record: &'a Record, name: &str, column: &str) -> &'a str {
    kind(name).map_or("", |kind| record.cell(kind, column).text())
}

/// Something that is still a guess, and the address that shows, corrects or strikes it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Guess {
    /// What it says.
    pub says: String,
    /// Where it stands.
    pub opens: String,
}

/// Whether the farm has nothing but guesses yet. One that keeps its tickets is not asked the first questions: it would write down
/// twice what it knows better.
#[must_use]
pub fn is_new(book: &Book) -> bool {
    each(book, "tickets").all(|own| is_guess(own, "tickets"))
}

/// Everything that is still guessed, in the order the records are kept.
#[must_use]
pub fn guesses(book: &Book) -> Vec<Guess> {
    let mut all = Vec::new();
    for name in ["assumptions", "stores", "tickets", "feedings", "minutes", "usual_weeks", "gear"] {
        for own in each(book, name).filter(|own| is_guess(own, name)) {
            all.push(Guess { says: in_words(own, name), opens: format!("/records/{name}/{}", own.number) });
        }
    }
    all
}

fn is_guess(own: &Record, name: &str) -> bool {
    match name {
        "assumptions" | "stores" => said(own, name, "note") == NOTE || [MADE, HANDED_OUT].contains(&said(own, name, "name")),
        "usual_weeks" => true,
        "gear" => said(own, name, "sort") == "cow" || GEAR.contains(&said(own, name, "name")),
        _ => said(own, name, "guess") == "yes",
    }
}

fn in_words(own: &Record, name: &str) -> String {
    let of = |column: &str| said(own, name, column);
    let whole = |column: &str| kind(name).and_then(|kind| own.cell(kind, column).whole()).unwrap_or_default();
    let dollars = |column: &str| {
        let cents = whole(column);
        format!("{}${}", if cents < 0 { "-" } else { "" }, Money::cents(cents.abs()))
    };
    match name {
        "assumptions" => format!("{}: {}", super::capital(of("name")), of("figure")),
        "stores" => match of("packs") {
            "" => format!("The store of {}", of("name")),
            packs => format!("The store of {}: {packs}", of("name")),
        },
        "tickets" => format!("{}, paid {}: {}", of("what"), of("paid"), dollars("amount")),
        "feedings" => format!("Fed from {}: {} {} {}", of("since"), of("amount"), of("unit"), of("each")),
        "minutes" => format!("{}, {}: {} minutes on {}", super::capital(of("job")), of("person"), whole("minutes"), of("day")),
        "usual_weeks" => {
            format!("{}, {}: {} minutes in a usual week from {}", super::capital(of("job")), of("person"), whole("minutes"), of("since"))
        }
        _ => format!("{}: {} for {} years", of("name"), dollars("price"), whole("life_years")),
    }
}

/// Whether a cell holds nothing.
fn is_empty(cell: &Cell) -> bool {
    *cell == Cell::Empty
}
