//! The law of e-mails: nobody is written to for practice, or with words that were not meant for an e-mail.

use super::{Book, Breach, of, text};
use crate::trade::{post, records::Record};
use std::collections::HashMap;

impl Book {
    /// E-mails that should never have been asked for.
    pub(super) fn nobody_is_written_to_for_practice(&self, found: &mut Vec<Breach>) {
        let by_number = |name: &str| self.of(name).iter().map(|own| (own.number, own)).collect::<HashMap<i64, &Record>>();
        let (messages, callbacks) = (by_number("messages"), by_number("callbacks"));
        let named = |own: &Record, kind: &'static str, column: &str| own.cell(of(kind), column).whole();
        for mailing in self.of("mailings") {
            let message = named(mailing, "mailings", "message").and_then(|number| messages.get(&number));
            let Some(message) = message else { continue };
            let callback = named(message, "messages", "callback").and_then(|number| callbacks.get(&number));
            let says = match callback.map(|own| post::may_send(text(own, "callbacks", "sort"))) {
                Some(Err(fault)) => fault.to_string(),
                _ if text(message, "messages", "way") != "e-mail" => "An e-mail was asked for with words for another way.".to_owned(),
                _ => continue,
            };
            found.push(Breach { kind: "mailings", number: mailing.number, column: "message", says });
        }
    }
}
