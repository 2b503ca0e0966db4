//! From the cow to a cold jar.

use super::{FOREMILK, JARS, Kind, YES_NO, may, must};
use crate::trade::records::Shape::{Code, Day, Dipstick, Heat, Key, Milk, Moment, OneOf, Session, Words};

pub(super) const VESSELS: Kind = Kind {
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
};

pub(super) const MILKINGS: Kind = Kind {
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
};

pub(super) const PAILS: Kind = Kind {
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
};

pub(super) const BREAKS: Kind = Kind {
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
};

pub(super) const LOTS: Kind = Kind {
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
};

pub(super) const SOURCES: Kind = Kind {
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
};

pub(super) const ICE_CHECKS: Kind = Kind {
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
};

pub(super) const CHILL: Kind = Kind {
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
};
