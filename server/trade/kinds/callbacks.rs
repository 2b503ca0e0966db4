//! The bad day: what a caller answered, what was called back, whom it reached, what became of every jar, and what had to be so
//! before milk went again. Each is written as it happens, so a page closed half-way loses nothing and two people can work at once.

use super::{ANSWERED, BECAME, BECAUSE, COURSE, JARS, Kind, MAILED, OUTCOMES, REACHED_BY, WORDED, may, must};
use crate::trade::records::Shape::{Heat, Key, Moment, Note, OneOf, Words};

pub(super) const ANSWERS: Kind = Kind {
    name: "answers",
    one: "answer about a complaint",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("complaint", Key("complaints"), "Complaint"),
        must("at", Moment, "Answered at"),
        must("question", OneOf(ANSWERED), "Question"),
        must("says", Note(1000), "Answer"),
    ],
};

pub(super) const CALLBACKS: Kind = Kind {
    name: "callbacks",
    one: "call-back",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("at", Moment, "Opened at"),
        must("sort", OneOf(&["call-back", "practice"]), "In earnest or for practice"),
        must("because", OneOf(BECAUSE), "Why"),
        may("complaint", Key("complaints"), "After which complaint"),
        may("result", Key("results"), "After which result"),
        may("note", Words(300), "In a few words, without names"),
    ],
};

pub(super) const CALLED: Kind = Kind {
    name: "called",
    one: "lot of a call-back",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("callback", Key("callbacks"), "Call-back"),
        must("at", Moment, "Decided at"),
        must("lot", Key("lots"), "Lot"),
        must("tie", OneOf(&["certain", "possible"]), "Tie"),
        must("because", Note(600), "Why it is in"),
        must("stands", OneOf(&["called back", "left out"]), "Called back or left out"),
        may("reason", Words(300), "Why it is left out"),
    ],
};

pub(super) const CONTACTS: Kind = Kind {
    name: "contacts",
    one: "try at reaching somebody",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("callback", Key("callbacks"), "Call-back"),
        must("at", Moment, "When"),
        may("person", Key("people"), "Household"),
        may("pickup", Key("pickups"), "Hand-out to an unknown walk-in"),
        must("way", OneOf(REACHED_BY), "How"),
        must("outcome", OneOf(OUTCOMES), "What came of it"),
        may("note", Words(300), "Note, never about health"),
    ],
};

pub(super) const TELLINGS: Kind = Kind {
    name: "tellings",
    one: "word about jars called back",
    key: None,
    happened: None,
    owner_only: true,
    columns: &[
        must("contact", Key("contacts"), "Told at which try"),
        must("lot", Key("lots"), "Lot"),
        must("became", OneOf(BECAME), "What became of them"),
        must("gallons", JARS, "Gallons"),
        must("half_gallons", JARS, "Half-gallons"),
        must("quarts", JARS, "Quarts"),
        must("pints", JARS, "Pints"),
        may("note", Words(120), "To whom, if given away"),
    ],
};

pub(super) const MESSAGES: Kind = Kind {
    name: "messages",
    one: "wording of a message",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("callback", Key("callbacks"), "Call-back"),
        must("at", Moment, "Worded at"),
        must("way", OneOf(WORDED), "For"),
        must("says", Note(3000), "Words"),
    ],
};

pub(super) const MAILINGS: Kind = Kind {
    name: "mailings",
    one: "e-mail to a household",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("message", Key("messages"), "Wording"),
        must("at", Moment, "Asked for at"),
        must("person", Key("people"), "To"),
        may("address", Words(80), "Address"),
    ],
};

pub(super) const DELIVERIES: Kind = Kind {
    name: "deliveries",
    one: "step of an e-mail",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("mailing", Key("mailings"), "E-mail"),
        must("at", Moment, "When"),
        must("outcome", OneOf(MAILED), "What came of it"),
        may("answer", Words(300), "What the server said"),
    ],
};

pub(super) const COURSES: Kind = Kind {
    name: "courses",
    one: "step of a call-back",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("callback", Key("callbacks"), "Call-back"),
        must("at", Moment, "When"),
        must("sort", OneOf(COURSE), "What"),
        must("says", Note(1500), "In words"),
        may("signed", Words(60), "Signed"),
    ],
};

pub(super) const CONDITIONS: Kind = Kind {
    name: "conditions",
    one: "condition before milk goes again",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("callback", Key("callbacks"), "Call-back"),
        must("at", Moment, "Written at"),
        must("says", Words(300), "What has to be so"),
    ],
};

pub(super) const CONDITIONS_MET: Kind = Kind {
    name: "conditions_met",
    one: "condition ticked",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[
        must("condition", Key("conditions"), "Condition"),
        must("at", Moment, "Met at"),
        must("signed", Words(60), "Signed"),
        may("note", Words(200), "How it is known"),
    ],
};

pub(super) const WARM_FRIDGES: Kind = Kind {
    name: "warm_fridges",
    one: "fridge found warm",
    key: None,
    happened: Some("found"),
    owner_only: false,
    columns: &[
        must("fridge", Words(40), "Fridge"),
        may("last_cold", Moment, "Last known cold at"),
        must("found", Moment, "Found at"),
        may("warmest", Heat, "Warmest jar"),
        may("thermometer", Words(40), "Thermometer"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const WARMED: Kind = Kind {
    name: "warmed",
    one: "lot in a warm fridge",
    key: None,
    happened: None,
    owner_only: false,
    columns: &[must("warm_fridge", Key("warm_fridges"), "Fridge found warm"), must("lot", Key("lots"), "Lot")],
};
