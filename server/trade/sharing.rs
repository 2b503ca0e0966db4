//! Sharing out a day's jars when there may be fewer than were promised.
//!
//! Everybody has a running account in hundredths of a jar. On a short day each gets their part of what there is, in whole
//! jars by the largest remainder, and what a whole jar could not give or gave too much is carried to their next day. Over the
//! weeks everybody gets what was fair, and each sum can be shown to whom it is about.

use super::{apportion, parts::Hundredths, when::Day};
use std::fmt;

/// How a short day is shared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Everybody gets the same part of what they were promised.
    ProRata,
    /// The jars that are missing are taken one each from those who went short longest ago, and round again if it must be.
    Rotation,
    /// The first in the chosen order get all they were promised, until the jars are out.
    Priority,
}

impl Method {
    /// Every way to share, with its word.
    pub const WORDS: [(Method, &'static str); 3] =
        [(Method::ProRata, "pro rata"), (Method::Rotation, "rotation"), (Method::Priority, "priority")];

    /// The way a word names.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Method> {
        Method::WORDS.iter().find(|(_, word)| *word == typed.trim()).map(|(method, _)| *method)
    }
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = Method::WORDS.iter().find(|(method, _)| method == self).map_or("", |(_, word)| word);
        f.write_str(word)
    }
}

/// What somebody comes with to the sharing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Claim {
    /// Who: the record's number, which also settles ties.
    pub person: i64,
    /// What they were promised.
    pub promised: Hundredths,
    /// What they are still owed, or had ahead.
    pub carried: Hundredths,
    /// Their place in the chosen order.
    pub place: Option<i64>,
    /// When they last went short.
    pub last_short: Option<Day>,
}

/// What somebody gets, with its sum.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Portion {
    /// Who.
    pub person: i64,
    /// What they were promised.
    pub promised: Hundredths,
    /// Their part of what there was.
    pub fair: Hundredths,
    /// What was carried to this day.
    pub carried: Hundredths,
    /// The whole jars they get.
    pub jars: i64,
}

impl Portion {
    /// What is carried on from this day: what was fair and what came with them, less what they got.
    #[must_use]
    pub fn after(&self) -> Hundredths {
        self.carried + self.fair - Hundredths::jars(self.jars)
    }

    /// The whole sum as one sentence to whoever it is about.
    #[must_use]
    pub fn told(&self) -> String {
        let Portion { promised, fair, carried, jars, .. } = self;
        if fair == promised && Hundredths::jars(*jars) == *promised {
            return match self.after().count() {
                0 => "As promised.".to_owned(),
                1.. => format!("As promised; {} of a jar is still owed and carried on.", self.after()),
                _ => format!("As promised; {} of a jar was had ahead and is carried on.", -self.after()),
            };
        }
        let fair_part = if fair == promised {
            format!("Promised {promised}, and there was enough")
        } else {
            format!("Promised {promised}; of what there was, {fair} is your part")
        };
        let before = match carried.count() {
            0 => String::new(),
            1.. => format!(", and {carried} was still owed to you"),
            _ => format!(", and you had {} ahead", -*carried),
        };
        let after = match self.after().count() {
            // Jars later, money or neither: it is the terms that make up a day without a jar, and they may yet be put right.
            _ if fair < promised && *jars == 0 => "a day without a jar is made up as the terms of a share say".to_owned(),
            0 => "nothing is carried on".to_owned(),
            1.. => format!("{} is carried on and evened up", self.after()),
            _ => format!("{} is ahead and evened up", -self.after()),
        };
        format!("{fair_part}{before}: {jars} in whole jars now; {after}.")
    }
}

/// Shares out so many ready jars. Nobody gets a part of a jar, all together never get more than are ready, and on a short
/// day nothing that is ready is left over.
#[must_use]
pub fn share(claims: &[Claim], ready: i64, method: Method) -> Vec<Portion> {
    let ready = ready.max(0);
    let promised: Hundredths = claims.iter().map(|claim| claim.promised).sum();
    if Hundredths::jars(ready) >= promised {
        return in_full(claims, ready);
    }
    match method {
        Method::ProRata => {
            let weights: Vec<i64> = claims.iter().map(|claim| claim.promised.count()).collect();
            let parts = apportion::by_weight(Hundredths::jars(ready).count(), &weights).unwrap_or_else(|| vec![0; claims.len()]);
            let fair: Vec<Hundredths> = parts.into_iter().map(Hundredths::new).collect();
            let jars = in_whole_jars(claims, &fair, ready);
            portions(claims, &fair, jars)
        }
        Method::Rotation | Method::Priority => {
            // What each would get if there were enough, and then fewer by the method. A jar taken off is not carried.
            let full = in_full(claims, i64::MAX / 1000);
            let wanted: Vec<i64> = full.iter().map(|portion| portion.jars).collect();
            let jars = if method == Method::Rotation { passed_on(claims, &wanted, ready) } else { in_order(claims, &wanted, ready) };
            let fair: Vec<Hundredths> = full.iter().zip(&jars).map(|(own, jars)| own.fair - Hundredths::jars(own.jars - jars)).collect();
            portions(claims, &fair, jars)
        }
    }
}

