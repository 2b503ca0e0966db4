//! What a household needs before it may have milk: papers that are signed, and ways to reach it.
//!
//! A rule may name some of them. A share in a herd is nobody's before it was bought and its boarding agreed, so a herdshare
//! household always needs both papers; that is the farm's own choice where no rule says it.

use super::{
    Fault,
    channels::Channel,
    short,
    steps::{NOT_KNOWN, Sure, meant, sure_word, with_sure, word},
    when::{Day, day_shown},
};
use std::fmt;

/// Something a household needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Need {
    /// Two ways to reach it.
    TwoWays,
    /// The bill of sale of its share.
    BillOfSale,
    /// The agreement on boarding its share of the herd.
    BoardingAgreement,
    /// A paper on which it says that it knows the danger.
    Acknowledgment,
}

impl Need {
    const WORDS: [(Need, &'static str); 4] = [
        (Need::TwoWays, "two ways to reach"),
        (Need::BillOfSale, "bill of sale"),
        (Need::BoardingAgreement, "boarding agreement"),
        (Need::Acknowledgment, "acknowledgment of risk"),
    ];
}

impl fmt::Display for Need {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(word(&Need::WORDS, *self).unwrap_or(NOT_KNOWN))
    }
}

/// What a rule set names.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Needs {
    /// Nothing is known of it.
    #[default]
    NotKnown,
    /// These.
    Named(Vec<Need>, Sure),
}

impl Needs {
    /// Reads a line such as `two ways to reach, bill of sale [second-hand]`.
    ///
    /// # Errors
    /// A sentence when something in it is none of the known ones.
    pub fn parse(text: &str) -> Result<Needs, Fault> {
        if matches!(text.trim(), "" | NOT_KNOWN) {
            return Ok(Needs::NotKnown);
        }
        let read = || {
            let (body, sure) = with_sure(text)?;
            let list =
                if body == "none named" { Some(Vec::new()) } else { body.split(',').map(|need| meant(&Need::WORDS, need)).collect() };
            Some(Needs::Named(list?, sure))
        };
        read().ok_or_else(|| {
            let needs: Vec<&str> = Need::WORDS.iter().map(|(_, word)| *word).collect();
            let (given, needs) = (short(text), needs.join(", "));
            Fault::says(format!(
                "“{given}” does not say what a household needs. Write it like: two ways to reach [chosen]. It can be {needs}."
            ))
        })
    }

    /// What a household needs whose milk reaches it this way: what is named, and for a share in the herd its two papers.
    #[must_use]
    pub fn of_way(&self, way: Channel) -> Vec<Need> {
        let mut needs = match self {
            Needs::NotKnown => Vec::new(),
            Needs::Named(list, _) => list.clone(),
        };
        let papers_of_a_share = [Need::BillOfSale, Need::BoardingAgreement];
        needs.retain(|need| !papers_of_a_share.contains(need));
        if way == Channel::Herdshare {
            needs.extend(papers_of_a_share);
        }
        needs.sort();
        needs.dedup();
        needs
    }
}

impl fmt::Display for Needs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Needs::Named(list, sure) = self else { return f.write_str(NOT_KNOWN) };
        let said: Vec<String> = list.iter().map(ToString::to_string).collect();
        write!(f, "{} [{}]", if said.is_empty() { "none named".into() } else { said.join(", ") }, sure_word(*sure))
    }
}

/// A paper between the farm and a household.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Agreement {
    /// What it is.
    pub sort: String,
    /// When it was signed, if it was.
    pub signed: Option<Day>,
    /// How long it is good, if it ends.
    pub until: Option<Day>,
}

/// What a household lacks on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lack {
    /// A second way to reach it.
    SecondWay,
    /// A paper that was never signed.
    Unsigned(Need),
    /// A paper whose time is over.
    RanOut(Need, Day),
}

impl fmt::Display for Lack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Lack::SecondWay => f.write_str("a second way to reach them is missing"),
            Lack::Unsigned(need) => write!(f, "no {need} is signed"),
            Lack::RanOut(need, day) => write!(f, "the {need} ran out on {}", day_shown(*day)),
        }
    }
}

