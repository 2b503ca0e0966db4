//! Everything of a call-back in the order it happened, with the time it was written beside it: the two are never the same thing,
//! and a reader sees at once what was written late.

use super::Packet;
use crate::trade::{
    complaint::{QUESTIONS, shown},
    figures::{Holds, Table},
    when::{Moment, Zone, span_shown},
};

/// One thing that happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Happened {
    /// When.
    pub at: Moment,
    /// When it was written; nothing where that is the same act.
    pub written: Moment,
    /// What.
    pub what: String,
    /// By whom.
    pub who: String,
}

fn happened(at: Moment, written: Moment, what: impl Into<String>, who: &str) -> Happened {
    Happened { at, written, what: what.into(), who: who.to_owned() }
}

/// Everything, oldest first.
#[must_use]
pub fn events(packet: &Packet<'_>) -> Vec<Happened> {
    let case = packet.case;
    let mut all = packet.holds.clone();
    if let Some(told) = packet.told {
        all.push(happened(told.at, told.at, format!("Complaint told by {}", told.called()), &told.taken_by));
        for own in QUESTIONS {
            if let Some(answer) = told.answers.get(own.key) {
                all.push(happened(
                    answer.at,
                    answer.at,
                    format!("{} {}", own.asks, shown(&own, &answer.says, packet.found.zone)),
                    &answer.who,
                ));
            }
        }
    }
    all.push(happened(case.opened, case.written, format!("{} opened: {}", case.title(), case.because), &case.who));
    for own in &case.lots {
        let stands = if own.called { "called back".to_owned() } else { format!("left out: {}", own.reason) };
        all.push(happened(own.at, own.at, format!("Lot {} {stands}", own.code), &own.who));
    }
    for own in &case.wordings {
        all.push(happened(own.at, own.at, format!("Words for {} kept", own.way), &own.who));
    }
    for own in &case.recipients {
        for tried in &own.tries {
            all.push(happened(tried.at, tried.written, format!("{} by {}: {}", own.called(), tried.way, tried.outcome), &tried.who));
        }
    }
    for own in &case.courses {
        all.push(happened(own.at, own.written, format!("{}: {}", crate::trade::capital(&own.sort), own.says), &own.who));
    }
    for own in &case.conditions {
        all.push(happened(own.at, own.at, format!("Condition written: {}", own.says), &own.who));
        if let Some((at, signed, _)) = &own.met {
            all.push(happened(*at, *at, format!("Condition met: {}", own.says), signed));
        }
    }
    all.sort_by_key(|own| (own.at, own.written));
    all
}

/// The same as a table.
pub(super) fn table(events: &[Happened], zone: Zone) -> Table {
    let columns = [("Happened", Holds::Words, 4), ("Written", Holds::Words, 4), ("What", Holds::Words, 8), ("By", Holds::Words, 2)];
    let mut table = Table::new("timeline", "What happened, and when it was written", &columns);
    for own in events {
        let late = own.written.minutes_since(own.at);
        let written = match late {
            0 => "at once".to_owned(),
            _ if zone.day(own.at) == zone.day(own.written) => format!("{}, {} later", zone.clock(own.written), span_shown(late)),
            _ => format!("{}, {} later", zone.in_full(own.written), span_shown(late)),
        };
        table.row([zone.in_full(own.at), written, own.what.clone(), own.who.clone()]);
    }
    table
}
