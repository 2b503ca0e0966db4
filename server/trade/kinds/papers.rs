//! The lab, papers that have to be renewed or answered, what the owner decided, and what people told.

use super::{Kind, RENEWED, YES_NO, may, must};
use crate::trade::{
    notices::SORTS,
    records::Shape::{Count, Day, Heat, Key, LabFigure, Moment, Note, OneOf, Plates, Words},
};

pub(super) const DOCUMENTS: Kind = Kind {
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
};

pub(super) const SAMPLES: Kind = Kind {
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
};

pub(super) const RESULTS: Kind = Kind {
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
};

pub(super) const RENEWALS: Kind = Kind {
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
};

pub(super) const NOTICES: Kind = Kind {
    name: "notices",
    one: "notice or request",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("sort", OneOf(SORTS), "Sort"),
        must("at", Moment, "Came at"),
        must("sender", Words(120), "From"),
        may("due", Day, "Answer by, if it says"),
        may("answered", Moment, "Answered at"),
        may("document", Key("documents"), "The paper"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const DECISIONS: Kind = Kind {
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
};

pub(super) const COMPLAINTS: Kind = Kind {
    name: "complaints",
    one: "complaint",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("at", Moment, "Told at"),
        may("person", Key("people"), "By"),
        may("caller", Words(80), "By whom, if not on the list"),
        may("lot", Key("lots"), "Lot, if the lid could be read"),
        may("picked_up", Day, "Picked up on"),
        may("says", Note(2000), "What they said"),
        may("ill_since", Day, "Ill since"),
        may("doctor", YES_NO, "Doctor seen"),
        must("taken_by", Words(60), "Taken down by"),
    ],
};