impl Lack {
    /// The same, as it is said to the household itself. Nothing is bought with a share, so its paper has another name there.
    #[must_use]
    pub fn to_them(&self) -> String {
        let paper = |need: &Need| match need {
            Need::BillOfSale => "paper of your share".to_owned(),
            need => need.to_string(),
        };
        match self {
            Lack::SecondWay => "a second way to reach you is missing".to_owned(),
            Lack::Unsigned(need) => format!("the {} is not signed", paper(need)),
            Lack::RanOut(need, day) => format!("the {} ran out on {}", paper(need), day_shown(*day)),
        }
    }
}

/// What a household lacks of what it needs on a day, given how many ways there are to reach it and the papers with it.
#[must_use]
pub fn lacking(needs: &[Need], ways_to_reach: usize, papers: &[Agreement], on: Day) -> Vec<Lack> {
    let lack = |need: &Need| {
        if *need == Need::TwoWays {
            return (ways_to_reach < 2).then_some(Lack::SecondWay);
        }
        let own = |paper: &&Agreement| paper.sort == need.to_string() && paper.signed.is_some_and(|signed| signed <= on);
        let signed: Vec<&Agreement> = papers.iter().filter(own).collect();
        if signed.is_empty() {
            return Some(Lack::Unsigned(*need));
        }
        if signed.iter().any(|paper| paper.until.is_none_or(|until| until >= on)) {
            return None;
        }
        signed.iter().filter_map(|paper| paper.until).max().map(|day| Lack::RanOut(*need, day))
    };
    needs.iter().filter_map(lack).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::when::parse_day;

    /// Source: Alaska Statutes 17.20.015(b)(1): milk of a shared herd goes only to an owner who has given at least two ways to
    /// be reached.
    #[test]
    fn one_phone_alone_is_not_enough_where_two_are_asked_for() {
        let needs = Needs::parse("two ways to reach [read]").unwrap();
        let day = parse_day("2026-11-21").unwrap();
        let asked = needs.of_way(Channel::FarmGate);
        assert_eq!(lacking(&asked, 1, &[], day), [Lack::SecondWay]);
        assert_eq!(lacking(&asked, 2, &[], day), []);
        assert_eq!(lacking(&Needs::NotKnown.of_way(Channel::FarmGate), 0, &[], day), []);
    }

    /// Source: Colorado Revised Statutes 25-5.5-117, second-hand: a signed bill of sale and a signed boarding contract.
    #[test]
    fn a_share_needs_its_two_papers_signed_and_still_good() {
        let day = |typed: &str| parse_day(typed).unwrap();
        let asked = Needs::NotKnown.of_way(Channel::Herdshare);
        let paper = |sort: &str, signed: Option<&str>, until: Option<&str>| Agreement {
            sort: sort.to_owned(),
            signed: signed.map(day),
            until: until.map(day),
        };
        let sale = paper("bill of sale", Some("2026-01-02"), None);
        let unsigned = paper("boarding agreement", None, None);
        let boarding = paper("boarding agreement", Some("2026-01-02"), Some("2026-12-31"));
        let on = day("2026-11-21");
        assert_eq!(lacking(&asked, 2, &[sale.clone(), unsigned], on), [Lack::Unsigned(Need::BoardingAgreement)]);
        assert_eq!(lacking(&asked, 2, &[sale.clone(), boarding.clone()], on), []);
        assert_eq!(
            lacking(&asked, 2, &[sale.clone(), boarding.clone()], day("2027-01-01")),
            [Lack::RanOut(Need::BoardingAgreement, day("2026-12-31"))]
        );
        let renewed = paper("boarding agreement", Some("2026-12-20"), Some("2027-12-31"));
        assert_eq!(lacking(&asked, 2, &[sale.clone(), boarding, renewed], day("2027-01-01")), []);
        assert_eq!(lacking(&asked, 2, &[sale], day("2026-01-01")).len(), 2, "signed tomorrow is not signed today");
    }

    #[test]
    fn a_line_of_needs_is_read_and_shown() {
        for line in ["not known", "none named [read]", "two ways to reach, bill of sale [second-hand]"] {
            assert_eq!(Needs::parse(line).unwrap().to_string(), line);
        }
        assert!(Needs::parse("a smile [read]").unwrap_err().to_string().contains("two ways to reach"));
    }
}
