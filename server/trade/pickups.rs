//! Handing out: which lot somebody gets, what is refused, what is asked about and what is only marked.
//!
//! A wrong hand-out that is still planned is refused, with the right lot named. One that already happened is kept and
//! marked: a ledger that blocks the truth gets none.

use super::{
    caps::{Amounts, Cap, Of, Watched, watch},
    channels::Channel,
    findings::Finding,
    jars::Jars,
    mixing::MORE_THAN_THERE,
    needs::Lack,
    verdict::{Verdict, Word},
    when::{Day, Moment, day_shown, span_shown},
};

/// A hand-out this many minutes old or younger still counts as planned: the jar may be in the hand, not yet gone.
const PLANNED: i64 = 15;

/// Written this many minutes after it happened, a hand-out is shown as late.
const LATE: i64 = 12 * 60;

/// Whether a hand-out at this moment can still be stopped.
#[must_use]
pub const fn is_planned(at: Moment, now: Moment) -> bool {
    at.in_seconds() >= now.in_seconds() - PLANNED * 60
}

/// How late a hand-out was written down, if it was late.
#[must_use]
pub fn written_late(at: Moment, written: Moment) -> Option<String> {
    let minutes = written.minutes_since(at);
    (minutes > LATE).then(|| span_shown(minutes))
}

/// The way somebody unknown takes milk: they own no share, and they came to where it was made.
pub const WALK_IN: Channel = Channel::FarmGate;

/// A lot on hand that somebody might be given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Offer {
    /// Its code.
    pub code: String,
    /// When it was filled.
    pub filled: Moment,
    /// Jars left by the book.
    pub left: Jars,
    /// Its verdict now, for each way it was judged for.
    pub words: Vec<(Channel, Word)>,
}

impl Offer {
    /// What it says for one way; nobody can tell where it was not judged for it.
    #[must_use]
    pub fn word(&self, way: Channel) -> Word {
        self.words.iter().find(|(own, _)| *own == way).map_or(Word::CantTell, |(_, word)| *word)
    }

    /// The one word it says, when it says the same for every way.
    #[must_use]
    pub fn same_word(&self) -> Option<Word> {
        let (_, first) = self.words.first()?;
        self.words.iter().all(|(_, word)| word == first).then_some(*first)
    }

    /// Whether it can go that way and has enough left.
    #[must_use]
    pub fn has(&self, wanted: Jars, way: Channel) -> bool {
        self.word(way) == Word::CanGo && self.left.covers(wanted)
    }
}

/// The lot to take: the oldest that can go that way with enough jars left.
#[must_use]
pub fn right_lot(offers: &[Offer], wanted: Jars, way: Channel) -> Option<&Offer> {
    offers.iter().filter(|offer| offer.has(wanted, way)).min_by_key(|offer| offer.filled)
}

/// The lot that suits whoever comes, before anybody is named: the oldest that can go every one of these ways.
#[must_use]
pub fn lot_for_all(offers: &[Offer], wanted: Jars, ways: &[Channel]) -> Option<String> {
    let suits = |offer: &&Offer| !ways.is_empty() && ways.iter().all(|way| offer.has(wanted, *way));
    offers.iter().filter(suits).min_by_key(|offer| offer.filled).map(|offer| offer.code.clone())
}

/// The lot for each person of a list in turn, each taking their jars off what is left for the next.
#[must_use]
pub fn lots_in_turn(mut offers: Vec<Offer>, wanted: &[(Jars, Channel)]) -> Vec<Option<String>> {
    let mut in_turn = Vec::with_capacity(wanted.len());
    for (jars, way) in wanted {
        let code = right_lot(&offers, *jars, *way).filter(|_| !jars.is_none()).map(|offer| offer.code.clone());
        for offer in offers.iter_mut().filter(|offer| Some(&offer.code) == code.as_ref()) {
            offer.left = offer.left - *jars;
        }
        in_turn.push(code);
    }
    in_turn
}

