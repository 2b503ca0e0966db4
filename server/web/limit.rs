//! How often a door without a sign-in may be asked: so many times a minute from one address, and so many from all together. It is
//! counted in memory and told what time it is; a minute that is over is forgotten.
//!
//! Behind a proxy every asker comes from the proxy's address, and what a proxy says of others is not believed here, because anybody
//! could say it: so all of them together may then ask as often as one.

use crate::trade::when::Moment;
use std::{
    collections::HashMap,
    net::IpAddr,
    sync::{Mutex, PoisonError},
};

/// Asked by one address in a minute.
pub const BY_ONE: u32 = 20;
/// Asked by all in a minute; and so the most addresses ever held in memory.
pub const BY_ALL: u32 = 60;

/// What was asked in the minute that runs.
#[derive(Debug, Default)]
pub struct Minute {
    minute: i64,
    by_one: HashMap<String, u32>,
    by_all: u32,
}

impl Minute {
    /// Counts one more by somebody at a moment.
    ///
    /// # Errors
    /// The seconds to wait, when it is too often. What is refused is not counted.
    pub fn ask(&mut self, who: &str, now: Moment) -> Result<(), i64> {
        let (minute, second) = (now.in_seconds().div_euclid(60), now.in_seconds().rem_euclid(60));
        if minute != self.minute {
            *self = Minute { minute, ..Minute::default() };
        }
        let own = self.by_one.get(who).copied().unwrap_or(0);
        if own >= BY_ONE || self.by_all >= BY_ALL {
            return Err(60 - second);
        }
        self.by_one.insert(who.to_owned(), own + 1);
        self.by_all += 1;
        Ok(())
    }
}

/// The counter of one door.
#[derive(Debug, Default)]
pub struct Limiter(Mutex<Minute>);

impl Limiter {
    /// Counts one more by somebody at a moment.
    ///
    /// # Errors
    /// The seconds to wait, when it is too often.
    pub fn ask(&self, who: &str, now: Moment) -> Result<(), i64> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).ask(who, now)
    }
}

/// Who asks, as far as an address tells: of the newer sort (IPv6) the half that names a house, because one house has millions.
#[must_use]
pub fn who(address: IpAddr) -> String {
    match address.to_canonical() {
        IpAddr::V4(four) => four.to_string(),
        IpAddr::V6(six) => six.segments()[..4].iter().map(|part| format!("{part:x}")).collect::<Vec<_>>().join(":"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT: Moment = Moment::seconds(1_779_000_000);

    /// Source: OWASP REST Security Cheat Sheet: answer 429 when requests come in too quickly; the figures are our own choice.
    #[test]
    fn one_address_is_slowed_and_the_others_are_not() {
        let mut minute = Minute::default();
        assert!((0..BY_ONE).all(|_| minute.ask("192.0.2.7", AT).is_ok()));
        assert_eq!(minute.ask("192.0.2.7", AT.plus_minutes(0)), Err(60 - AT.in_seconds().rem_euclid(60)));
        assert_eq!(minute.ask("192.0.2.8", AT), Ok(()));
        assert_eq!(minute.ask("192.0.2.7", AT.plus_minutes(1)), Ok(()), "a minute later");
    }

    #[test]
    fn all_together_are_slowed_and_memory_does_not_grow() {
        let mut minute = Minute::default();
        let asked = (0..1000).filter(|nth| minute.ask(&format!("192.0.2.{nth}"), AT).is_ok()).count();
        assert_eq!(asked, BY_ALL as usize);
        assert_eq!(minute.by_one.len(), BY_ALL as usize, "who is refused is not remembered");
        assert_eq!(minute.ask("198.51.100.1", AT.plus_minutes(-5)), Ok(()), "a clock that was put back starts anew");
    }

    /// Source: RFC 4291, 2.5.4 (the first 64 bits name the network) and 2.5.5.2 (IPv4 in IPv6); addresses of RFC 5737 and RFC 3849.
    #[test]
    fn a_house_is_one_asker() {
        let of = |typed: &str| who(typed.parse().unwrap_or(IpAddr::from([0, 0, 0, 0])));
        assert_eq!(of("2001:db8:1:2::7"), of("2001:db8:1:2:ffff::9"));
        assert_ne!(of("2001:db8:1:2::7"), of("2001:db8:1:3::7"));
        assert_eq!(of("::ffff:192.0.2.7"), of("192.0.2.7"));
    }
}
