//! Cows, and what happens to them.

use super::{Kind, QUARTERS, STRIP_SCORES, TURNS, YES_NO, may, must};
use crate::trade::records::Shape::{Count, Day, Key, Moment, OneOf, Words};

pub(super) const COWS: Kind = Kind {
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
};

pub(super) const EVENTS: Kind = Kind {
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
};

pub(super) const TREATMENTS: Kind = Kind {
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
        may("milk_hours", Count(0, 2000), "Milk kept out, hours after the last dose"),
        may("milk_milkings", Count(0, 120), "Milk kept out, milkings"),
        may("counted_from", OneOf(&["the dose", "calving"]), "Milk time counted from"),
        may("dry_days", Count(0, 400), "Days dry the label asks for, if from calving"),
        may("meat_days", Count(0, 400), "Meat withdrawal, days"),
        must("as_labelled", YES_NO, "Used as its label says"),
        must("vet_figure", YES_NO, "The vet gave these figures"),
    ],
};

pub(super) const STRIP_TESTS: Kind = Kind {
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
};