/// What to hand out instead, in one sentence.
#[must_use]
pub fn instead(offers: &[Offer], wanted: Jars, way: Channel) -> String {
    match right_lot(offers, wanted, way) {
        Some(offer) if offer.same_word().is_none() => {
            format!("Hand out {} instead: for {way} it can go and {} left.", offer.code, are_left(offer.left))
        }
        Some(offer) => format!("Hand out {} instead: it can go and {} left.", offer.code, are_left(offer.left)),
        None if offers.iter().any(|offer| offer.word(way) == Word::CanGo && !offer.left.short_and_over().0.is_none()) => {
            format!("No lot that can go has {wanted} left. Hand out fewer, or from two lots.")
        }
        None if offers.iter().any(|offer| offer.words.iter().any(|(_, word)| *word == Word::CanGo)) => {
            format!("Nothing on hand can go now for {way}. Leave it where it is, and tell them.")
        }
        None => "Nothing on hand can go now. Leave it where it is, and tell them.".to_owned(),
    }
}

/// Jars left, with the verb: `1 half-gallon is`, `7 half-gallons are`, `no jars are`.
fn are_left(left: Jars) -> String {
    let (left, _) = left.short_and_over();
    let sum: i64 = super::jars::Size::ALL.iter().map(|size| left.of(*size)).sum();
    format!("{left} {}", if sum == 1 { "is" } else { "are" })
}

/// Why a planned hand-out of more jars than are left is refused: there are not so many, or they stand packed for others.
#[must_use]
pub fn too_many(code: &str, left: Jars, free: Jars, wanted: Jars) -> String {
    if left.covers(wanted) {
        let packed = left - free.short_and_over().0;
        return format!("By the book {} left of {code}, and {packed} of them packed for others. This is {wanted}.", are_left(left));
    }
    format!("By the book {} left of {code}, and this is {wanted}. Count the shelf.", are_left(left))
}

/// That somebody lacks what they need before they may have milk, and what to do; nothing when they lack nothing.
#[must_use]
pub fn lacking_said(who: &str, lacks: &[Lack], says: fn(&Lack) -> String) -> Option<String> {
    let said: Vec<String> = lacks.iter().map(says).collect();
    (!said.is_empty()).then(|| format!("{who}: {}. Nothing is handed out before that is put right.", said.join(", and ")))
}

/// What is marked for ever on a hand-out that happened all the same.
#[must_use]
pub fn marks(then: Word, unnamed: Option<Channel>, lacks: &[Lack], (left, taken): (Jars, Jars)) -> String {
    let lacks = lacks.iter().map(ToString::to_string);
    let held = (then != Word::CanGo).then(|| format!("handed out while {then}"));
    let way = unnamed.map(|way| format!("the rule does not name {way}"));
    let over = (!left.covers(taken)).then(|| MORE_THAN_THERE.to_owned());
    held.into_iter().chain(way).chain(lacks).chain(over).collect::<Vec<_>>().join("; ")
}

/// What is marked on a hand-out whose jars were corrected: all that was known then stays, and whether so many were there is
/// worked out anew.
#[must_use]
pub fn marks_anew(marked: &str, (left, taken): (Jars, Jars)) -> String {
    let then = marked.split("; ").filter(|mark| !mark.is_empty() && *mark != MORE_THAN_THERE);
    then.chain((!left.covers(taken)).then_some(MORE_THAN_THERE)).collect::<Vec<_>>().join("; ")
}

/// The way a verdict was asked about, when its rule names others and not this one.
#[must_use]
pub fn unnamed_way(then: &Verdict) -> Option<Channel> {
    then.findings.iter().find_map(|finding| match finding {
        Finding::Way { way, .. } if finding.word() == Word::KeepBack => Some(*way),
        _ => None,
    })
}

