//! A call-back (recall) from the first call to the signature at its end: what it is about, how far it has come, what comes next,
//! and what must be so before it is closed.

use super::{
    called::{CalledLot, Out, Progress, Recipient, Standing, To},
    remarks::Remark,
    trace::{LotId, Tie, Ties},
    when::Moment,
};

/// A wording as it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wording {
    /// Its number.
    pub number: i64,
    /// For what.
    pub way: String,
    /// The words.
    pub says: String,
    /// When it was worded.
    pub at: Moment,
    /// By whom.
    pub who: String,
}

/// A step besides lots, tries and jars: who was told, the cause, the end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Course {
    /// Its number.
    pub number: i64,
    /// What.
    pub sort: String,
    /// In words.
    pub says: String,
    /// Who signed.
    pub signed: String,
    /// When.
    pub at: Moment,
    /// When it was written.
    pub written: Moment,
    /// By whom.
    pub who: String,
}

/// What has to be so before milk goes again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Condition {
    /// Its number.
    pub number: i64,
    /// What.
    pub says: String,
    /// When it was written.
    pub at: Moment,
    /// By whom.
    pub who: String,
    /// When it was met, who signed, and how it is known.
    pub met: Option<(Moment, String, String)>,
}

/// A call-back with all that is written of it.
#[derive(Clone, Debug)]
pub struct Case {
    /// Its number.
    pub number: i64,
    /// When it was opened.
    pub opened: Moment,
    /// When that was written.
    pub written: Moment,
    /// By whom.
    pub who: String,
    /// Whether it is for practice.
    pub practice: bool,
    /// Why.
    pub because: String,
    /// After which complaint.
    pub complaint: Option<i64>,
    /// After which result.
    pub result: Option<i64>,
    /// In a few words.
    pub note: String,
    /// Every lot decided about, as it stands.
    pub lots: Vec<CalledLot>,
    /// Every hand-out of the lots called back.
    pub outs: Vec<Out>,
    /// Everybody to reach, in the order to ring them.
    pub recipients: Vec<Recipient>,
    /// The household that told of it, which is on the phone already.
    pub teller: Option<i64>,
    /// The wordings that stand.
    pub wordings: Vec<Wording>,
    /// Every step, oldest first.
    pub courses: Vec<Course>,
    /// Every condition.
    pub conditions: Vec<Condition>,
}

/// What comes next: what to do, why, and the last part of its address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Next {
    /// What to do.
    pub says: &'static str,
    /// Why now.
    pub why: &'static str,
    /// Where.
    pub address: &'static str,
}

/// What a farm usually writes down as conditions; each can be left out or worded otherwise. Common practice.
pub const USUAL_CONDITIONS: [&str; 5] = [
    "The health department has said that milk may go again",
    "The lab has found nothing in new milk of the same cows and vessels",
    "Every vessel, line and strainer was taken apart, washed and sanitised, with worn rubber changed",
    "The cause is found, or everything that could be it is put right",
    "Every household was told what was found and what becomes of their jars",
];

impl Case {
    /// What it is called.
    #[must_use]
    pub fn title(&self) -> String {
        format!("{} {}", if self.practice { "Practice call-back" } else { "Call-back" }, self.number)
    }

    /// The lots that are called back.
    pub fn called(&self) -> impl Iterator<Item = &CalledLot> {
        self.lots.iter().filter(|own| own.called)
    }

    /// The lots called back, each with its tie.
    #[must_use]
    pub fn ties(&self) -> Ties {
        let tie = |own: &CalledLot| if own.certain { Tie::Certain(own.because.clone()) } else { Tie::Possible(own.because.clone()) };
        self.called().map(|own| (LotId(own.number), tie(own))).collect()
    }

    /// The codes called back.
    #[must_use]
    pub fn codes(&self) -> Vec<String> {
        self.called().map(|own| own.code.clone()).collect()
    }

    /// The step that closed it, unless it was opened again since.
    #[must_use]
    pub fn closed(&self) -> Option<&Course> {
        self.courses.iter().rev().find(|own| ["closed", "opened again"].contains(&own.sort.as_str())).filter(|own| own.sort == "closed")
    }