/// Everybody gets what was promised, with what was carried evened up, as far as there are jars.
fn in_full(claims: &[Claim], ready: i64) -> Vec<Portion> {
    let fair: Vec<Hundredths> = claims.iter().map(|claim| claim.promised).collect();
    let due: Hundredths = claims.iter().map(|claim| claim.promised + claim.carried).sum();
    let jars = in_whole_jars(claims, &fair, ready.min(due.nearest().max(0)));
    portions(claims, &fair, jars)
}

fn portions(claims: &[Claim], fair: &[Hundredths], jars: Vec<i64>) -> Vec<Portion> {
    let own = claims.iter().zip(fair).zip(jars);
    own.map(|((claim, fair), jars)| Portion { person: claim.person, promised: claim.promised, fair: *fair, carried: claim.carried, jars })
        .collect()
}

/// So many whole jars, each to whoever is still owed most of one: the largest remainder, with what was carried in it. Of two
/// who are owed the same, first goes whoever has fewer than was promised, then the lower number.
fn in_whole_jars(claims: &[Claim], fair: &[Hundredths], jars: i64) -> Vec<i64> {
    let mut given = vec![0; claims.len()];
    for _ in 0..jars {
        let owed = |place: &usize| {
            let (claim, got) = (&claims[*place], Hundredths::jars(given[*place]));
            (fair[*place] + claim.carried - got, claim.promised - got, std::cmp::Reverse(claim.person))
        };
        let promised = |place: &usize| claims[*place].promised > Hundredths::ZERO;
        let Some(next) = (0..claims.len()).filter(promised).max_by_key(owed) else { break };
        given[next] += 1;
    }
    given
}

/// The short day passes down the list: a jar less for those who went short longest ago, and a second round if it must be.
fn passed_on(claims: &[Claim], wanted: &[i64], ready: i64) -> Vec<i64> {
    let mut jars = wanted.to_vec();
    let mut missing = jars.iter().sum::<i64>() - ready;
    let mut order: Vec<usize> = (0..claims.len()).collect();
    order.sort_by_key(|place| (claims[*place].last_short, claims[*place].person));
    while missing > 0 {
        for place in &order {
            if missing > 0 && jars[*place] > 0 {
                jars[*place] -= 1;
                missing -= 1;
            }
        }
    }
    jars
}

