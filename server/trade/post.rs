//! The e-mails of a call-back: where each stands, which may be tried now, and what is said of it.
//!
//! An e-mail that may have gone is never sent again by itself, and one that did not go is never left unsaid: whoever was not
//! surely written to is rung.

use super::{
    Fault,
    kinds::MAILED,
    when::{Moment, Zone},
};

/// How far a talk with a mail server had come when its last answer came, or when none came.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum HowFar {
    /// Before the server was told for whom it is.
    Before,
    /// The server was told for whom it is.
    Recipient,
    /// The words themselves were on their way.
    Content,
}

/// What became of one try.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Written down before the server is spoken to.
    Sending,
    /// The server said that it has it.
    Taken,
    /// It did not go, and may be tried again.
    PutOff,
    /// The server will not have it.
    Refused,
    /// It may have gone or not.
    NotKnown,
}

impl Outcome {
    const ALL: [Outcome; 5] = [Outcome::Sending, Outcome::Taken, Outcome::PutOff, Outcome::Refused, Outcome::NotKnown];

    /// The word it is kept by.
    #[must_use]
    pub const fn word(self) -> &'static str {
        MAILED[self as usize]
    }

    /// Reads the word it is kept by. A word nobody knows may mean that it went.
    #[must_use]
    pub fn parse(word: &str) -> Outcome {
        Outcome::ALL.into_iter().find(|own| own.word() == word).unwrap_or(Outcome::NotKnown)
    }

    /// What a server's last answer means, or its silence (RFC 5321, 4.2.1: 2yz is done, 4yz may be tried again, 5yz may not).
    ///
    /// Only an answer about the household's own address is for good. What a server says before it was told for whom it is, and
    /// that it wants a sign-in (530, RFC 4954), is about the farm's settings, which may be put right while there is time.
    #[must_use]
    pub const fn of(how_far: HowFar, code: Option<u16>) -> Outcome {
        match (how_far, code) {
            (HowFar::Content, Some(200..300)) => Outcome::Taken,
            (_, Some(400..500 | 530)) => Outcome::PutOff,
            (HowFar::Recipient | HowFar::Content, Some(500..600)) => Outcome::Refused,
            (HowFar::Content, _) => Outcome::NotKnown,
            _ => Outcome::PutOff,
        }
    }
}

/// One step of an e-mail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// When.
    pub at: Moment,
    /// What came of it.
    pub outcome: Outcome,
    /// What the server said, or what was said in its place.
    pub answer: String,
}

/// Where an e-mail stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Not tried yet.
    Waiting,
    /// The server is being spoken to.
    Sending,
    /// The server has it.
    Taken(Moment),
    /// It did not go so many times, and is tried again.
    PutOff(usize, Moment),
    /// It did not go, and the time for it is over.
    GivenUp(usize),
    /// The server will not have it.
    Refused,
    /// It may have gone or not.
    NotKnown,
}

/// Minutes between one try and the next. Servers among themselves try for days (RFC 5321, 4.5.4.1); a household that has the
/// milk on its table is rung the same evening, so this stops within hours. Our own choice.
const PAUSES: [i64; 7] = [1, 5, 15, 60, 60, 60, 60];

/// Hours after which nothing is tried any more, however seldom it was: a ledger opened again, or taken in from a folder, days
/// later must not send yesterday's alarm.
const HOURS: i64 = 6;

/// Where an e-mail stands, by when it was asked for and its steps in the order they were written.
#[must_use]
pub fn state(asked: Moment, steps: &[Step], now: Moment) -> State {
    let tries = steps.iter().filter(|step| step.outcome == Outcome::PutOff).count();
    let over = asked.plus_hours(HOURS);
    let Some(last) = steps.last() else {
        return if now > over { State::GivenUp(0) } else { State::Waiting };
    };
    match last.outcome {
        Outcome::Sending => State::Sending,
        Outcome::Taken => State::Taken(last.at),
        Outcome::Refused => State::Refused,
        Outcome::NotKnown => State::NotKnown,
        Outcome::PutOff => match tries.checked_sub(1).and_then(|nth| PAUSES.get(nth)) {
            Some(pause) if last.at.plus_minutes(*pause) <= over && now <= over => State::PutOff(tries, last.at.plus_minutes(*pause)),
            _ => State::GivenUp(tries),
        },
    }
}

