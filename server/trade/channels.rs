//! The ways milk leaves the farm, as a rule names them.

use super::{
    Fault, short,
    steps::{NOT_KNOWN, Sure, meant, sure_word, with_sure, word},
};
use std::fmt;

/// A way milk may leave the farm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Channel {
    /// To the owners of the herd.
    Herdshare,
    /// Picked up where it was made.
    FarmGate,
    /// Brought to the household.
    Delivery,
    /// Handed out at an agreed place or a market.
    CollectionPoint,
    /// Sold in a shop.
    Shop,
    /// Given out as feed for animals.
    AnimalFeed,
}

impl Channel {
    /// Every way, with its words.
    pub const WORDS: [(Channel, &'static str); 6] = [
        (Channel::Herdshare, "herdshare"),
        (Channel::FarmGate, "farm gate"),
        (Channel::Delivery, "delivery"),
        (Channel::CollectionPoint, "collection point"),
        (Channel::Shop, "shop"),
        (Channel::AnimalFeed, "animal feed"),
    ];

    /// The way a word names, if it names one.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Channel> {
        meant(&Channel::WORDS, typed)
    }
}

impl fmt::Display for Channel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(word(&Channel::WORDS, *self).unwrap_or(NOT_KNOWN))
    }
}

/// The ways milk may be handed out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Channels {
    /// Nothing is known of them.
    #[default]
    NotKnown,
    /// Those a rule names. An empty list means that it names none, which is not the same as not known.
    Named(Vec<Channel>, Sure),
}

impl Channels {
    /// Whether this way is among those named.
    #[must_use]
    pub fn name(&self, way: Channel) -> bool {
        matches!(self, Channels::Named(list, _) if list.contains(&way))
    }

    /// Reads a line such as `farm gate, shop [memory]` or `none named [read]`.
    ///
    /// # Errors
    /// A sentence when a way is none of the known ones.
    pub fn parse(text: &str) -> Result<Channels, Fault> {
        if matches!(text.trim(), "" | NOT_KNOWN) {
            return Ok(Channels::NotKnown);
        }
        let read = || {
            let (body, sure) = with_sure(text)?;
            let list =
                if body == "none named" { Some(Vec::new()) } else { body.split(',').map(|way| meant(&Channel::WORDS, way)).collect() };
            Some(Channels::Named(list?, sure))
        };
        read().ok_or_else(|| {
            let ways: Vec<&str> = Channel::WORDS.iter().map(|(_, word)| *word).collect();
            let (given, ways) = (short(text), ways.join(", "));
            Fault::says(format!("“{given}” does not say how milk goes out. Write it like: farm gate, shop [chosen]. The ways are {ways}."))
        })
    }
}

impl fmt::Display for Channels {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Channels::Named(list, sure) = self else { return f.write_str(NOT_KNOWN) };
        let said: Vec<String> = list.iter().map(ToString::to_string).collect();
        write!(f, "{} [{}]", if said.is_empty() { "none named".into() } else { said.join(", ") }, sure_word(*sure))
    }
}