    /// The latest step of a sort.
    #[must_use]
    pub fn step(&self, sort: &str) -> Option<&Course> {
        self.courses.iter().rev().find(|own| own.sort == sort)
    }

    /// The wording for a way.
    #[must_use]
    pub fn wording(&self, way: &str) -> Option<&Wording> {
        self.wordings.iter().find(|own| own.way == way)
    }

    /// How far it has come.
    #[must_use]
    pub fn progress(&self) -> Progress {
        Progress::of(&self.recipients)
    }

    /// Somebody on the list.
    #[must_use]
    pub fn recipient(&self, to: To) -> Option<&Recipient> {
        self.recipients.iter().find(|own| own.to == to)
    }

    /// Whether somebody is the one who told of it.
    #[must_use]
    pub fn told_it(&self, to: To) -> bool {
        self.teller.is_some_and(|own| to == To::Household(own))
    }

    /// Whoever is to be tried next: those nobody has tried yet, whoever told of it last.
    #[must_use]
    pub fn to_ring(&self, but: Option<To>) -> Option<To> {
        let mut open: Vec<To> =
            self.recipients.iter().filter(|own| own.standing() == Standing::NotTried && Some(own.to) != but).map(|own| own.to).collect();
        open.sort_by_key(|to| self.told_it(*to));
        open.first().copied()
    }

    /// What comes next, in the order of a bad day.
    #[must_use]
    pub fn next(&self) -> Option<Next> {
        let next = |says, why, address| Some(Next { says, why, address });
        let progress = self.progress();
        if self.closed().is_some() {
            return None;
        }
        if !progress.all_tried() {
            return next("Ring the next household", "Whoever may have the most jars left comes first.", "people");
        }
        if self.step("health department told").is_none() && !self.practice {
            return next("Tell the health department", "Write down whom you spoke to and what they asked for.", "end");
        }
        if self.recipients.iter().any(|own| own.household.is_some() && own.standing() < Standing::Reached) {
            return next("Try those again who did not answer", "A message left is not a household reached.", "people");
        }
        if progress.said_all < progress.households {
            return next("Ask what became of their jars", "Every jar is drunk, there, frozen, given away, back or destroyed.", "people");
        }
        if self.conditions.is_empty() && !self.practice {
            return next("Write what must be so before milk goes again", "Ticked and signed one by one.", "end");
        }
        if self.conditions.iter().any(|own| own.met.is_none()) {
            return next("Tick the conditions that are met", "Each with how it is known, and a signature.", "end");
        }
        next("Close it", "With cause, correction and prevention, and a signature.", "end")
    }

    /// What stands in the way of closing it. Somebody who could not be reached is asked about and can be left, because some never
    /// answer; without cause, correction and prevention there is nothing to sign.
    #[must_use]
    pub fn before_closing(&self) -> Vec<Remark> {
        let missing = ["cause", "correction", "prevention"].into_iter().filter(|sort| self.step(sort).is_none());
        let mut remarks: Vec<Remark> =
            missing.map(|sort| Remark::fault("closed", format!("Write the {sort} first; “not found” is an answer too."))).collect();
        let progress = self.progress();
        let open = progress.households - progress.reached;
        if open > 0 {
            let says =
                format!("{} not reached. Close it all the same?", super::callback::so_many(open, "household was", "households were"));
            remarks.push(Remark::question("closed", says, None));
        }
        let unmet = self.conditions.iter().filter(|own| own.met.is_none()).count();
        if unmet > 0 {
            let says = format!("{} not ticked. Close it all the same?", super::callback::so_many(unmet, "condition is", "conditions are"));
            remarks.push(Remark::question("closed", says, None));
        }
        remarks
    }
}

/// How many households an effectiveness check asks, by its level (21 CFR 7.42(b)(3), from a secondary table): all of them at A, one
/// in ten at C, one in fifty at D, none at E; rounded up, which is common practice. B lies between A and C as the authority sets it.
#[must_use]
pub const fn to_check(level: char, households: usize) -> Option<usize> {
    match level {
        'A' => Some(households),
        'C' => Some(households.div_ceil(10)),
        'D' => Some(households.div_ceil(50)),
        'E' => Some(0),
        _ => None,
    }
}