/// The first in the order get all, until nothing is left. Whoever has no place comes after those who have one.
fn in_order(claims: &[Claim], wanted: &[i64], ready: i64) -> Vec<i64> {
    let mut order: Vec<usize> = (0..claims.len()).collect();
    order.sort_by_key(|place| (claims[*place].place.unwrap_or(i64::MAX), claims[*place].person));
    let (mut jars, mut left) = (vec![0; claims.len()], ready);
    for place in order {
        jars[place] = wanted[place].min(left);
        left -= jars[place];
    }
    jars
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn claim(person: i64, promised: i64) -> Claim {
        Claim { person, promised: Hundredths::jars(promised), carried: Hundredths::ZERO, place: None, last_short: None }
    }

    fn jars(portions: &[Portion]) -> Vec<i64> {
        portions.iter().map(|portion| portion.jars).collect()
    }

    /// Worked by hand: 46 promised, 39 ready; four jars come to 4 × 39 ÷ 46 = 3.39.
    #[test]
    fn a_part_of_a_jar_is_carried() {
        let claims: Vec<Claim> =
            [4, 4, 4, 4, 3, 3, 3, 3, 3, 3, 3, 3, 2, 2, 2].into_iter().zip(1..).map(|(promised, person)| claim(person, promised)).collect();
        assert_eq!(claims.iter().map(|own| own.promised).sum::<Hundredths>(), Hundredths::jars(46));
        let shared = share(&claims, 39, Method::ProRata);
        assert_eq!(shared.iter().map(|own| own.jars).sum::<i64>(), 39);
        assert_eq!(shared.iter().map(|own| own.fair).sum::<Hundredths>(), Hundredths::jars(39));
        assert_eq!((shared[3].fair.to_string(), shared[3].jars, shared[3].after().to_string()), ("3.39".to_owned(), 3, "0.39".to_owned()));
        assert!(
            shared[3].told().contains("Promised 4; of what there was, 3.39 is your part: 3 in whole jars now; 0.39 is carried on"),
            "{}",
            shared[3].told()
        );
    }

    /// One jar for four who were promised one each: three get none, and whether that is owed in jars or in money is not the sum's to say.
    #[test]
    fn a_day_without_a_jar_is_made_up_by_the_terms() {
        let shared = share(&[1, 2, 3, 4].map(|person| claim(person, 1)), 1, Method::ProRata);
        assert_eq!(jars(&shared), [1, 0, 0, 0]);
        assert!(shared[0].told().ends_with("1 in whole jars now; 0.75 is ahead and evened up."), "{}", shared[0].told());
        assert_eq!(
            shared[1].told(),
            "Promised 1; of what there was, 0.25 is your part: 0 in whole jars now; a day without a jar is made up as the terms of a share say."
        );
    }

    #[test]
    fn the_week_after_evens_up() {
        let mut claims = vec![claim(1, 3), claim(2, 3), claim(3, 3), claim(4, 4)];
        let short = share(&claims, 11, Method::ProRata);
        assert_eq!(jars(&short), [3, 3, 2, 3]);
        for (claim, portion) in claims.iter_mut().zip(&short) {
            claim.carried = portion.after();
        }
        // Whoever went without the odd jar has the first claim on it when it is short again by as much.
        let again = share(&claims, 11, Method::ProRata);
        assert_eq!(jars(&again), [2, 2, 3, 4]);
        for (claim, portion) in claims.iter_mut().zip(&again) {
            claim.carried = portion.after();
        }
        let full = share(&claims, 20, Method::ProRata);
        assert_eq!(full.iter().map(|own| own.jars).sum::<i64>(), 13, "what is over stays on the shelf");
        assert!(full.iter().all(|own| own.after().count().abs() < 100));
    }

    #[test]
    fn half_a_share_gets_its_odd_jar_every_other_week() {
        let mut own = Claim { promised: Hundredths::new(150), ..claim(1, 0) };
        let mut got = Vec::new();
        for _ in 0..4 {
            let portion = share(std::slice::from_ref(&own), 9, Method::ProRata).remove(0);
            got.push(portion.jars);
            own.carried = portion.after();
        }
        assert_eq!((got.iter().sum::<i64>(), own.carried), (6, Hundredths::ZERO), "{got:?}");
    }

    #[test]
    fn rotation_passes_the_short_week_down_the_list() {
        let day = |typed| crate::trade::when::parse_day(typed).unwrap();
        let mut claims = vec![claim(1, 3), claim(2, 3), claim(3, 3)];
        assert_eq!(jars(&share(&claims, 8, Method::Rotation)), [2, 3, 3]);
        claims[0].last_short = Some(day("2026-11-14"));
        assert_eq!(jars(&share(&claims, 8, Method::Rotation)), [3, 2, 3]);
        assert_eq!(jars(&share(&claims, 4, Method::Rotation)), [2, 1, 1]);
        assert_eq!(jars(&share(&claims, 0, Method::Rotation)), [0, 0, 0]);
    }

    /// Two promised and two ready is no short day, so the jar owed from before stays owed whichever way a short one is shared.
    #[test]
    fn a_jar_still_owed_is_not_forgiven_on_a_day_that_is_not_short() {
        let claims = [1, 2].map(|person| Claim { carried: Hundredths::new(50), place: Some(person), ..claim(person, 1) });
        for (method, word) in Method::WORDS {
            let after: Hundredths = share(&claims, 2, method).iter().map(Portion::after).sum();
            assert_eq!(after, Hundredths::jars(1), "{word}");
        }
    }

    #[test]
    fn priority_fills_the_first_places_first() {
        let mut claims = vec![claim(1, 3), claim(2, 3), claim(3, 3)];
        claims[2].place = Some(1);
        assert_eq!(jars(&share(&claims, 5, Method::Priority)), [2, 0, 3]);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        /// Whatever the weeks bring, no jar is lost or made, nobody drifts, and every sum is one.
        #[test]
        fn every_sum_holds(promised in prop::collection::vec(0i64..1000, 1..12), weeks in prop::collection::vec(0i64..60, 1..20), way in 0usize..3) {
            let method = Method::WORDS[way].0;
            let mut claims: Vec<Claim> = promised.iter().zip(1..).map(|(own, person)| Claim { promised: Hundredths::new(*own), ..claim(person, 0) }).collect();
            let whole: Hundredths = claims.iter().map(|own| own.promised).sum();
            for ready in weeks {
                let shared = share(&claims, ready, method);
                let given: i64 = shared.iter().map(|own| own.jars).sum();
                prop_assert!(given <= ready && shared.iter().all(|own| own.jars >= 0));
                if Hundredths::jars(ready) < whole && method == Method::ProRata {
                    prop_assert_eq!(given, ready);
                    prop_assert_eq!(shared.iter().map(|own| own.fair).sum::<Hundredths>(), Hundredths::jars(ready));
                }
                for (claim, own) in claims.iter_mut().zip(&shared) {
                    prop_assert!(own.promised > Hundredths::ZERO || own.jars == 0);
                    prop_assert!(own.after().count().abs() <= 200, "{own:?}");
                    claim.carried = own.after();
                }
            }
        }
    }
}