impl State {
    /// When it may be tried: nothing for what is under way or over.
    #[must_use]
    pub const fn due(self, asked: Moment) -> Option<Moment> {
        match self {
            State::Waiting => Some(asked),
            State::PutOff(_, next) => Some(next),
            State::Sending | State::Taken(_) | State::GivenUp(_) | State::Refused | State::NotKnown => None,
        }
    }

    /// Whether it is over and the household was not surely written to, so that somebody has to ring them.
    #[must_use]
    pub const fn is_to_be_rung(self) -> bool {
        matches!(self, State::GivenUp(_) | State::Refused | State::NotKnown)
    }

    /// A word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            State::Waiting => "waiting",
            State::Sending => "being sent",
            State::Taken(_) => "taken by the server",
            State::PutOff(..) => "put off",
            State::GivenUp(_) => "not delivered",
            State::Refused => "refused",
            State::NotKnown => "not known",
        }
    }

    /// What to say of it, in a sentence.
    #[must_use]
    pub fn says(self, zone: Zone) -> String {
        let times = |tries: usize| if tries == 1 { "once".to_owned() } else { format!("{tries} times") };
        match self {
            State::Waiting => "Waiting for its turn.".to_owned(),
            State::Sending => "Being sent now.".to_owned(),
            State::Taken(at) => format!("Taken by the server at {}. Whether it was read is not known.", zone.clock(at)),
            State::PutOff(tries, next) => format!("Did not go, tried {}; tried again at {}.", times(tries), zone.clock(next)),
            State::GivenUp(0) => "Not delivered: it was never tried, and its time is over. Ring them.".to_owned(),
            State::GivenUp(tries) => format!("Not delivered: tried {}, and its time is over. Ring them.", times(tries)),
            State::Refused => "Not delivered: refused for good. Ring them.".to_owned(),
            State::NotKnown => "Not known: it may have gone or not, and is not sent again by itself. Ring them.".to_owned(),
        }
    }
}

/// Whether anybody may be written to about a call-back of this sort.
///
/// # Errors
/// Why nobody is.
pub fn may_send(sort: &str) -> Result<(), Fault> {
    match sort {
        "call-back" => Ok(()),
        _ => Err(Fault::says("This is practice: nobody is written to, and nothing was sent.")),
    }
}

/// The longest answer that is kept.
const LONGEST: usize = 300;

/// What a server said, in one line that can be kept: without the household's address, which has its own place.
#[must_use]
pub fn kept_answer(said: &str, address: &str) -> String {
    let plain: String = said.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let words = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    let words = if address.is_empty() { words } else { without(&words, address) };
    words.chars().take(LONGEST).collect()
}

