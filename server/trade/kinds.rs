//! Every kind of record the ledger holds: its columns, what names it, and when it happened.
//!
//! This list is the farm folder's format, the shape of the ledger's tables and the source of every plain form, in the
//! order in which records lean on one another.

pub use super::records::Kind;

use super::{
    notices::SORTS as NOTICES,
    records::{Column, FOREMILK, Shape},
};
use Shape::{
    Caps, Channels, Code, Count, Day, Dipstick, Figure, Heat, Key, LabFigure, Limits, Milk, Moment, Money, Note, OneOf, Plates, Session,
    Steps, Tests, Words, Zone,
};

const YES_NO: Shape = OneOf(&["yes", "no"]);
const WEEKDAYS: Shape = OneOf(&["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]);
const CHANNELS: Shape = OneOf(CHANNEL_WORDS);
const QUARTERS: Shape = OneOf(&["left fore", "right fore", "left hind", "right hind", "all"]);
const JARS: Shape = Count(0, 999);

const fn must(name: &'static str, shape: Shape, label: &'static str) -> Column {
    Column { name, shape, may_be_empty: false, label }
}

const fn may(name: &'static str, shape: Shape, label: &'static str) -> Column {
    Column { name, shape, may_be_empty: true, label }
}

/// Every kind, each after the kinds it leans on.
pub const KINDS: &[Kind] = &[
    Kind {
        name: "farm",
        one: "farm",
        key: Some("name"),
        happened: Some("since"),
        owner_only: true,
        columns: &[
            must("name", Words(80), "Name of the farm"),
            must("since", Day, "Records start on"),
            must("zone", Zone, "Time zone"),
            must("scale", OneOf(&["°F", "°C"]), "Thermometers read in"),
            may("address", Words(160), "Address"),
            may("phone", Words(40), "Phone"),
            may("vet", Words(120), "Vet, with phone"),
            may("health", Words(160), "Health department, with phone"),
        ],
    },
    Kind {
        name: "rules",
        one: "rule set",
        key: Some("place"),
        happened: Some("since"),
        owner_only: true,
        columns: &[
            must("place", Words(60), "Rule set"),
            must("since", Day, "Followed from"),
            must("title", Words(160), "Title"),
            may("citation", Words(300), "Citation"),
            may("url", Words(300), "Where it was read"),
            may("text_date", Words(160), "Date of the text"),
            must("sure", OneOf(&["read in the law", "read second-hand", "from memory", "our own choice"]), "How sure"),
            may("beside", YES_NO, "Stands beside the rules before it, for other ways"),
            may("channels", Channels, "Ways of handing out it allows"),
            may("steps", Steps, "Chill steps"),
            may("limits", Limits, "Limits of what the lab finds"),
            may("tests", Tests, "How often things are tested"),
            may("caps", Caps, "How much, and how many cows"),
            may("resample_after", Count(0, 90), "Sample again, not before so many days after notice"),
            may("resample_within", Count(0, 365), "Sample again, within so many days of notice"),
            may("fresh_before", Count(0, 90), "Days before calving kept out"),
            may("fresh_days", Count(0, 30), "Days after calving kept out"),
            may("fresh_milkings", Count(0, 60), "Milkings after calving kept out"),
            may("strip_fails", OneOf(&["trace", "1", "2", "3"]), "Strip test keeps a cow out from"),
            may("best_by_days", Count(1, 60), "Best-by days"),
            may("best_by_from", OneOf(&["filling", "oldest milking"]), "Best-by counts from"),
            may("keep_years", Count(0, 50), "Records kept, years"),
            may("notes", Note(4000), "Notes"),
            may("check_by", Day, "Check again by"),
            may("why", Words(200), "Why this version"),
        ],
    },
    Kind {
        name: "assumptions",
        one: "assumption",
        key: Some("name"),
        happened: Some("since"),
        owner_only: true,
        columns: &[
            must("name", OneOf(ASSUMED), "What is assumed"),
            must("since", Day, "From"),
            must("figure", Figure, "Figure"),
            must("note", Words(200), "Where it comes from"),
        ],
    },
    Kind {
        name: "people",
        one: "member or walk-in",
        key: Some("label"),
        happened: Some("since"),
        owner_only: true,
        columns: &[
            must("label", Words(12), "Number"),
            must("name", Words(80), "Name"),
            must("sort", OneOf(&["member", "walk-in"]), "Member or walk-in"),
            must("channel", CHANNELS, "How the milk reaches them"),
            may("phone", Words(40), "Phone"),
            may("second_way", Words(80), "Second way to reach them"),
            may("pickup_day", WEEKDAYS, "Pickup day"),
            may("share_jars", Count(0, 40), "Half-gallons promised a week"),
            must("since", Day, "Since"),
            may("until", Day, "Until"),
            may("note", Words(200), "Note, never about health"),
        ],
    },
    Kind {
        name: "cows",
        one: "cow",
        key: Some("name"),
        happened: Some("since"),
        owner_only: false,
        columns: &[
            must("name", Words(40), "Name"),
            may("tag", Words(40), "Tag"),
            may("born", Day, "Born"),
            may("breed", Words(60), "Breed"),
            must("quarters", Count(1, 4), "Quarters milked"),
            must("since", Day, "Here since"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "events",
        one: "herd event",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("cow", Key("cows"), "Cow"),
            must("at", Moment, "When"),
            must("sort", OneOf(TURNS), "What happened"),
            may("due", Day, "Due to calve"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "treatments",
        one: "treatment",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("cow", Key("cows"), "Cow"),
            must("at", Moment, "Given at"),
            must("product", Words(80), "Product"),
            may("batch", Words(40), "Product's lot and expiry"),
            may("dose", Words(40), "Dose"),
            may("route", OneOf(&["in the udder", "under the skin", "in the muscle", "in the vein", "by mouth", "on the skin"]), "Route"),
            may("quarter", QUARTERS, "Quarter"),
            may("reason", Words(120), "Reason"),
            may("given_by", Words(60), "Given by"),
            may("milk_hours", Count(1, 2000), "Milk kept out, hours after the last dose"),
            may("milk_milkings", Count(1, 120), "Milk kept out, milkings"),
            may("counted_from", OneOf(&["the dose", "calving"]), "Milk time counted from"),
            may("dry_days", Count(0, 400), "Days dry the label asks for, if from calving"),
            may("meat_days", Count(0, 400), "Meat withdrawal, days"),
            must("as_labelled", YES_NO, "Used as its label says"),
            must("vet_figure", YES_NO, "The vet gave these figures"),
        ],
    },
    Kind {
        name: "strip_tests",
        one: "strip test",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("cow", Key("cows"), "Cow"),
            must("at", Moment, "When"),
            must("quarter", QUARTERS, "Quarter"),
            must("score", OneOf(STRIP_SCORES), "Score"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "vessels",
        one: "vessel",
        key: Some("name"),
        happened: Some("since"),
        owner_only: false,
        columns: &[
            must("name", Words(40), "Name"),
            must("sort", OneOf(&["can", "bucket", "tank"]), "What it is"),
            may("tare", Milk, "Empty weight"),
            may("capacity", Milk, "Holds"),
            may("dipstick", Dipstick, "Dipstick table"),
            must("since", Day, "In use since"),
        ],
    },
    Kind {
        name: "milkings",
        one: "milking",
        key: Some("session"),
        happened: Some("started"),
        owner_only: false,
        columns: &[
            must("session", Session, "Milking"),
            must("started", Moment, "Started"),
            may("ended", Moment, "Ended"),
            must("milker", Words(60), "Milked by"),
            may("well", YES_NO, "Milker well today"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "pails",
        one: "cow at a milking",
        key: None,
        happened: None,
        owner_only: false,
        columns: &[
            must("milking", Key("milkings"), "Milking"),
            must("cow", Key("cows"), "Cow"),
            must("read", Words(40), "As read"),
            may("tare", Milk, "Bucket"),
            must("milk", Milk, "Milk"),
            must("went", OneOf(&["can", "calf", "house", "thrown out"]), "Went to"),
            may("vessel", Key("vessels"), "Vessel"),
            may("foremilk", OneOf(FOREMILK), "Foremilk"),
        ],
    },
    Kind {
        name: "breaks",
        one: "clean break",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("vessel", Key("vessels"), "Vessel"),
            must("at", Moment, "When"),
            must("washed", YES_NO, "Emptied and washed"),
            must("sanitised", YES_NO, "Sanitised"),
            may("with_what", Words(60), "With what"),
            must("done_by", Words(60), "Done by"),
        ],
    },
    Kind {
        name: "lots",
        one: "lot",
        key: Some("code"),
        happened: Some("filled"),
        owner_only: false,
        columns: &[
            must("code", Code, "Lot code"),
            must("filled", Moment, "Filled"),
            may("vessel", Key("vessels"), "From vessel"),
            must("gallons", JARS, "Gallons"),
            must("half_gallons", JARS, "Half-gallons"),
            must("quarts", JARS, "Quarts"),
            must("pints", JARS, "Pints"),
            may("left_in", Milk, "Left in the vessel"),
            may("new_filter", YES_NO, "New filter"),
            may("made", OneOf(&["cream", "skim", "repoured"]), "Made into"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "sources",
        one: "source of a lot",
        key: None,
        happened: None,
        owner_only: false,
        columns: &[
            must("lot", Key("lots"), "Lot"),
            may("milking", Key("milkings"), "Milking in it"),
            may("parent", Key("lots"), "Made from lot"),
        ],
    },
    Kind {
        name: "ice_checks",
        one: "ice-water check",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("thermometer", Words(40), "Thermometer"),
            must("at", Moment, "Checked at"),
            must("reading", Heat, "Reads in ice water"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "chill",
        one: "chill reading",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("lot", Key("lots"), "Lot"),
            must("at", Moment, "Read at"),
            must("temperature", Heat, "Jar"),
            may("thermometer", Words(40), "Thermometer"),
            may("bath", Heat, "Bath"),
        ],
    },
    Kind {
        name: "counts",
        one: "count",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("at", Moment, "Counted at"),
            must("lot", Key("lots"), "Lot"),
            must("gallons", JARS, "Gallons"),
            must("half_gallons", JARS, "Half-gallons"),
            must("quarts", JARS, "Quarts"),
            must("pints", JARS, "Pints"),
            must("counter", Words(60), "Counted by"),
        ],
    },
    Kind {
        name: "pickups",
        one: "hand-out",
        key: None,
        happened: Some("at"),
        owner_only: true,
        columns: &[
            must("at", Moment, "Handed out at"),
            must("lot", Key("lots"), "Lot"),
            may("person", Key("people"), "To"),
            must("gallons", JARS, "Gallons"),
            must("half_gallons", JARS, "Half-gallons"),
            must("quarts", JARS, "Quarts"),
            must("pints", JARS, "Pints"),
            must("evidence", OneOf(&["seen", "signed", "assumed"]), "How we know"),
            may("taken_by", Words(80), "Taken by"),
            must("verdict", OneOf(&["Can go", "Wait", "Keep back", "Can't tell"]), "Verdict then"),
            must("because", Note(600), "Because"),
            must("facts", Note(4000), "Facts known then"),
            may("marked", Words(200), "Marked"),
        ],
    },
    Kind {
        name: "asides",
        one: "set aside",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("at", Moment, "When"),
            must("lot", Key("lots"), "Lot"),
            must("sort", OneOf(&["household", "calf", "made", "sample", "shelf jar", "broken", "thrown out", "returned"]), "Went to"),
            must("gallons", JARS, "Gallons"),
            must("half_gallons", JARS, "Half-gallons"),
            must("quarts", JARS, "Quarts"),
            must("pints", JARS, "Pints"),
            may("reason", Words(200), "Reason"),
        ],
    },
    Kind {
        name: "holds",
        one: "hold",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[
            must("at", Moment, "Held at"),
            must("scope", OneOf(&["lot", "cow", "vessel", "everything"]), "What is held"),
            may("lot", Key("lots"), "Lot"),
            may("cow", Key("cows"), "Cow"),
            may("vessel", Key("vessels"), "Vessel"),
            may("reason", Words(200), "Reason"),
        ],
    },
    Kind {
        name: "lifts",
        one: "lifted hold",
        key: None,
        happened: Some("at"),
        owner_only: false,
        columns: &[must("hold", Key("holds"), "Hold"), must("at", Moment, "Lifted at"), must("reason", Words(200), "Reason")],
    },
    Kind {
        name: "documents",
        one: "paper kept",
        key: None,
        happened: Some("at"),
        owner_only: true,
        columns: &[
            must("name", Words(120), "Name"),
            must("at", Moment, "Kept at"),
            must("hash", Words(64), "SHA-256 of the file"),
            must("size", Count(1, 99_999_999), "Bytes"),
        ],
    },
    Kind {
        name: "samples",
        one: "sample",
        key: None,
        happened: Some("drawn"),
        owner_only: false,
        columns: &[
            must("drawn", Moment, "Drawn at"),
            must("subject", OneOf(&["lot", "cow", "water", "swab"]), "Sample of"),
            may("lot", Key("lots"), "Lot"),
            may("cow", Key("cows"), "Cow"),
            may("place", Words(60), "Tap or surface"),
            may("asked", Words(300), "To be tested for"),
            may("sent", Moment, "Sent at"),
            may("received_at", Heat, "Read when the lab got it"),
            may("lab", Words(80), "Lab"),
            may("lab_ref", Words(60), "Lab's reference"),
            may("document", Key("documents"), "The lab's paper"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "results",
        one: "lab result",
        key: None,
        happened: Some("reported"),
        owner_only: false,
        columns: &[
            must("sample", Key("samples"), "Sample"),
            must("analyte", Words(60), "Test"),
            must("figure", LabFigure, "Result, as the lab wrote it"),
            may("unit", Words(40), "Unit"),
            may("part", Count(1, 60), "Which unit, if the lab tested several"),
            may("method", Words(80), "Method"),
            may("plates", Plates, "Plates or tubes as counted"),
            must("reported", Day, "Reported"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "renewals",
        one: "renewal",
        key: None,
        happened: Some("done"),
        owner_only: true,
        columns: &[
            must("sort", OneOf(RENEWED), "Sort"),
            must("what", Words(100), "What"),
            must("done", Day, "Done or signed on"),
            may("until", Day, "Good to"),
            may("cow", Key("cows"), "Cow, if one"),
            may("document", Key("documents"), "The paper"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "notices",
        one: "notice or request",
        key: None,
        happened: Some("at"),
        owner_only: true,
        columns: &[
            must("sort", OneOf(NOTICES), "Sort"),
            must("at", Moment, "Came at"),
            must("sender", Words(120), "From"),
            may("due", Day, "Answer by, if it says"),
            may("answered", Moment, "Answered at"),
            may("document", Key("documents"), "The paper"),
            may("note", Words(200), "Note"),
        ],
    },
    Kind {
        name: "decisions",
        one: "owner's decision",
        key: None,
        happened: Some("at"),
        owner_only: true,
        columns: &[
            must("lot", Key("lots"), "Lot"),
            must("at", Moment, "Decided at"),
            must("over", Note(2000), "Over what"),
            must("verdict", OneOf(&["Wait", "Can't tell"]), "Verdict then"),
            must("because", Note(600), "Because"),
            must("facts", Note(4000), "Facts known then"),
            must("reason", Words(400), "Why it may go all the same"),
        ],
    },
    Kind {
        name: "complaints",
        one: "complaint",
        key: None,
        happened: Some("at"),
        owner_only: true,
        columns: &[
            must("at", Moment, "Told at"),
            may("person", Key("people"), "By"),
            may("lot", Key("lots"), "Lot, if the lid could be read"),
            may("picked_up", Day, "Picked up on"),
            must("says", Note(2000), "What they said"),
            may("ill_since", Day, "Ill since"),
            may("doctor", YES_NO, "Doctor seen"),
            must("taken_by", Words(60), "Taken down by"),
        ],
    },
    Kind {
        name: "tickets",
        one: "ticket",
        key: None,
        happened: Some("paid"),
        owner_only: true,
        columns: &[
            must("paid", Day, "Paid on"),
            must("sort", OneOf(SPENT), "Sort"),
            must("what", Words(100), "What"),
            may("supplier", Words(80), "From"),
            must("amount", Money, "Amount"),
            may("quantity", Figure, "Quantity"),
            may("unit", Words(20), "Unit"),
            may("covers_from", Day, "Used from"),
            may("covers_to", Day, "Used to"),
            must("milk_share", Count(0, 100), "Part for milk, %"),
            must("guess", YES_NO, "A guess, not a ticket"),
        ],
    },
    Kind {
        name: "gear",
        one: "gear",
        key: Some("name"),
        happened: Some("bought"),
        owner_only: true,
        columns: &[
            must("name", Words(80), "Name"),
            must("sort", OneOf(&["gear", "cow"]), "Gear or cow"),
            may("cow", Key("cows"), "Cow"),
            must("bought", Day, "Bought or entered the herd on"),
            may("gone", Day, "Gone on"),
            must("price", Money, "Price"),
            must("salvage", Money, "Worth at the end"),
            must("life_years", Count(1, 60), "Life, years"),
            must("milk_share", Count(0, 100), "Part for milk, %"),
        ],
    },
    Kind {
        name: "minutes",
        one: "time spent",
        key: None,
        happened: Some("day"),
        owner_only: true,
        columns: &[
            must("day", Day, "Day"),
            must("job", OneOf(&["milking", "washing up", "filling", "feeding", "cow care", "delivery", "records"]), "Job"),
            must("person", Words(60), "Who"),
            must("minutes", Count(1, 960), "Minutes"),
            may("wage", Money, "Paid an hour, if hired"),
            must("guess", YES_NO, "A guess, not timed"),
        ],
    },
];

/// What may be assumed in a cost, each by its name.
pub const ASSUMED: &[&str] =
    &["worth of an hour", "payroll burden %", "interest %", "death loss %", "a half-gallon brings", "own land a month"];

/// What can happen to a cow that changes where she stands.
pub const TURNS: &[&str] =
    &["calved", "joined the can", "kept out", "dried off", "left", "served", "in calf", "not in calf", "unwell", "well again"];

/// What a strip test of a quarter shows: California mastitis test scores.
pub const STRIP_SCORES: &[&str] = &["negative", "trace", "1", "2", "3"];

/// The ways milk may reach a household, and the one by which it reaches none.
pub const CHANNEL_WORDS: &[&str] = &["herdshare", "farm gate", "delivery", "collection point", "shop", "animal feed"];

/// What has to be done again before a day.
pub const RENEWED: &[&str] = &[
    "permit",
    "agreement",
    "insurance",
    "TB test",
    "brucellosis test",
    "rabies vaccination",
    "herd health exam",
    "vet exam with blood test",
    "inspection",
    "practice call-back",
    "other",
];

/// What money is spent on, or comes back from.
pub const SPENT: &[&str] = &[
    "feed",
    "bedding",
    "supplies",
    "jars and lids",
    "vet",
    "breeding",
    "lab",
    "power",
    "insurance",
    "permit",
    "repairs",
    "driving",
    "land",
    "calf sold",
    "other",
];

/// The kind with this name.
#[must_use]
pub fn kind(name: &str) -> Option<&'static Kind> {
    KINDS.iter().find(|kind| kind.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_points_to_an_earlier_kind_or_its_own() {
        for (place, own) in KINDS.iter().enumerate() {
            for column in own.columns {
                if let Key(target) = column.shape {
                    let found = KINDS.iter().position(|kind| kind.name == target).unwrap();
                    assert!(found <= place, "{}.{} leans on a later kind", own.name, column.name);
                }
            }
            assert!(own.key.is_none_or(|key| own.place_of(key).is_some()), "{}", own.name);
            assert!(own.happened.is_none_or(|column| own.place_of(column).is_some()), "{}", own.name);
        }
    }
}
