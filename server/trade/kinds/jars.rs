//! Where jars went, and what was stopped.

use super::{JARS, Kind, may, must};
use crate::trade::records::Shape::{Key, Moment, Note, OneOf, Words};

pub(super) const COUNTS: Kind = Kind {
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
};

pub(super) const PICKUPS: Kind = Kind {
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
};

pub(super) const ASIDES: Kind = Kind {
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
};

pub(super) const HOLDS: Kind = Kind {
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
};

pub(super) const LIFTS: Kind = Kind {
    name: "lifts",
    one: "lifted hold",
    key: None,
    happened: Some("at"),
    owner_only: false,
    columns: &[must("hold", Key("holds"), "Hold"), must("at", Moment, "Lifted at"), must("reason", Words(200), "Reason")],
};