/// What to ask when hand-outs go over a cap of the rules, if any does. Caps on cows and on pounds milked are no matter of a
/// hand-out.
#[must_use]
pub fn ask_caps(caps: &[Cap], amounts: &Amounts) -> Option<String> {
    let over = caps.iter().filter(|cap| matches!(cap.what, Of::Quarts | Of::Gallons)).filter_map(|cap| match watch(cap, amounts) {
        watched @ Watched::Over { .. } => {
            let means = cap.means.as_ref().map(|means| format!(" ({means})")).unwrap_or_default();
            Some(format!("With this it is {}, over the cap of the rules{means}.", cap.said(watched)))
        }
        Watched::Within { .. } | Watched::Near { .. } => None,
    });
    let says: Vec<String> = over.collect();
    (!says.is_empty()).then(|| format!("{} Keep it all the same, if it is so.", says.join(" ")))
}

/// What to ask about whoever takes the jars, if anything: they had some that day, had not joined yet, have left, or are paused.
#[must_use]
pub fn ask_about(who: &str, day: Day, (since, until): (Option<Day>, Option<Day>), paused: Option<Day>, had: &[String]) -> Option<String> {
    let mut says = Vec::new();
    if let Some(paused) = paused {
        says.push(format!("{who} is paused until {}. Is it so all the same?", day_shown(paused)));
    }
    if !had.is_empty() {
        says.push(format!("{who} already has {} that day. Is this another?", had.join(" and ")));
    }
    if let Some(since) = since.filter(|since| day < *since) {
        says.push(format!("{who} only joined on {}. Is the day right?", day_shown(since)));
    }
    if let Some(until) = until.filter(|until| day > *until) {
        says.push(format!("{who} left on {}. Did they take it all the same?", day_shown(until)));
    }
    (!says.is_empty()).then(|| says.join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn offer(code: &str, filled: i64, left: i64, word: Word) -> Offer {
        let words = vec![(WALK_IN, word), (Channel::Delivery, Word::KeepBack)];
        Offer { code: code.to_owned(), filled: Moment::seconds(filled), left: Jars::halves(left), words }
    }

    /// Common practice: the oldest milk that can go leaves the fridge first.
    #[test]
    fn the_oldest_that_can_go_with_enough_left_is_named() {
        let offers = [
            offer("held", 1, 9, Word::KeepBack),
            offer("few", 2, 1, Word::CanGo),
            offer("new", 4, 9, Word::CanGo),
            offer("old", 3, 7, Word::CanGo),
        ];
        assert_eq!(right_lot(&offers, Jars::halves(2), WALK_IN).unwrap().code, "old");
        assert_eq!(
            instead(&offers, Jars::halves(2), WALK_IN),
            "Hand out old instead: for farm gate it can go and 7 half-gallons are left."
        );
        assert_eq!(instead(&offers, Jars::halves(1), WALK_IN), "Hand out few instead: for farm gate it can go and 1 half-gallon is left.");
        assert_eq!(
            instead(&offers, Jars::halves(10), WALK_IN),
            "No lot that can go has 10 half-gallons left. Hand out fewer, or from two lots."
        );
        assert_eq!(instead(&offers[..1], Jars::halves(1), WALK_IN), "Nothing on hand can go now. Leave it where it is, and tell them.");
    }

    #[test]
    fn each_in_turn_takes_off_what_is_left() {
        let offers = vec![offer("old", 1, 3, Word::CanGo), offer("new", 2, 4, Word::CanGo), offer("unread", 0, 9, Word::CantTell)];
        let wanted = [2, 2, 1, 3, 0].map(|jars| (Jars::halves(jars), WALK_IN));
        let in_turn = lots_in_turn(offers.clone(), &wanted);
        assert_eq!(in_turn, [Some("old".to_owned()), Some("new".to_owned()), Some("old".to_owned()), None, None]);
        let by_car = lots_in_turn(offers, &[(Jars::halves(1), Channel::Delivery), (Jars::halves(1), WALK_IN)]);
        assert_eq!(by_car, [None, Some("old".to_owned())], "what cannot go one way is left for another");
    }

    #[test]
    fn before_anybody_is_named_only_what_suits_all_is_filled_in() {
        let offers = [offer("old", 1, 3, Word::CanGo)];
        assert_eq!(lot_for_all(&offers, Jars::halves(1), &[WALK_IN]).as_deref(), Some("old"));
        assert_eq!(lot_for_all(&offers, Jars::halves(1), &[WALK_IN, Channel::Delivery]), None);
        assert_eq!(lot_for_all(&offers, Jars::halves(1), &[]), None);
    }

    #[test]
    fn a_quarter_of_an_hour_is_still_planned() {
        let now = Moment::seconds(1_000_000);
        assert!(is_planned(now, now) && is_planned(now.plus_minutes(-15), now) && !is_planned(now.plus_minutes(-16), now));
        assert_eq!(written_late(now.plus_hours(-12), now), None);
        assert_eq!(written_late(now.plus_hours(-49), now).as_deref(), Some("2 days"));
    }

    #[test]
    fn what_happened_is_marked() {
        let many = |marked, taken| marks_anew(marked, (Jars::halves(7), Jars::halves(taken)));
        assert_eq!(many("", 8), "more than were on hand");
        assert_eq!(many("more than were on hand", 7), "");
        assert_eq!(many("handed out while Keep back", 8), "handed out while Keep back; more than were on hand");
        assert_eq!(marks(Word::CanGo, None, &[], (Jars::halves(2), Jars::halves(2))), "");
        assert_eq!(
            marks(Word::KeepBack, None, &[Lack::SecondWay], (Jars::halves(1), Jars::halves(2))),
            "handed out while Keep back; a second way to reach them is missing; more than were on hand"
        );
        let by_car = marks(Word::KeepBack, Some(Channel::Delivery), &[], (Jars::halves(1), Jars::halves(1)));
        assert_eq!(by_car, "handed out while Keep back; the rule does not name delivery");
        let quarts = Jars { quarts: 1, ..Jars::NONE };
        assert_eq!(marks(Word::CanGo, None, &[], (Jars::halves(2), quarts)), "more than were on hand", "two half-gallons are no quart");
    }

    #[test]
    fn whoever_left_or_had_theirs_is_asked_about() {
        let day = |typed| super::super::when::parse_day(typed).unwrap();
        assert_eq!(ask_about("M03", day("2026-11-21"), (Some(day("2025-01-01")), None), None, &[]), None);
        let asked = ask_about(
            "M03",
            day("2026-11-21"),
            (None, Some(day("2026-10-31"))),
            Some(day("2026-11-30")),
            &["2 half-gallons of 6325A-K".to_owned()],
        )
        .unwrap();
        assert!(
            asked.contains("M03 is paused until Mon 30 Nov 2026.")
                && asked.contains("M03 already has 2 half-gallons of 6325A-K that day.")
                && asked.contains("left on Sat 31 Oct 2026"),
            "{asked}"
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        /// Nothing that cannot go, and no jar twice, is ever given to anybody.
        #[test]
        fn nobody_is_given_what_is_not_there(lots in prop::collection::vec((0i64..9, 0i64..12, 0usize..4), 0..6), wanted in prop::collection::vec(0i64..6, 0..12)) {
            let words = [Word::CanGo, Word::Wait, Word::CantTell, Word::KeepBack];
            let offers: Vec<Offer> = lots.iter().enumerate().map(|(n, (filled, left, word))| offer(&n.to_string(), *filled, *left, words[*word])).collect();
            let wanted: Vec<(Jars, Channel)> = wanted.into_iter().map(|jars| (Jars::halves(jars), WALK_IN)).collect();
            let in_turn = lots_in_turn(offers.clone(), &wanted);
            for offer in &offers {
                let taken: Jars = in_turn.iter().zip(&wanted).filter(|(code, _)| code.as_ref() == Some(&offer.code)).map(|(_, (jars, _))| *jars).sum();
                prop_assert!(taken.is_none() || offer.has(taken, WALK_IN));
            }
        }
    }
}