/// Words without an address, however its letters are written.
fn without(words: &str, address: &str) -> String {
    let (mut left, mut rest) = (String::new(), words);
    // Lower-casing plain letters moves no byte, and an address has no others.
    while let Some(place) = rest.to_ascii_lowercase().find(&address.to_ascii_lowercase()) {
        left.push_str(&rest[..place]);
        left.push_str("that address");
        rest = &rest[place + address.len()..];
    }
    left + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    const ASKED: Moment = Moment::seconds(1_000_000);

    fn steps(said: &[(i64, Outcome)]) -> Vec<Step> {
        said.iter().map(|(minutes, outcome)| Step { at: ASKED.plus_minutes(*minutes), outcome: *outcome, answer: String::new() }).collect()
    }

    #[test]
    fn outcomes_are_the_words_of_the_records() {
        assert_eq!(Outcome::ALL.map(Outcome::word).as_slice(), MAILED);
        assert!(Outcome::ALL.into_iter().all(|own| Outcome::parse(own.word()) == own));
        assert_eq!(Outcome::parse("flown"), Outcome::NotKnown);
    }

    /// Source: RFC 5321, 4.2.1 (the first digit of a reply), 4.2.5 and 6.1 (who answers for a message after the end of its
    /// data); RFC 4954, 6 (530).
    #[test]
    fn an_answer_means_what_the_standard_says() {
        use HowFar::{Before, Content, Recipient};
        for (how_far, code, outcome) in [
            (Content, Some(250), Outcome::Taken),
            (Content, Some(451), Outcome::PutOff),
            (Content, Some(554), Outcome::Refused),
            (Content, None, Outcome::NotKnown),
            (Content, Some(354), Outcome::NotKnown),
            (Recipient, Some(550), Outcome::Refused),
            (Recipient, Some(450), Outcome::PutOff),
            (Recipient, Some(421), Outcome::PutOff),
            (Recipient, Some(530), Outcome::PutOff),
            (Recipient, None, Outcome::PutOff),
            (Before, Some(535), Outcome::PutOff),
            (Before, Some(554), Outcome::PutOff),
            (Before, None, Outcome::PutOff),
        ] {
            assert_eq!(Outcome::of(how_far, code), outcome, "{how_far:?} {code:?}");
        }
    }

    #[test]
    fn each_step_leaves_it_somewhere() {
        let after = |said: &[(i64, Outcome)], minutes| state(ASKED, &steps(said), ASKED.plus_minutes(minutes));
        assert_eq!(after(&[], 0), State::Waiting);
        assert_eq!(after(&[(0, Outcome::Sending)], 0), State::Sending);
        assert_eq!(after(&[(0, Outcome::Sending), (1, Outcome::Taken)], 900), State::Taken(ASKED.plus_minutes(1)));
        assert_eq!(after(&[(0, Outcome::Sending), (1, Outcome::Refused)], 1), State::Refused);
        assert_eq!(after(&[(0, Outcome::Sending), (1, Outcome::NotKnown)], 1), State::NotKnown);
        let twice = [(0, Outcome::Sending), (0, Outcome::PutOff), (1, Outcome::Sending), (1, Outcome::PutOff)];
        assert_eq!(after(&twice[..2], 0), State::PutOff(1, ASKED.plus_minutes(1)));
        assert_eq!(after(&twice, 1), State::PutOff(2, ASKED.plus_minutes(6)));
        assert_eq!(after(&twice[..3], 1), State::Sending);
    }

    #[test]
    fn only_what_did_not_go_is_tried_again() {
        for state in [State::Sending, State::Taken(ASKED), State::GivenUp(8), State::Refused, State::NotKnown] {
            assert_eq!(state.due(ASKED), None, "{state:?}");
        }
        assert_eq!(State::Waiting.due(ASKED), Some(ASKED));
        assert_eq!(State::PutOff(1, ASKED.plus_minutes(1)).due(ASKED), Some(ASKED.plus_minutes(1)));
    }

    #[test]
    fn a_server_that_never_has_it_is_given_up_within_hours() {
        let mut said: Vec<(i64, Outcome)> = Vec::new();
        let mut minutes = 0;
        let mut tries = Vec::new();
        while let Some(next) = state(ASKED, &steps(&said), ASKED.plus_minutes(minutes)).due(ASKED) {
            minutes = next.minutes_since(ASKED);
            tries.push(minutes);
            said.extend([(minutes, Outcome::Sending), (minutes, Outcome::PutOff)]);
        }
        assert_eq!(tries, [0, 1, 6, 21, 81, 141, 201, 261]);
        assert_eq!(state(ASKED, &steps(&said), ASKED.plus_minutes(minutes)), State::GivenUp(8));
        assert!(State::GivenUp(8).says(Zone::UTC).contains("Ring them"));
    }

    #[test]
    fn nothing_is_sent_days_later() {
        let late = ASKED.plus_hours(48);
        assert_eq!(state(ASKED, &[], late), State::GivenUp(0));
        assert_eq!(state(ASKED, &steps(&[(0, Outcome::Sending), (0, Outcome::PutOff)]), late), State::GivenUp(1));
    }

    #[test]
    fn practice_writes_to_nobody() {
        assert!(may_send("call-back").is_ok());
        assert!(may_send("practice").unwrap_err().to_string().contains("nobody is written to"));
        assert!(may_send("").is_err());
    }

    #[test]
    fn an_answer_is_kept_without_the_address_and_in_one_line() {
        let said = "550 5.1.1 <M05@Example.org>: no such\r\nmailbox, m05@example.org";
        assert_eq!(kept_answer(said, "m05@example.org"), "550 5.1.1 <that address>: no such mailbox, that address");
        assert_eq!(kept_answer(&"é".repeat(400), "").chars().count(), 300);
    }
}
