//! The only place that reads the clock; a lint keeps it so. Everything else is told what time it is.

use crate::trade::when::Moment;

/// The clock the program goes by.
#[derive(Clone, Copy, Debug)]
pub enum Clock {
    /// The machine's own.
    Real,
    /// Started at another moment, and running from there: the sample farm lives on its own dates.
    StartedAt {
        /// The moment it was set to.
        set_to: Moment,
        /// What the machine's clock said then.
        real: Moment,
    },
    /// Standing still, for tests.
    Stopped(Moment),
}

impl Clock {
    /// A clock set to a moment and running on from it.
    #[must_use]
    pub fn set_to(moment: Moment) -> Clock {
        Clock::StartedAt { set_to: moment, real: machine() }
    }

    /// What time it is.
    #[must_use]
    pub fn now(self) -> Moment {
        match self {
            Clock::Real => machine(),
            Clock::StartedAt { set_to, real } => Moment::seconds(set_to.in_seconds() + machine().in_seconds() - real.in_seconds()),
            Clock::Stopped(moment) => moment,
        }
    }
}

/// A moment as the head of a letter is made from it.
#[must_use]
pub fn for_a_letter(moment: Moment) -> std::time::SystemTime {
    let since = std::time::Duration::from_secs(u64::try_from(moment.in_seconds()).unwrap_or(0));
    std::time::SystemTime::UNIX_EPOCH + since
}

#[expect(clippy::disallowed_methods, reason = "this is the one place that reads the clock")]
fn machine() -> Moment {
    chrono::Utc::now().into()
}
