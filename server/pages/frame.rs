//! The frames round every page: the farm's own, and the one round the pages of a household or of somebody with a pass.

use super::{App, Here};
use crate::{
    store::{corrections::UNDO_SECONDS, journal, stops},
    trade::{figures::NOTICE, when::Moment},
    web::answer::Trouble,
};

/// What can still be taken back.
#[derive(Clone, Copy, Debug)]
pub struct Undo {
    /// The act.
    pub act: i64,
    /// Seconds left.
    pub seconds: i64,
}

/// The frame round every page.
#[derive(Clone, Debug)]
pub struct Frame {
    /// The page's title.
    pub title: String,
    /// Which of the places it belongs to.
    pub place: &'static str,
    /// The farm's name.
    pub farm: String,
    /// Who is signed in; empty for nobody.
    pub who: String,
    /// The seal of their forms.
    pub seal: String,
    /// Whether they are the owner.
    pub is_owner: bool,
    /// What can still be taken back.
    pub undo: Option<Undo>,
    /// Whether all milk is stopped.
    pub everything_held: bool,
    /// What the sample farm says of itself.
    pub demo: Option<String>,
    /// What is to be said of a clock that is behind the ledger; empty when it is not.
    pub clock: String,
    /// What time it is.
    pub now: String,
}

const PLACES: [(&str, &str); 7] = [
    ("Today", "/"),
    ("Herd", "/herd"),
    ("Jars", "/jars"),
    ("Pickup", "/pickup"),
    ("People", "/people"),
    ("Costs", "/costs"),
    ("Binder", "/binder"),
];

/// Which places only the owner sees.
const OWNERS: [&str; 3] = ["People", "Costs", "Binder"];

impl Frame {
    /// The frame of a page for whoever is here.
    ///
    /// # Errors
    /// When the ledger cannot be read.
    pub async fn of(here: &Here, place: &'static str, title: impl Into<String>) -> Result<Frame, Trouble> {
        let mut db = here.app.ledger.read().await?;
        let since = Moment::seconds(here.now.in_seconds() - UNDO_SECONDS);
        let undo = journal::undoable(&mut db, &here.visitor.name, since)
            .await?
            // “Kept” above a form that was not kept would be read as that form's.
            .filter(|_| !here.sent)
            .map(|(act, at)| Undo { act, seconds: UNDO_SECONDS - (here.now.in_seconds() - at.in_seconds()) });
        Ok(Frame {
            title: title.into(),
            place,
            farm: here.farm.name.clone(),
            who: here.visitor.name.clone(),
            seal: here.visitor.seal.clone(),
            is_owner: here.visitor.is_owner(),
            undo,
            everything_held: stops::everything(&mut db).await?,
            demo: here.app.demo.clone(),
            clock: here.ahead.map_or_else(String::new, |last| clock_is_behind(here, last)),
            now: here.zone().in_full(here.now),
        })
    }

    /// A frame with nobody in it, for the doors in front.
    #[must_use]
    pub fn outside(app: &App, farm: &str, title: &str) -> Frame {
        Frame {
            title: title.to_owned(),
            place: "",
            farm: farm.to_owned(),
            who: String::new(),
            seal: String::new(),
            is_owner: false,
            undo: None,
            everything_held: false,
            demo: app.demo.clone(),
            clock: String::new(),
            now: String::new(),
        }
    }

    /// The places this person sees.
    pub fn places(&self) -> impl Iterator<Item = &'static (&'static str, &'static str)> + '_ {
        PLACES.iter().filter(|(name, _)| self.is_owner || !OWNERS.contains(name))
    }

    /// The notice on every page.
    #[must_use]
    pub const fn notice(&self) -> &'static str {
        NOTICE
    }
}

/// Either the clock is wrong now, or it was when the last record was written; nobody here can know which.
fn clock_is_behind(here: &Here, last: Moment) -> String {
    let (now, last) = (here.zone().in_full(here.app.clock.now()), here.zone().in_full(last));
    format!(
        "This machine’s clock says {now}, and the last record was written on {last}. If the clock is wrong, put it right; until then write every time yourself, and trust no verdict. If it is right, it was wrong then: look at what was written on that day and correct its times."
    )
}

/// The frame round the pages of a household or of somebody with a pass: no places of the farm, nothing to undo.
#[derive(Clone, Debug)]
pub struct OwnFrame {
    /// The page's title.
    pub title: String,
    /// The farm's name.
    pub farm: String,
    /// The household's number, or whom the pass is for; empty before they came in.
    pub label: String,
    /// The seal of their forms.
    pub seal: String,
    /// What the sample farm says of itself.
    pub demo: Option<String>,
    /// Where its name leads, and where leaving is sent.
    pub ways: [&'static str; 2],
    /// Whether its pages hold tables, and so need the room.
    pub wide: bool,
}

impl OwnFrame {
    /// The frame for somebody with a pass.
    #[must_use]
    pub fn of_pass(here: &Here, title: impl Into<String>) -> OwnFrame {
        let label = if here.visitor.pass.is_some() { here.visitor.name.clone() } else { String::new() };
        OwnFrame { label, ways: ["/pass", "/pass/leave"], wide: here.visitor.pass.is_some(), ..OwnFrame::of(here, title) }
    }

    /// The frame for whoever is here.
    #[must_use]
    pub fn of(here: &Here, title: impl Into<String>) -> OwnFrame {
        let label = if here.visitor.household.is_some() { here.visitor.name.clone() } else { String::new() };
        let (farm, demo) = (here.farm.name.clone(), here.app.demo.clone());
        OwnFrame { title: title.into(), farm, label, seal: here.visitor.seal.clone(), demo, ways: ["/own", "/own/leave"], wide: false }
    }

    /// The notice on every page.
    #[must_use]
    pub const fn notice(&self) -> &'static str {
        NOTICE
    }
}
