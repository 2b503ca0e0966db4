//! One line of the first page: what it says, and where to go with it.

/// What a matter is about, and so where to go with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum About {
    /// A lot.
    Lot(String),
    /// Several lots at once.
    Lots,
    /// A chill reading of a lot.
    Chill(String),
    /// A cow.
    Cow(String),
    /// Holds.
    Stop,
    /// A vessel.
    Vessel(String),
    /// A count.
    Count,
    /// The backup.
    Backup,
    /// A rule set, if there is one.
    Rules(Option<i64>),
    /// The calendar.
    Calendar,
    /// The register of agreements.
    Agreements,
    /// A bottle that went to the lab, by its number.
    Bottle(i64),
    /// A thermometer to hold in ice water.
    IceCheck(String),
    /// A result that stands against milk that is out, by its number.
    Result(i64),
    /// Milk that is out and would be called back: why, and its lots.
    CallBack(&'static str, Vec<String>),
}

/// One line of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Matter {
    /// Whether it is wrong now, and not only due.
    pub wrong: bool,
    /// What it is, in a few words.
    pub what: String,
    /// The lots it is about.
    pub lots: Vec<String>,
    /// What more there is to say.
    pub detail: String,
    /// Where to go with it.
    pub about: About,
}

impl Matter {
    /// Something that is wrong now.
    pub fn wrong(what: impl Into<String>, detail: impl Into<String>, about: About) -> Matter {
        Matter { wrong: true, what: what.into(), lots: Vec::new(), detail: detail.into(), about }
    }

    /// Something that is due.
    pub fn due(what: impl Into<String>, detail: impl Into<String>, about: About) -> Matter {
        Matter { wrong: false, ..Matter::wrong(what, detail, about) }
    }

    /// The same, of these lots.
    #[must_use]
    pub fn of(self, lots: Vec<String>) -> Matter {
        Matter { lots, ..self }
    }
}
